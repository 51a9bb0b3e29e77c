"""Every setting as a table of the manual, made from the settings file that the program prints."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from voicelog.safety.settings_file import default_toml

__all__ = ["NamedSetting", "named_settings", "settings_table"]

_SETTING = re.compile(
    r"^# (?P<means>.+?)(?:; (?P<basis>[^;\n]+))?\. Allowed: (?P<allowed>.+)\.\n"
    r"(?P<name>\w+) = (?P<default>.+)$",
    re.MULTILINE,
)


@dataclass(frozen=True, slots=True)
class NamedSetting:
    """A setting in words: what it means, on what basis, and what it may be."""

    name: str
    default: str
    means: str
    basis: str
    allowed: str


@lru_cache(maxsize=1)
def named_settings() -> tuple[NamedSetting, ...]:
    """Every setting, in the order of the file."""
    return tuple(
        NamedSetting(
            found["name"], found["default"], found["means"], found["basis"] or "", found["allowed"]
        )
        for found in _SETTING.finditer(default_toml())
    )


def settings_table() -> str:
    """A Markdown table with a row for each setting, ending with a newline."""
    lines = ["| setting | default | means | basis | allowed |", "|---|---|---|---|---|"]
    lines += [
        f"| `{one.name}` | {one.default} | {one.means} | {one.basis} | {one.allowed} |"
        for one in named_settings()
    ]
    return "\n".join(lines) + "\n"
