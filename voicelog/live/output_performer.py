"""Does what the dialogue asks for: sounds it, says it, commits it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from voicelog.app.derivation_walk import Derived
from voicelog.live.dialogue import DialogueManager
from voicelog.live.feedback import FeedbackPlayer
from voicelog.live.kept_recording import KeptRecording
from voicelog.live.outputs import (
    CancelSpeech,
    CommitAction,
    LogFieldEvent,
    Output,
    PlayTone,
    SpeakWords,
)
from voicelog.model import Event

__all__ = ["OutputPerformer"]


class OutputPerformer:
    """For the session's own thread.

    `derive` gives what follows from all that is kept by now, `at_s` the moment in the recording
    (s), `heard_s` that which was heard through; `on_note` takes a line for whoever reads a list.
    """

    def __init__(
        self,
        dialogue: DialogueManager,
        feedback: FeedbackPlayer,
        kept: KeptRecording,
        *,
        derive: Callable[[], Derived],
        at_s: Callable[[], float],
        heard_s: Callable[[], float],
        on_note: Callable[[str], None],
    ) -> None:
        self._dialogue, self._feedback, self._kept = dialogue, feedback, kept
        self._derive, self._at_s, self._heard_s = derive, at_s, heard_s
        self._on_note = on_note

    def perform(self, outputs: Iterable[Output]) -> None:
        """Do it in order, then commit its events together; an answer kept may bring more."""
        events: list[Event] = []
        settled = False
        for output in outputs:
            match output:
                case PlayTone():
                    event = self._feedback.play(output, self._at_s())
                    events += [event] if event else []
                case SpeakWords():
                    silent = "earphone gone" in self._dialogue.troubles
                    self._on_note(f"{'shown' if silent else 'says'}: {output.words}")
                    events.append(self._feedback.say(output, self._at_s()))
                case CancelSpeech():
                    self._feedback.cancel(output, self._at_s())
                case LogFieldEvent():
                    events.append(self._feedback.event(output.what, output.detail, self._at_s()))
                case CommitAction():
                    events.append(output.action)
                    settled = True
        if events:
            self._kept.commit(events)
        if settled:
            self.perform(self._dialogue.settled(self._derive(), self._heard_s()))
