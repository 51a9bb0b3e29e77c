"""Where the log lives when nobody says otherwise, and who may read it there."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import platformdirs

from voicelog.store.errors import NotALogError, translate_errors

__all__ = ["default_folder", "make_private", "ready_folder", "tell_of_mended_folders"]

_OWN = (
    *("log.sqlite3", "log.sqlite3-wal", "log.sqlite3-shm", "settings.toml", "chain.json"),
    *("backups.json", "listening.lock", "key.locked", "key.locking", "key.opening"),
)
"""Names of what the log keeps in its folder; copies of the database besides."""
_OWN_PATTERNS = ("log-*.sqlite3", "watch-*.json", "*.lock", "review-*.pem", "listening.*", "phone*")
_OWN_FOLDERS = ("sound", "live", "locked", "incoming", "outgoing", "phone", "keys")
_OTHERS = 0o077


def _nobody(_folder: Path) -> None:
    return


_tell: Callable[[Path], None] = _nobody


def tell_of_mended_folders(tell: Callable[[Path], None]) -> None:
    """Let `tell` be called with each log's folder that others could read until it was opened."""
    global _tell  # one face is at work in a program
    _tell = tell


def default_folder() -> Path:
    """The folder named by the environment variable VOICELOG_DATA, else the user's own."""
    named = os.environ.get("VOICELOG_DATA")
    if named:
        return Path(named).expanduser()
    return Path(platformdirs.user_data_dir("voicelog", appauthor=False))


def ready_folder(folder: Path) -> Path:
    """Make the folder, with its parents, when it is missing, and return its absolute path.

    One that is there is made private, see `make_private`.

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
    if make_private(folder):
        _tell(folder)
    return folder


def make_private(folder: Path) -> bool:
    """Take from everybody else the right to read the log in a folder; whether that was to be done.

    The folder itself is closed where the log is all that is in it, else only what is the log's:
    a person may keep it among other things. Within a closed folder nothing has to be done. What
    belongs to another user is left. On Windows rights come from the folder above, and nothing is
    done.
    """
    if os.name != "posix" or not folder.stat().st_mode & _OTHERS:
        return False
    mended = False
    for place, mode in _places(folder):
        try:
            found = place.lstat()
            if found.st_uid == os.getuid() and found.st_mode & _OTHERS and not place.is_symlink():
                place.chmod(mode)
                mended = True
        except OSError:
            continue  # gone meanwhile, or not ours to change
    return mended


def _places(folder: Path) -> Iterator[tuple[Path, int]]:
    """What only its owner should read, each with the mode for that."""
    log = [folder / name for name in _OWN] + [
        path for pattern in _OWN_PATTERNS for path in folder.glob(pattern)
    ]
    folders = [folder / name for name in _OWN_FOLDERS]
    there = {path for path in folder.iterdir() if path.suffix != ".part"}
    if there <= {*log, *folders}:
        yield folder, 0o700
        return
    yield from ((place, 0o600) for place in log if place in there)
    yield from ((place, 0o700) for place in folders if place.is_dir())
