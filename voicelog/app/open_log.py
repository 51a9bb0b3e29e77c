"""What there is before any work: the log, its roster, its settings, its clock."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from voicelog.model import Roster
from voicelog.safety import settings_file
from voicelog.safety.settings import Settings
from voicelog.store import Log, default_folder

__all__ = [
    "SETTINGS_NAME",
    "known_roster",
    "load_settings",
    "open_log",
    "settings_in_force",
    "settings_path",
    "start_after",
]

SETTINGS_NAME = "settings.toml"
"""The settings file in the log's folder."""


def open_log(data_dir: Path | None) -> Log:
    """The log in the folder given, or in this user's own; made where there is none. `data_dir`:
    None for this user's own folder.

    Raises:
        LogError: it cannot be opened.
    """
    return Log.open(data_dir or default_folder(), now=lambda: datetime.now().astimezone())


def known_roster(data_dir: Path | None) -> Roster:
    """The roster of the log, without making a log where there is none. `data_dir`: None for this
    user's own folder.

    Raises:
        LogError: the log cannot be opened.
    """
    folder = data_dir or default_folder()
    if not (folder / "log.sqlite3").exists():
        return Roster()
    with open_log(folder) as log:
        return log.roster()


def settings_path(path: Path | None, data_dir: Path | None) -> Path | None:
    """The settings file in force: the one given, else the log's own where there is one."""
    if path is not None:
        return path
    own = (data_dir or default_folder()) / SETTINGS_NAME
    return own if own.exists() else None


def load_settings(path: Path | None, data_dir: Path | None, named: Sequence[str] = ()) -> Settings:
    """The settings in force, or the defaults where no file says otherwise.

    A dog's own heading must be of a dog in the log, or of one of those `named`.

    Raises:
        SettingsError: a line of the file is not good.
    """
    path = settings_path(path, data_dir)
    if path is None:
        return Settings()
    known = [dog.name for dog in known_roster(data_dir).dogs]
    return settings_file.load_settings(path, [*known, *named])


def settings_in_force(log: Log, path: Path | None = None) -> Settings:
    """The same for a log that is open: the settings of the file given, or of the log's own.

    Raises:
        SettingsError: a line of the file is not good.
    """
    path = settings_path(path, log.folder)
    if path is None:
        return Settings()
    return settings_file.load_settings(path, [dog.name for dog in log.roster().dogs])


def start_after(log: Log, now: datetime) -> datetime | None:
    """When the newest recording began, where that is later than `now`, so that the clock must be
    wrong; else None. Only starts with a time zone are known well enough to say so. `log` is asked
    for all its recordings."""
    starts = (kept.started_at for kept in log.each_recording())
    later = (one for one in starts if one is not None and one.tzinfo is not None and one > now)
    return max(later, default=None)
