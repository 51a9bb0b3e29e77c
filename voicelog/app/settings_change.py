"""The settings one by one: what each is, means and may be, and changing it in the log's file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

from voicelog.app.open_log import SETTINGS_NAME, settings_in_force
from voicelog.model import UsageError
from voicelog.model.names import name_key
from voicelog.report.settings_page import NamedSetting, named_settings
from voicelog.report.settings_words import no_setting_words, odd_layout_words
from voicelog.safety.settings import Thresholds
from voicelog.safety.settings_file import (
    SettingsError,
    load_settings,
    toml_value,
    with_setting,
)
from voicelog.store import Log
from voicelog.store.errors import translate_errors

__all__ = ["SettingInForce", "change_setting", "settings_of"]


@dataclass(frozen=True, slots=True)
class SettingInForce:
    """A setting with the value in force, as a person types it; `own`: it is not the default."""

    about: NamedSetting
    value: str
    own: bool


def settings_of(log: Log, dog: str = "") -> list[SettingInForce]:
    """Every setting, or of a dog those that it may have of its own.

    Raises:
        SettingsError: a line of the file is not good.
    """
    settings = settings_in_force(log)
    rules = settings.for_dog(dog) if dog else settings
    found = []
    for about in named_settings():
        if dog and about.name not in Thresholds.model_fields:
            continue
        value = getattr(rules, about.name)
        default = type(rules).model_fields[about.name].default
        found.append(SettingInForce(about, _typed(value), value != default))
    return found


def change_setting(log: Log, name: str, typed: str, dog: str = "") -> str:
    """Change one setting in the log's file, or, with nothing typed, bring back the default.

    Args:
        name: the setting.
        typed: its value.
        dog: whose, of the roster; empty for every dog's.

    Returns:
        The value now in force, as a person types it.

    Raises:
        UsageError: there is no such setting or dog, or the file is laid out in a way that cannot
            be changed here.
        SettingsError: the value is not allowed; the file is as it was.
        LogError: as the disk refuses.
    """
    known = [one.name for one in log.roster().dogs]
    spelt = next((one for one in known if name_key(one) == name_key(dog)), "") if dog else ""
    allowed = Thresholds.model_fields if dog else [one.name for one in named_settings()]
    if name not in allowed or (dog and not spelt):
        raise UsageError(no_setting_words(name, dog))
    path = log.folder / SETTINGS_NAME
    part = path.with_name(f"{SETTINGS_NAME}.part")
    with translate_errors(path):
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        try:
            value = toml_value(name, typed) if typed else None
            after = with_setting(before, name, value, spelt)
        except (ValueError, tomllib.TOMLDecodeError) as error:
            raise UsageError(odd_layout_words(str(path))) from error
        part.write_text(after, encoding="utf-8")
        try:
            settings = load_settings(part, known)
        except SettingsError as error:
            part.unlink()
            raise SettingsError(path, None, error.key, error.fault) from error
        part.replace(path)
    return _typed(getattr(settings.for_dog(spelt) if spelt else settings, name))


def _typed(value: object) -> str:
    if isinstance(value, tuple):
        return ", ".join(value)
    return f"{value:g}" if isinstance(value, float) else str(value)
