"""Which files a command takes in, where folders are named: the recordings and notes in them.

A folder is gone through with all that lie in it, since recorders make one for each day. Hidden and
temporary files are left out, and what is neither sound nor text; links to folders are not followed.
"""

from __future__ import annotations

import codecs
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from voicelog.app.open_file import IntakeOptions
from voicelog.model import VoicelogError

__all__ = [
    "EmptyFolderError",
    "InputFiles",
    "input_files",
    "is_conflict_copy",
    "is_text",
    "recordings_in",
]

_SOUND = frozenset(
    [
        ".wav",
        ".wave",
        ".bwf",
        ".flac",
        ".mp3",
        ".m4a",
        ".m4b",
        ".mp4",
        ".mov",
        ".aac",
        ".ogg",
        ".oga",
        ".opus",
        ".webm",
        ".mka",
        ".wma",
        ".amr",
        ".3gp",
        ".3gpp",
        ".caf",
        ".aif",
        ".aiff",
    ]
)
_TEXT = frozenset((".txt", ".tsv", ".csv", ".md"))
_LOOKED_AT = 4096
"""Bytes by which a file is taken for text."""
_TEMPORARY = re.compile(
    r"[.~].*|.*~"
    r"|.*\.(?:tmp|temp|part|partial|filepart|crdownload|opdownload|download|incomplete|bak)"
    r"|.*\.(?:tmp|temp|part|partial)\.[^.]+",
    re.I,
)
_CONFLICT = re.compile(r".*(?:sync-conflict|conflicted copy|\([^()]*\bconflict\b[^()]*\)).*", re.I)


class EmptyFolderError(VoicelogError):
    """A folder in which there is nothing to take in; `typed`: text alone was wanted."""

    def __init__(self, folder: Path, typed: bool) -> None:
        wanted = "typed notes (.txt, .tsv, .csv, .md)" if typed else "recordings or typed notes"
        super().__init__(f"Found no {wanted} in the folder {folder}; name another folder or files.")
        self.folder = folder


@dataclass(frozen=True, slots=True)
class InputFiles:
    """The files to take in, each once: those named in their order, those of a folder by name, with
    numbers in the order of their value. `typed` are those found that are text; `left_out` is how
    many files of the folders were passed over."""

    paths: tuple[Path, ...]
    typed: frozenset[Path] = frozenset()
    left_out: int = 0

    def options_for(self, path: Path, options: IntakeOptions) -> IntakeOptions:
        """How the file `path` is to be taken in. `options` are those of the command."""
        return replace(options, typed=True) if path in self.typed else options


def input_files(named: Sequence[Path], *, typed: bool) -> InputFiles:
    """The files that are meant by names of files and folders.

    Args:
        named: as they were given; what is no folder is taken as it is, there or not.
        typed: whether text alone is wanted.

    Raises:
        EmptyFolderError: a folder has no such file.
    """
    paths: dict[Path, None] = {}
    texts: set[Path] = set()
    left_out = 0
    for name in named:
        if not name.is_dir():
            paths[name] = None
            continue
        inside = list(_files_in(name))
        texts_inside = [path for path in inside if _kind(path) == "text"]
        sounds = [] if typed else [path for path in inside if _kind(path) == "sound"]
        found = sorted((*texts_inside, *sounds), key=_natural)
        if not found:
            raise EmptyFolderError(name, typed)
        left_out += len(inside) - len(found)
        texts.update(path for path in texts_inside if path not in paths)
        paths.update(dict.fromkeys(found))
    return InputFiles(tuple(paths), frozenset(texts), left_out)


def recordings_in(folder: Path, without: Path) -> tuple[Path, ...]:
    """The recordings in a folder and those within, by name; temporary files are left out.

    Args:
        folder: where to look.
        without: a folder that is passed over with all in it, should it lie inside.
    """
    found = (path for path in _files_in(folder, without.resolve()) if _kind(path) == "sound")
    return tuple(sorted(found, key=_natural))


def is_conflict_copy(path: Path) -> bool:
    """Whether a file's name is one that programs give to the second of two that were to be one."""
    return _CONFLICT.fullmatch(path.name) is not None


def is_text(path: Path) -> bool:
    """Whether a file is text by its name or by how it begins, so that it may be typed notes."""
    if path.suffix.casefold() in _TEXT:
        return True
    try:
        with path.open("rb") as file:
            begins = file.read(_LOOKED_AT)
    except OSError:
        return False
    # What is cut off within a character at the end is text all the same.
    words = codecs.getincrementaldecoder("utf-8")(errors="replace").decode(begins)
    return (
        bool(words.strip())
        and all(one.isprintable() or one.isspace() for one in words)
        and "\ufffd" not in words
    )


def _files_in(folder: Path, without: Path | None = None) -> Iterator[Path]:
    for where, folders, files in os.walk(folder):
        if without is not None and Path(where).resolve() == without:
            folders.clear()
            continue
        folders[:] = [one for one in folders if not one.startswith((".", "__", "$"))]
        yield from (Path(where, one) for one in files)


def _kind(path: Path) -> str | None:
    if _TEMPORARY.fullmatch(path.name):
        return None
    suffix = path.suffix.casefold()
    return "sound" if suffix in _SOUND else "text" if suffix in _TEXT else None


def _natural(path: Path) -> list[tuple[int, int, str]]:
    """What files are sorted by: "take 2" before "take 10"."""
    pieces = re.split(r"(\d+)", str(path).casefold())
    return [
        (0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces if piece
    ]
