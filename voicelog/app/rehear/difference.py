"""What a second hearing makes of a recording, beside the first and beside what people read."""

from __future__ import annotations

from voicelog.analysis.reviewed_entries import OutcomeTally
from voicelog.model import Event, FrozenModel, Roster, Status, VoicelogError
from voicelog.store import StoredRecording

__all__ = ["Difference", "SoundGoneError", "UtteranceChange", "UtteranceText"]


class SoundGoneError(VoicelogError):
    """A recording whose sound is not there to be heard."""

    def __init__(self, recording: StoredRecording) -> None:
        super().__init__(
            f"Found no sound of '{recording.file_name or recording.id[:12]}' in the log, wanted it "
            "to hear it again; it was deleted, so its entries stay as they are."
        )
        self.recording = recording.id


class UtteranceText(FrozenModel):
    """What an utterance says, or said."""

    utterance: str
    start_s: float
    end_s: float
    status: Status
    words: str


class UtteranceChange(FrozenModel):
    """What was heard before and what is heard now in one stretch of sound.

    With `person`, what a person has read or done there stands, and `events` is empty. Of a
    spoken edit that aims elsewhere now, both sides show it with what it aims at.
    """

    before: tuple[UtteranceText, ...]
    after: tuple[UtteranceText, ...]
    person: bool = False
    events: tuple[Event, ...] = ()

    @property
    def seen(self) -> bool:
        """Whether a reader would see it: other words, surer or less sure, or another aim."""
        before, after = (
            [(one.status, one.words) for one in side] for side in (self.before, self.after)
        )
        aims = [one.utterance for one in self.before[1:]] != [o.utterance for o in self.after[1:]]
        return before != after or (len(before) == len(after) and aims)

    @property
    def utterances(self) -> frozenset[str]:
        """All that it is about."""
        return frozenset(one.utterance for one in (*self.before, *self.after))


class Difference(FrozenModel):
    """A recording as the log has it, beside how it is heard today."""

    recording: str
    roster: Roster = Roster()
    """The names and cues that were expected today."""
    changes: tuple[UtteranceChange, ...] = ()
    before: OutcomeTally = OutcomeTally()
    after: OutcomeTally = OutcomeTally()

    @property
    def new(self) -> tuple[UtteranceChange, ...]:
        """The changes that a reader would see and that can be taken over."""
        return tuple(change for change in self.changes if change.seen and not change.person)

    @property
    def stays(self) -> tuple[UtteranceChange, ...]:
        """Where today's hearing differs from what was heard, but a person has decided."""
        return tuple(change for change in self.changes if change.seen and change.person)
