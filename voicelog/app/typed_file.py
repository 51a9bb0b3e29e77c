"""A typed recording as a source: words with their times, as someone would have said them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from voicelog.app.intake import RecognizedUtterance, printable_path
from voicelog.audio.files import read_bytes
from voicelog.grammar.fuzzy_match import fuzzy_matches
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.typed_names import unknown_name
from voicelog.model import (
    LONGEST_S,
    Reading,
    Roster,
    Status,
    Utterance,
    Verdict,
    VoicelogError,
)

__all__ = [
    "TYPED",
    "NotOnRosterError",
    "TypedFile",
    "TypedFormatError",
    "judge_typed",
    "typed_id",
]

TYPED = "typed 1"
"""Name and version of the reader of typed recordings."""
_TYPED_CONFIDENCE: Mapping[Status, float] = {"accepted": 1.0, "doubtful": 0.5, "rejected": 0.0}


class TypedFormatError(VoicelogError):
    """A typed recording with a line that is none."""

    def __init__(self, path: Path, line: int, found: str) -> None:
        self.path, self.line, self.found = path, line, found
        super().__init__(
            f"{path}, line {line}: found '{found}', wanted start_s, end_s and the words, "
            "parted by tabs, with the end not before the start; correct the line."
        )


class NotOnRosterError(VoicelogError):
    """A typed recording with a name that is not on the roster. Names are not guessed, and
    without this one the reps after it would be another dog's."""

    def __init__(self, path: Path, line: int, name: str, roster: Roster) -> None:
        self.path, self.line, self.name = path, line, name
        have = ", ".join((*(dog.name for dog in roster.dogs), *roster.handlers))
        super().__init__(
            f"{path}, line {line}: found '{name}' where a name belongs, wanted one that may be "
            f"said ({have}); correct the line, put the dog on the roster with 'voicelog dogs "
            "put', or where --dog is given give it for this one too."
        )


class TypedFile:
    """A typed recording as a source: lines of start_s, end_s and words, parted by tabs.

    Empty lines and lines that begin with "#" are passed over. Words that are a note are
    accepted, near misses are mended (but for names) and doubtful, anything else is rejected.
    Raises TypedFormatError at the first line that is none.

    The same words are easily typed twice, so it is one recording for each day that they are said
    to be of, which `day` is part of the id. `known_as` is the id it has in the log already.
    """

    note: str | None = None

    def __init__(
        self,
        path: Path,
        grammar: Grammar,
        *,
        day: date | None = None,
        known_as: str | None = None,
    ) -> None:
        self._path, self._grammar = path, grammar
        data = read_bytes(path)
        self._sha256 = hashlib.sha256(data).hexdigest()
        self._id = known_as or typed_id(self._sha256, day)
        try:
            lines = data.decode("utf-8-sig").splitlines()
        except UnicodeDecodeError as error:
            raise TypedFormatError(path, 1, "bytes that are not UTF-8") from error
        self._lines = [
            (number, *_typed_line(path, number, line))
            for number, line in enumerate(lines, start=1)
            if line.strip() and not line.startswith("#")
        ]

    @property
    def id(self) -> str:
        return self._id

    def check_names(self) -> None:
        """Raise NotOnRosterError at the first line with a name that is not on the roster."""
        for number, _, _, words in self._lines:
            name = unknown_name(self._grammar, words)
            if name is not None:
                raise NotOnRosterError(self._path, number, name, self._grammar.roster)

    def facts(self) -> Mapping[str, Any]:
        end_s = max((end_s for _, _, end_s, _ in self._lines), default=0.0)
        return {
            "sha256": self._sha256,
            "file_name": printable_path(Path(self._path.name)),
            "duration_s": end_s,
        }

    def heard(self) -> Iterator[RecognizedUtterance]:
        for number, start_s, end_s, words in self._lines:
            name = f"u-{self.id[:12]}-{number:06d}"
            status, reading, alternatives = judge_typed(self._grammar, words)
            yield (
                Utterance(id=name, recording=self.id, start_s=start_s, end_s=end_s),
                (
                    Reading(
                        id=f"{name}.r",
                        utterance=name,
                        words=words,
                        by="listener",
                        who=TYPED,
                        grammar=self._grammar.name,
                    ),
                ),
                Verdict(
                    id=f"{name}.v",
                    utterance=name,
                    status=status,
                    words=reading,
                    confidence=_TYPED_CONFIDENCE[status],
                    alternatives=alternatives,
                    judge=TYPED,
                ),
            )


def typed_id(sha256: str, day: date | None) -> str:
    """The id of typed words of that hash: the hash itself, or one of it and the day."""
    return sha256 if day is None else hashlib.sha256(f"{sha256} {day}".encode()).hexdigest()


def _typed_line(path: Path, number: int, line: str) -> tuple[float, float, str]:
    fields = line.split("\t")
    try:
        start_s, end_s = float(fields[0]), float(fields[1])
        words = fields[2].strip()
    except (ValueError, IndexError) as error:
        raise TypedFormatError(path, number, line[:60]) from error
    if not 0 <= start_s <= end_s < LONGEST_S:
        raise TypedFormatError(path, number, line[:60])
    return start_s, end_s, words


def judge_typed(grammar: Grammar, words: str) -> tuple[Status, str, tuple[str, ...]]:
    """What typed words become: how sure, the reading, and what else it may have been."""
    as_spoken = grammar.verbalize(words)
    if grammar.interpret(as_spoken) is not None:
        return "accepted", as_spoken, ()
    near = [repair.words for repair in fuzzy_matches(grammar, as_spoken)]
    if near:
        return "doubtful", near[0], tuple(near[1:])
    return "rejected", as_spoken, ()
