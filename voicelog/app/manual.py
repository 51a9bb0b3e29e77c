"""The manual as pages to open: the documents that ship with the program, as a small site."""

from __future__ import annotations

import shutil
from pathlib import Path

import platformdirs

from voicelog.grammar.data_folders import data_folder
from voicelog.model import VoicelogError
from voicelog.report.manual_site import manual_site

__all__ = ["manual_folder", "write_manual"]

_README = "README.md"
_PICTURES = "pictures"


def manual_folder() -> Path:
    """The folder in this user's cache that the manual is written to."""
    return Path(platformdirs.user_cache_dir("voicelog", appauthor=False)) / "manual"


def write_manual(folder: Path) -> Path:
    """Write the site into a folder, over one that is there.

    Args:
        folder: made where it is missing.

    Returns:
        The absolute path of its first page.

    Raises:
        VoicelogError: the folder cannot be written to, or the documents did not ship.
    """
    docs = data_folder("docs")
    readme = docs / _README if (docs / _README).is_file() else docs.parent / _README
    pages = {path.name: path.read_text(encoding="utf-8") for path in docs.glob("*.md")}
    pages[_README] = readme.read_text(encoding="utf-8")
    files = manual_site(pages) | {
        path.name: path.read_text(encoding="utf-8") for path in docs.glob("*.json")
    }
    folder = folder.expanduser().absolute()
    try:
        (folder / _PICTURES).mkdir(parents=True, exist_ok=True)
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        for picture in (docs / _PICTURES).iterdir():
            shutil.copyfile(picture, folder / _PICTURES / picture.name)
    except OSError as error:
        raise VoicelogError(
            f"Found no way to write to '{folder}' ({error.strerror}), wanted a folder of your "
            "own; name another with --folder."
        ) from error
    return folder / "index.html"
