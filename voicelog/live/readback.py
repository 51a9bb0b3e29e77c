"""Doubt settled by voice: a note is read back, and her answer is kept with it.

"affirm" confirms it, "negative" strikes it, and saying a level again puts the new one in
its place. Without an answer it stays as it is, for the evening. When a note is asked about is the
arbiter's business.
"""

from __future__ import annotations

import hashlib
from typing import Literal

from voicelog.live.outputs import CommitAction
from voicelog.model import Action, Entry, Finding
from voicelog.model.phrases import AnswerPhrase, LevelPhrase
from voicelog.safety.check import rules_with

__all__ = ["is_worth_asking", "settling_actions"]

_READ_BACK = rules_with("read back")


def is_worth_asking(entry: Entry, findings: tuple[Finding, ...]) -> bool:
    """Whether a note stands and is worth a question: unsure, or with a level that is a jump or
    beyond the transmitter, as `findings` tell."""
    if entry.voided or entry.status == "rejected":
        return False
    if entry.status == "doubtful":
        return True
    return _level(entry) is not None and any(
        finding.rule in _READ_BACK and finding.evidence[-1:] == (entry.id,) for finding in findings
    )


def settling_actions(about: Entry, entry: Entry, who: str) -> tuple[CommitAction, ...]:
    """What her next note (`entry`) settles about the one that was asked `about`, to be committed;
    empty when it is no answer. Only a sure note is one. `who` speaks."""
    if entry.status != "accepted":
        return ()
    said = next((p.answer for p in entry.phrases if isinstance(p, AnswerPhrase)), None)
    again = _level(entry)
    if said == "affirm":
        return (_action("confirm", about, entry, who),)
    if said == "negative":
        return (_action("void", about, entry, who),)
    if again is None or len(entry.phrases) != 1 or _level(about) is None:
        return ()
    if again == _level(about):  # the same once more is an answer, not another press
        return (_action("confirm", about, entry, who), _action("void", entry, entry, who))
    return (_action("void", about, entry, who),)


def _action(
    action: Literal["confirm", "void"], target: Entry, cause: Entry, who: str
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
            who=who,
        )
    )


def _level(entry: Entry) -> int | None:
    return next((p.level for p in entry.phrases if isinstance(p, LevelPhrase)), None)
