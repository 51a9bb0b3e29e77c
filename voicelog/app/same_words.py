"""Whether typed notes are in the log already, with a line more, or another spelling of one.

The same file is known by its hash; this is for notes that were added, gone on with in the file,
and added again. Only those of the same dog and day are compared. Nothing is decided: a person is
asked.
"""

from __future__ import annotations

from datetime import datetime
from difflib import SequenceMatcher

from voicelog.app.same_sound import SameRecordingError
from voicelog.app.typed_lines import TYPED
from voicelog.model import Reading
from voicelog.model.names import name_key
from voicelog.session.entries import recording_start
from voicelog.store import Log, StoredRecording, UnreadableRecordingError

__all__ = ["SameWordsError", "same_words"]

_FEWEST = 5
"""Different lines that two have to share, since short ones ("here came") are like many."""
_ALIKE = 0.8
"""The share of the lines of the shorter from which two are asked about (common practice, no
source)."""


class SameWordsError(SameRecordingError):
    """Typed notes say nearly what others say that are in the log."""

    how = "has nearly the same lines as"


def same_words(
    log: Log, words: list[str], dog: str | None, at: datetime | None
) -> StoredRecording | None:
    """The typed notes of the log that these lines are nearly the same as, None where there are
    none.

    Args:
        log: where to look.
        words: what the lines say, without times, in their order.
        dog: whose they are said to be.
        at: when they are said to begin; notes without a date are of any day.
    """
    lines = list(map(_plain, words))
    for kept in log.each_recording():
        if kept.listeners == (TYPED,) and kept.complete and _can_be_of(kept, dog):
            try:
                events = log.events(kept.id)
            except UnreadableRecordingError:
                continue
            began = recording_start(events, kept.started_at)
            if at is not None and began is not None and at.date() != began.date():
                continue
            there = [
                _plain(one.words)
                for one in events
                if isinstance(one, Reading) and one.by == "listener"
            ]
            matching = SequenceMatcher(None, lines, there, autojunk=False).get_matching_blocks()
            shared = [line for block in matching for line in lines[block.a : block.a + block.size]]
            shorter = min(len(lines), len(there))
            if len(set(shared)) >= _FEWEST and len(shared) >= _ALIKE * shorter:
                return kept
    return None


def _can_be_of(kept: StoredRecording, dog: str | None) -> bool:
    return dog is None or kept.dog is None or name_key(dog) == name_key(kept.dog)


def _plain(line: str) -> str:
    return " ".join(line.casefold().split())
