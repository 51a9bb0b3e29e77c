"""Which reps are questions: those of which no person can find what is missing in any one entry.

A rep without an outcome, or one between two readings, is asked about once, with the answers that
are likely; any other note that tells of a rep answers too. A rep that waits for an entry to be
checked is no question: the entry is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple, get_args

from voicelog.model import Doubt, Mark, Outcome, Rep, Session
from voicelog.model.domain import FAILED, FIND_LEVEL, STIMULATION
from voicelog.model.phrases import LevelPhrase, ModePhrase, OutcomePhrase, RepPhrase

__all__ = ["WAITS_FOR_ENTRY", "QuestionReason", "RepQuestion", "rep_questions"]

QuestionReason = Literal["no outcome", "outcomes", "late", "two reps", "missed", "button", "level"]
"""What is asked about, what weighs most first; the codes are those of `Doubt`."""

WAITS_FOR_ENTRY: frozenset[Doubt] = frozenset({"words", "edit"})
"""Doubts that are gone once an entry is checked: one of the rep's own, or one beside it."""
_LIKELY: dict[str | None, tuple[tuple[str, Outcome], ...]] = {
    "steady": (("stood fast", "complied"), ("broke", "broke"), ("line help", "helped")),
    "place": (("on place", "complied"), ("ignored", "ignored"), ("line help", "helped")),
    None: (("came", "complied"), ("ignored", "ignored"), ("line help", "helped")),
}


class RepQuestion(NamedTuple):
    """One rep to be asked about: its number and id, when it began (s in the recording), why, and
    the likely answers as phrases, the first the one that was said where one was."""

    rep: int
    id: str
    at_s: float
    why: QuestionReason
    answers: tuple[tuple[RepPhrase, ...], ...]


def rep_questions(session: Session, *, running: bool = False) -> tuple[RepQuestion, ...]:
    """The questions of a session, in the order of its reps. `running`: it goes on, so that the last
    rep may still get its outcome."""
    found = []
    last = session.reps[-1] if session.reps else None
    said: dict[int | None, list[Mark]] = {}
    for mark in session.marks:
        if mark.kind == "outcome":
            said.setdefault(mark.rep, []).append(mark)
    for rep in session.reps:
        why = _why(rep)
        waits = running and rep is last and rep.outcome is None
        if why is not None and not waits:
            answers = _answers(rep, why, said.get(rep.number, ()))
            found.append(RepQuestion(rep.number, rep.id, rep.start_s, why, answers))
    return tuple(found)


def _why(rep: Rep) -> QuestionReason | None:
    if rep.void or not WAITS_FOR_ENTRY.isdisjoint(rep.doubts):
        return None
    if rep.outcome is None and rep.drill != FIND_LEVEL:
        return "no outcome"
    reasons: tuple[QuestionReason, ...] = get_args(QuestionReason)
    return next((reason for reason in reasons if reason in rep.doubts), None)


def _answers(
    rep: Rep, why: QuestionReason, outcomes_said: Sequence[Mark]
) -> tuple[tuple[RepPhrase, ...], ...]:
    likely = _LIKELY.get(rep.drill, _LIKELY[None])
    outcomes = [OutcomePhrase(word=word, outcome=outcome) for word, outcome in likely]
    said = list(
        dict.fromkeys(
            OutcomePhrase(word=str(mark.value), outcome=mark.name)  # type: ignore[arg-type]
            for mark in outcomes_said
        )
    )
    none = ModePhrase(do="none")
    match why:
        case "outcomes":
            return (*((one,) for one in said), *_both(rep, said))
        case "two reps":
            last = said[-1:]
            return tuple(answer for one in last for answer in ((one,), (none, one)))
        case "button":
            return ((none,), tuple(_presses(rep)))
        case "level":
            return ()
        case _:
            return tuple((one,) for one in dict.fromkeys((*said[-1:], *outcomes)))


def _both(rep: Rep, said: Sequence[OutcomePhrase]) -> tuple[tuple[RepPhrase, ...], ...]:
    """Both outcomes in the order said, where that can be: it failed, and then came. With the press
    between them where there was one; of more, nothing tells which was."""
    match said:
        case (first, last) if first.outcome in FAILED and last.outcome not in FAILED:
            presses = _presses(rep) if len(rep.times.presses) < 2 else None
            return () if presses is None else ((first, *presses, last),)
        case _:
            return ()


def _presses(rep: Rep) -> list[RepPhrase]:
    """The last press of a rep, as one would say it alone."""
    last = next((p for p in reversed(rep.times.presses) if p.level is not None), None)
    if last is not None and last.level is not None and last.mode in STIMULATION:
        tap = last.mode == "momentary"
        return [LevelPhrase(level=last.level, do="level", mode="momentary" if tap else None)]
    modes = [press.mode for press in rep.times.presses]
    return [ModePhrase(do=mode) for mode in modes[-1:] if mode in ("vibrate", "tone")]
