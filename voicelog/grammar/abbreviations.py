"""What may be typed for short: the one table, and what a text with short forms may mean.

The table stands with the grammar, in `abbreviations.txt`. A short form that stands for several
things, or is a word as well, is left to a person; a name has none.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from itertools import islice, product
from pathlib import Path
from typing import NamedTuple

from voicelog.model import VoicelogError

__all__ = [
    "MAX_EXPANSIONS",
    "AbbreviationError",
    "TypedPiece",
    "expansions",
    "read_abbreviations",
    "typed_pieces",
]

Abbreviations = Mapping[str, tuple[str, ...]]
MAX_EXPANSIONS = 64
"""Ways to read a text that are looked at."""
_GLUED = re.compile(r"([^\W\d_]+)(\d+)([^\W\d_]*)")


class AbbreviationError(VoicelogError):
    """A line of the table that cannot be used: `found` stands at `line` of `path`."""

    def __init__(self, path: Path, line: int, found: str) -> None:
        super().__init__(
            f"{path}, line {line}: found '{found}', wanted a short form, '=' and its words, each "
            "form once; correct the line."
        )


def read_abbreviations(path: Path) -> dict[str, tuple[str, ...]]:
    """The table of the file `path`: each short form with all that it may stand for; empty where
    there is no such file.

    Raises:
        AbbreviationError: at the first line that is none.
    """
    table: dict[str, tuple[str, ...]] = {}
    lines = path.read_text(encoding="utf-8").splitlines() if path.is_file() else []
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.startswith("#"):
            continue
        short, _, long = line.partition("=")
        words = tuple(" ".join(one.split()) for one in long.split("|"))
        if not short.strip().isalpha() or not all(words) or short.strip() in table:
            raise AbbreviationError(path, number, line[:60])
        table[short.strip()] = words
    return table


class TypedPiece(NamedTuple):
    """A piece of a typed text, and what it may stand for: itself first, where it is a word."""

    piece: str
    meanings: tuple[str, ...]


def typed_pieces(table: Abbreviations, words: Collection[str], text: str) -> list[TypedPiece]:
    """The pieces of a text.

    Args:
        table: the short forms.
        words: the words that mean themselves; one that is a short form too may be either.
        text: plain words (`normalize`). "l9" and "l9c" are taken apart.
    """
    pieces: list[str] = []
    for word in text.split():
        glued = None if word in words else _GLUED.fullmatch(word)
        taken_apart = glued is not None and all(
            part in table or part in words for part in (glued[1], glued[3]) if part
        )
        pieces += filter(None, glued.groups()) if glued and taken_apart else [word]
    return [
        TypedPiece(
            piece,
            ((piece,) if piece in words else ())
            + table.get(piece, () if piece in words else (piece,)),
        )
        for piece in pieces
    ]


def expansions(pieces: Sequence[TypedPiece]) -> tuple[tuple[str, ...], ...]:
    """The ways to write out a text with its short forms, a meaning for each of its `pieces`, as
    many as MAX_EXPANSIONS. One alone: nothing in it is in doubt."""
    ways = product(*(one.meanings for one in pieces))
    return tuple(dict.fromkeys(islice(ways, MAX_EXPANSIONS)))
