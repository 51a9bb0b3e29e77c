"""The manual that ships with the program: pages for a browser, which need no network."""

from __future__ import annotations

import shutil
from pathlib import Path

from voicelog.model import VoicelogError

__all__ = ["FIRST_PAGE", "copy_manual"]

FIRST_PAGE = "index.html"


def copy_manual(site: Path, folder: Path) -> Path:
    """Copy the site into a folder, over one that is there.

    Args:
        site: the folder of the manual's pages.
        folder: made where it is missing.

    Returns:
        The absolute path of its first page.

    Raises:
        VoicelogError: the folder cannot be written to.
    """
    folder = folder.expanduser().absolute()
    try:
        shutil.copytree(site, folder, dirs_exist_ok=True)
    except OSError as error:  # shutil's own gathers those of the files
        raise VoicelogError(
            f"Found no way to write to '{folder}', wanted a folder of your own with 3 MB free; "
            "name another with --folder."
        ) from error
    return folder / FIRST_PAGE
