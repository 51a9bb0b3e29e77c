"""Doubt settled by voice: a note is read back, and her answer is kept with it.

"affirm" confirms it, "negative" strikes it, and saying a level again puts the new one in
its place. Without an answer it stays as it is, for the evening.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Literal

from voicelog.live.outputs import CommitAction, Output, PlayTone, SpeakWords
from voicelog.model import Action, Entry, Finding
from voicelog.model.phrases import AnswerPhrase, LevelPhrase
from voicelog.report.spoken_wording import spoken_question
from voicelog.safety.check import rules_with

__all__ = ["Readback", "needs_readback"]

ANSWER_S = 12.0
"""Seconds from the question in which an answer is taken for one."""
STALE_S = 60.0
"""Seconds after which a note is not asked about any more."""

_READ_BACK = rules_with("read back")


def needs_readback(entry: Entry, findings: tuple[Finding, ...]) -> bool:
    """Whether a note's level is worth a question: unsure, a jump, or beyond the transmitter."""
    if _level(entry) is None:
        return False
    jumped = any(f.rule in _READ_BACK and f.evidence[-1:] == (entry.id,) for f in findings)
    return entry.status == "doubtful" or jumped


@dataclass(slots=True)
class Readback:
    """One question at a time, the newest. Times are seconds (s) in the recording."""

    who: str = ""
    entry: Entry | None = None
    since_s: float = 0.0
    asked_s: float | None = None

    @property
    def held_back(self) -> tuple[str, ...]:
        """Entries whose findings wait for her answer."""
        return () if self.entry is None else (self.entry.id,)

    @property
    def question(self) -> str | None:
        """What was asked and not answered yet."""
        return spoken_question(self.entry) if self.entry and self.asked_s is not None else None

    def queue_question(self, entry: Entry, at_s: float) -> None:
        """Ask about this note when there is time; an older one is left for the evening."""
        self.entry, self.since_s, self.asked_s = entry, at_s, None

    def tick(self, at_s: float, *, may_ask: bool) -> tuple[Output, ...]:
        """The question, when its moment has come; `may_ask` says whether she can be asked now."""
        if self.entry is None:
            return ()
        if self.asked_s is None and at_s - self.since_s <= STALE_S:
            if not may_ask:
                return ()
            self.asked_s = at_s
            return (SpeakWords(spoken_question(self.entry)),)
        if self.asked_s is None or at_s - self.asked_s > ANSWER_S:
            self.entry = self.asked_s = None
        return ()

    def answer(self, entry: Entry) -> tuple[Output, ...]:
        """What her next note settles, to be committed, and its tone; empty when it is no answer."""
        about = self.entry
        if about is None or self.asked_s is None or entry.status != "accepted":
            return ()
        said = next((p.answer for p in entry.phrases if isinstance(p, AnswerPhrase)), None)
        again = _level(entry)
        if said == "affirm":
            outputs: tuple[Output, ...] = (
                self._action("confirm", about, entry),
                PlayTone("accepted"),
            )
        elif said == "negative":
            outputs = (self._action("void", about, entry), PlayTone("accepted"))
        elif again is not None and len(entry.phrases) == 1 and _level(about) is not None:
            if again == _level(about):
                # The same once more is an answer, not another press.
                outputs = (
                    self._action("confirm", about, entry),
                    self._action("void", entry, entry),
                )
            else:
                outputs = (self._action("void", about, entry),)
            outputs = (*outputs, PlayTone("accepted"))
        else:
            return ()
        self.entry = self.asked_s = None
        return outputs

    def _action(
        self, action: Literal["confirm", "void"], target: Entry, cause: Entry
    ) -> CommitAction:
        digest = hashlib.sha256(f"{action} {target.id} {cause.id}".encode()).hexdigest()
        return CommitAction(
            Action(
                id=f"a-{digest[:16]}",
                action=action,
                target=target.id,
                # A spoken cause makes a void one of "strike that", whose words are struck.
                cause=cause.id if action == "confirm" else None,
                value=target.reading if action == "confirm" else None,
                by="person",
                who=self.who,
            )
        )


def _level(entry: Entry) -> int | None:
    return next((p.level for p in entry.phrases if isinstance(p, LevelPhrase)), None)
