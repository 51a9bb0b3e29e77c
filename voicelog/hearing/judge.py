"""What stands of what was heard: one small function, with its version.

A wrong record that looks right is the worst this log can hold, a doubtful one costs a key
press, so a reading is accepted only where its listener has been measured to be sure.
The careful listener and agreement between the two take their place here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from voicelog.grammar.alike import twins
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.listener import Bars, Heard
from voicelog.model import Status

__all__ = ["JUDGE", "Judgement", "judge"]

_MAKES_NO_REP = frozenset({"session", "equipment", "condition"})

JUDGE = "one listener 2"
"""Name and version of the way of judging; goes into every verdict."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """What stands, how surely (0 to 1), and what else it may have been, likeliest first."""

    status: Status
    words: str
    confidence: float
    alternatives: tuple[str, ...] = ()


def judge(
    heard: Sequence[tuple[Heard, Bars]],
    grammar: Grammar,
    narrowing: Narrowing,
    *,
    strict: bool = False,
) -> Judgement:
    """The verdict on one segment's readings, the quick listener's first.

    With `strict`, for sound that was cut out of other sound not understood, what would be
    sure is worth a look: the rest may have told more of the same rep. Only what makes no
    rep can be sure, at the bar for twins.
    """
    reading, bars = heard[0]
    if not reading.complete:
        return Judgement("rejected", reading.words, 0.0)
    twin = twins(grammar, reading.words, narrowing.top_level)
    others = tuple(dict.fromkeys((*reading.others, *twin)))
    phrases = grammar.interpret(reading.words) or ()
    may_be_sure = not strict or all(phrase.kind in _MAKES_NO_REP for phrase in phrases)
    sure = bars.twin if twin or strict else bars.word if " " not in reading.words else bars.sure
    status: Status = "rejected"
    if may_be_sure and reading.confidence >= sure:
        status = "accepted"
    elif reading.confidence >= (bars.sure if strict else bars.look):
        status = "doubtful"
    return Judgement(status, reading.words, reading.confidence, others)
