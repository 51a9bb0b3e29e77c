"""Where the log lives when nobody says otherwise."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

from voicelog.store.errors import NotALogError, translate_errors

__all__ = ["default_folder", "ready_folder"]


def default_folder() -> Path:
    """The folder named by the environment variable VOICELOG_DATA, else the user's own."""
    named = os.environ.get("VOICELOG_DATA")
    if named:
        return Path(named).expanduser()
    return Path(platformdirs.user_data_dir("voicelog", appauthor=False))


def ready_folder(folder: Path) -> Path:
    """Make the folder, with its parents, when it is missing, and return its absolute path.

    Raises:
        NotALogError: it, or one of its parents, is a file.
        LogPermissionError: it may not be made.
    """
    folder = folder.expanduser().absolute()
    with translate_errors(folder):
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)  # nobody else's business
        except (FileExistsError, NotADirectoryError) as error:
            file = next((place for place in (folder, *folder.parents) if place.is_file()), folder)
            raise NotALogError(file, "a file", "a folder for the log") from error
    return folder
