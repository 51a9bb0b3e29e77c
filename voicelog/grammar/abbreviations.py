"""What may be typed for short: the one table, and what a text with short forms may mean.

The table stands with the grammar, in `abbreviations.txt`. A short form that stands for several
things, or is a word as well, is left to a person; a name has none.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from itertools import islice, product
from pathlib import Path

from voicelog.model import VoicelogError

__all__ = ["AbbreviationError", "expansions", "read_abbreviations"]

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


def expansions(table: Abbreviations, words: Collection[str], text: str) -> tuple[str, ...]:
    """What a text may stand for when its short forms are written out, as many as MAX_EXPANSIONS;
    the text as it is where it has none. One alone: nothing in it is in doubt.

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
    choices = [
        ((piece,) if piece in words else ()) + table.get(piece, () if piece in words else (piece,))
        for piece in pieces
    ]
    return tuple(dict.fromkeys(map(" ".join, islice(product(*choices), MAX_EXPANSIONS))))
