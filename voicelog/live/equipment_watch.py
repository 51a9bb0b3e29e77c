"""What may go wrong with the machine while a session runs, seen at each tick and told once.

The disk, the wall clock, hearing and its speed, the earphone; the microphone is watched by its
own supervisor. What is wrong now is what the dialogue holds in `troubles`; nothing is tracked
beside that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from voicelog.live.clock import Clock, SleepWatch, WallClockWatch
from voicelog.live.dialogue import DialogueManager
from voicelog.live.feedback import FeedbackPlayer
from voicelog.live.kept_recording import KeptRecording
from voicelog.live.outputs import Output
from voicelog.live.recognition_supervisor import RecognitionSupervisor
from voicelog.report.screen_words import (
    clock_jump_words,
    disk_full_words,
    earphone_gone_words,
    slept_words,
)

__all__ = ["EquipmentWatch"]

RETRY_S = 5.0
"""Seconds between two tries to write to a disk that refused."""


class EquipmentWatch:
    """`perform` does what the dialogue answers, `on_note` takes a line for whoever reads a list.

    All methods are for the session's own thread.
    """

    def __init__(
        self,
        dialogue: DialogueManager,
        *,
        kept: KeptRecording,
        recognition: RecognitionSupervisor,
        feedback: FeedbackPlayer,
        clock: Clock,
        perform: Callable[[Iterable[Output]], None],
        on_note: Callable[[str], None],
    ) -> None:
        self._dialogue, self._kept = dialogue, kept
        self._recognition, self._feedback = recognition, feedback
        self._wall_clock, self._sleep = WallClockWatch(clock), SleepWatch(clock)
        self._perform, self._on_note = perform, on_note
        self._retried_s = 0.0
        self._heard_before = False
        self._late_s = 0.0

    def woke(self) -> bool:
        """Whether the machine has slept since the last look; it is told, with how long."""
        slept_s = self._sleep.slept()
        if slept_s is None:
            return False
        detail = slept_words(slept_s)
        self._on_note(detail)
        self._perform(self._dialogue.device("slept", detail, missed_s=slept_s))
        return True

    def tick(self, now_s: float) -> None:
        """Look at everything; `now_s` is the present on the clock (s)."""
        if now_s - self._retried_s >= RETRY_S:
            self._retried_s = now_s
            self._kept.retry()
        self.check_disk()
        self._check_wall_clock(now_s)
        self._check_hearing()
        self._check_load()
        self._check_earphone()

    def recognizers_ready(self, heard: Sequence[str]) -> None:
        """The recognizers are loaded, and these (`heard`) heard a test through: "listening" is said
        once; what began anew is said to be back when it has caught up."""
        if not heard:
            self._perform(self._dialogue.device("deaf"))
            return
        if not self._heard_before:
            self._heard_before = True
            self._perform(self._dialogue.device("listening" if len(heard) > 1 else "one listener"))

    def check_disk(self) -> None:
        """Say at once that the disk refuses, and when it has taken everything."""
        trouble = self._kept.trouble
        full = trouble is not None or self._kept.waiting > 0
        if full == ("disk full" in self._dialogue.troubles):
            return
        if not full:
            self._perform(self._dialogue.device("disk back"))
            return
        self._perform(self._dialogue.device("disk full", disk_full_words(trouble)))

    def _check_wall_clock(self, now_s: float) -> None:
        jumped_s = self._wall_clock.jump(now_s)
        if jumped_s is not None:
            detail = clock_jump_words(jumped_s)
            self._on_note(detail)
            self._perform(self._dialogue.device("clock", detail))

    def _check_hearing(self) -> None:
        """Say that hearing is back once a process that was begun anew has caught up."""
        if "ear gone" not in self._dialogue.troubles:
            self._late_s = 0.0
            return
        lag_s = self._recognition.lag_s
        self._late_s = max(self._late_s, lag_s or 0.0)
        if lag_s is not None and not self._recognition.slow:
            self._perform(self._dialogue.device("ear back", missed_s=self._late_s))

    def _check_load(self) -> None:
        """Leave the careful recognizer out while the machine cannot follow."""
        slow = self._recognition.slow
        if "ear gone" in self._dialogue.troubles:
            return  # it hears again what it had heard before
        if slow is None or slow == ("slow" in self._dialogue.troubles):
            return
        self._recognition.skip_careful(slow)
        if slow:
            self._perform(self._dialogue.device("slow"))
        else:
            self._dialogue.clear_trouble("slow")

    def _check_earphone(self) -> None:
        """Say on the screen that nothing sounds, since no other device may in its place."""
        trouble = self._feedback.trouble
        if (trouble is not None) == ("earphone gone" in self._dialogue.troubles):
            return
        if trouble is None:
            self._perform(self._dialogue.device("earphone back"))
            return
        detail = earphone_gone_words(trouble)
        self._on_note(detail)
        self._perform(self._dialogue.device("earphone gone", detail))
