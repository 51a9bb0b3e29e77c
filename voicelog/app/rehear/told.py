"""What hearing again has found, a line each, for whoever shows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from voicelog.analysis.reviewed_entries import OutcomeTally
from voicelog.app.rehear.difference import Difference, UtteranceChange, UtteranceText
from voicelog.model import Status
from voicelog.report.rehear_words import change_words, recording_words, tally_lines
from voicelog.report.words import clean, clock
from voicelog.store import StoredRecording

__all__ = ["HeardAgain", "difference_lines", "name_of", "sum_lines"]


@dataclass(slots=True)
class HeardAgain:
    """What the last hearing found, until it is taken over."""

    found: tuple[Difference, ...] = ()

    @property
    def new(self) -> int:
        """Changes that could be taken over."""
        return sum(len(one.new) for one in self.found)


def name_of(kept: StoredRecording) -> str:
    """What a recording is called."""
    return clean(kept.file_name) or kept.id[:12]


def difference_lines(kept: StoredRecording, difference: Difference) -> Iterator[str]:
    """How many changes a recording has, then each that a reader would see, with its time."""
    yield recording_words(name_of(kept), len(difference.new))
    for change in difference.changes:
        if change.seen:
            told = change_words(_side(change.before), _side(change.after), person=change.person)
            yield f"  {_at(change)}  {told}"


def sum_lines(found: Sequence[Difference]) -> Iterator[str]:
    """How right both hearings are, over all recordings."""
    before = sum((difference.before for difference in found), OutcomeTally())
    today = sum((difference.after for difference in found), OutcomeTally())
    return tally_lines(before, today)


def _at(change: UtteranceChange) -> str:
    return f"{clock(min(said.start_s for said in (*change.before, *change.after))):>6}"


def _side(said: Sequence[UtteranceText]) -> list[tuple[Status, str]]:
    return [(one.status, one.words) for one in said]
