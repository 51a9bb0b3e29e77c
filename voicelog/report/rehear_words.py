"""What changes where kept recordings are heard again, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from voicelog.analysis.reviewed_entries import OutcomeTally
from voicelog.model import Status
from voicelog.report.accuracy_text import OUTCOMES
from voicelog.report.state_words import status_word
from voicelog.report.words import clean, counted

__all__ = ["change_words", "recording_words", "taken_words", "tally_lines"]

_OUTCOMES = {**OUTCOMES, "right": "sure and right, or rightly not understood"}
_UNMEASURED = "No entry of these was reviewed by a person, so there is nothing to measure it by."

Heard = Sequence[tuple[Status, str]]
"""One side of a change: how each utterance stands, and its words."""


def recording_words(name: str, changes: int) -> str:
    """How many changes there are in a recording (`name`)."""
    return f"{name}: {counted(changes, 'change') if changes else 'nothing changes'}."


def change_words(before: Heard, after: Heard, *, person: bool) -> str:
    """What was heard `before` and `after`; `person`: one has decided there, so it stays."""
    if person:
        return f"stays {_side(before)}; today heard {_side(after)}"
    if not before:
        return f"new: {_side(after)}"
    return f"{_side(before)} -> {_side(after)}"


def tally_lines(before: OutcomeTally, today: OutcomeTally) -> Iterator[str]:
    """How both hearings do on what people have reviewed."""
    if not before.read:
        yield _UNMEASURED
        return
    yield f"On {counted(before.read, 'entry', 'entries')} that people have reviewed:"
    for name, meaning in _OUTCOMES.items():
        then, now = getattr(before, name), getattr(today, name)
        yield f"  {meaning:<42}{then:>5} before {now:>5} today"


def taken_words(taken: int) -> str:
    """How many changes were taken over."""
    return f"{counted(taken, 'change')} taken over."


def _side(said: Heard) -> str:
    """Words that were rejected are worth no reading."""
    return " + ".join(
        status_word(status) + (f' "{clean(words)}"' if status != "rejected" else "")
        for status, words in said
    )
