"""A typed recording as a source: words with their times, as someone would have said them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, time
from pathlib import Path
from typing import Any

from voicelog.app.intake import RecognizedUtterance, printable_path
from voicelog.app.typed_lines import TYPED, read_typed_lines
from voicelog.audio.files import read_bytes
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.harm_words import harm_told
from voicelog.grammar.strange_names import strange_word
from voicelog.grammar.typed_doubt import called_or_pressed, doubted_parts
from voicelog.grammar.typed_note import UnreadPart, note_of, read_typed_note, unread_parts
from voicelog.grammar.typed_presses import tells_of_press
from voicelog.model import (
    Entry,
    Reading,
    Status,
    Utterance,
    Verdict,
)
from voicelog.model.phrases import LevelPhrase
from voicelog.report.typed_words import StrangeLine, StrangeReason, strange_lines
from voicelog.session.spoken_edits import follows_unread, struck_note

__all__ = [
    "TYPED",
    "TypedFile",
    "judge_typed",
    "typed_id",
]

_TYPED_CONFIDENCE: Mapping[Status, float] = {"accepted": 1.0, "doubtful": 0.5, "rejected": 0.0}
_LIKE_A_NOTE = 0.2
"""How sure it is of a line that was not understood, where notes lie near, a word of it is said with
a press ("level to") or it may tell of harm: it is likely to be one, so a rep that it stands in is
not known to be whole (common practice, no source)."""


class TypedFile:
    """A typed recording as a source: lines of words, with their times where those are typed
    (`read_typed_lines`).

    Words that are a note, also in short forms, are accepted; those that hold one, with a slip or
    with words beside it, are doubtful; anything else is rejected, with what lies near on offer.
    What takes back the last note is doubtful after a line that was rejected: that may be meant.
    Raises TypedFormatError at the first line whose time cannot be taken.

    The same words are easily typed twice, so it is one recording for each day that they are said
    to be of, which `day` is part of the id. `known_as` is the id it has in the log already. `path`
    is the file, and `grammar` what its words are understood by.
    """

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
        typed = read_typed_lines(path, data, self._names_stimulus)
        self._lines, self._began, self._left_out = typed.lines, typed.began, typed.left_out
        self._strange: list[StrangeLine] = []

    @property
    def words(self) -> list[str]:
        """What each line says, without its time."""
        return [line.words for line in self._lines]

    @property
    def began(self) -> time | None:
        """The time of day at which it begins, where its lines say that."""
        return self._began

    @property
    def note(self) -> str | None:
        """What was not understood, line by line, once all is heard, and what was left out; None
        where all was taken and understood."""
        return strange_lines(self._strange, self._left_out) or None

    @property
    def id(self) -> str:
        return self._id

    def facts(self) -> Mapping[str, Any]:
        end_s = max((line.end_s for line in self._lines), default=0.0)
        return {
            "sha256": self._sha256,
            "file_name": printable_path(Path(self._path.name)),
            "duration_s": end_s,
        }

    def heard(self) -> Iterator[RecognizedUtterance]:
        self._strange.clear()
        before: list[Entry] = []
        for line in self._lines:
            name = f"u-{self.id[:12]}-{line.number:06d}"
            words = line.words
            status, reading, alternatives = judge_typed(self._grammar, words)
            entry = Entry(
                id=name,
                start_s=line.start_s,
                end_s=line.end_s,
                status=status,
                phrases=self._grammar.interpret(reading) or (),
            )
            unclear = status == "accepted" and follows_unread(entry, before)
            status = "doubtful" if unclear else status
            _take_up(before, entry.model_copy(update={"status": status}))
            if status != "accepted":
                near = reading if status == "doubtful" else None
                unread = unread_parts(self._grammar, words)
                why: StrangeReason = ""
                if not unread:
                    doubted = doubted_parts(words)
                    unread = tuple(UnreadPart(part, None) for part in doubted)
                    why = "follows unread" if unclear else _reason(self._grammar, words, doubted)
                named = strange_word(self._grammar, words)
                self._strange.append(StrangeLine(line.number, words, near, unread, named, why))
            yield (
                Utterance(id=name, recording=self.id, start_s=line.start_s, end_s=line.end_s),
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
                    confidence=_LIKE_A_NOTE
                    if status == "rejected"
                    and (alternatives or tells_of_press(self._grammar, words) or harm_told(words))
                    else _TYPED_CONFIDENCE[status],
                    alternatives=alternatives,
                    judge=TYPED,
                ),
            )

    def _names_stimulus(self, words: str) -> bool:
        phrases = self._grammar.interpret(read_typed_note(self._grammar, words).words) or ()
        return any(phrase.kind == "stimulus" for phrase in phrases)


def typed_id(sha256: str, day: date | None) -> str:
    """The id of typed words of the hash `sha256`: that itself, or a hash of it and the day."""
    return sha256 if day is None else hashlib.sha256(f"{sha256} {day}".encode()).hexdigest()


def judge_typed(grammar: Grammar, words: str) -> tuple[Status, str, tuple[str, ...]]:
    """What typed words become by a grammar: how sure, the reading, and what else it may be. Not
    understood is what holds no note of its own words; what lies near is then only on offer. A level
    under the lowest is to check."""
    read = read_typed_note(grammar, words)
    if read.sure:
        return "doubtful" if _is_too_low(grammar, read.words) else "accepted", read.words, ()
    if read.near is not None:
        return "doubtful", read.near, tuple(one for one in read.offers if one != read.near)
    return "rejected", read.words, read.offers


def _take_up(before: list[Entry], entry: Entry) -> None:
    """Put an entry after those before it; a note that it strikes is void from there on."""
    struck = struck_note(entry, before)
    for place, one in enumerate(before if struck else ()):
        if one.id == struck:
            before[place] = one.model_copy(update={"voided": True})
    before.append(entry)


def _reason(grammar: Grammar, words: str, doubted: Sequence[str]) -> StrangeReason:
    """Why words of which each is of a note are not sure."""
    if doubted:
        return "doubted"
    if _is_too_low(grammar, read_typed_note(grammar, words).words):
        return "too low"
    note = note_of(grammar, words)
    return "twice" if note is not None and called_or_pressed(grammar, words, note) else ""


def _is_too_low(grammar: Grammar, words: str) -> bool:
    """Whether a note has a press at a level that no transmitter of the roster has, such as 0."""
    lowest = min((dog.transmitter.lowest for dog in grammar.roster.dogs), default=1)
    return any(
        isinstance(one, LevelPhrase) and one.do in ("level", "up") and one.level < lowest
        for one in grammar.interpret(words) or ()
    )
