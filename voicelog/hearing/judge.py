"""What stands of what was heard: one small function, with its version.

A wrong record that looks right is the worst this log can hold, a doubtful one costs a key
press. So a reading is accepted only where it is as good as certain, on all that two
listeners know (evidence.py), and more is asked of those that were mistaken most often:
single words, and readings with a twin ("fifteen", "fifty").
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from voicelog.grammar.alike import twins
from voicelog.grammar.grammar import Grammar, Narrowing, beyond_range
from voicelog.hearing.listener import Bars, Heard
from voicelog.hearing.names import name_spans, other_names
from voicelog.model import Status

__all__ = ["JUDGE", "Judgement", "judge", "judge_alone"]

_MAKES_NO_REP = frozenset({"session", "equipment", "condition"})

JUDGE = "evidence 5"
"""Name and version of the way of judging; goes into every verdict."""

OFFERED = 0.01
"""A reading less likely than this is not offered."""
MOST_OFFERED = 4


@dataclass(frozen=True, slots=True)
class Judgement:
    """What stands, how surely (0 to 1), and what else it may have been, likeliest first."""

    status: Status
    words: str
    confidence: float
    alternatives: tuple[str, ...] = ()


def judge(
    likely: Sequence[tuple[str, float]],
    grammar: Grammar,
    narrowing: Narrowing,
    bars: Bars,
    *,
    strict: bool = False,
    familiar: Collection[str] = (),
    nameless: Collection[str] = (),
) -> Judgement:
    """The verdict on a segment's readings, given with how likely (0 to 1) each is right.

    A level beyond the transmitter's range is no more than worth a look, however likely. So is a
    reading that names whose session it is, unless it is among the `familiar`, whose name was
    surely said; `nameless` ones, of which all but the name was, are so however unlikely.

    With `strict`, for sound that was cut out of other sound not understood, what would be
    sure is worth a look: the rest may have told more of the same rep. Only what makes no
    rep can be sure, and not below the bar for twins.
    """
    ranked = sorted(likely, key=lambda one: -one[1])
    if not ranked:
        return Judgement("rejected", "", 0.0)
    words, confidence = ranked[0]
    if nameless and confidence < bars.look:
        words, confidence = next(one for one in ranked if one[0] in nameless)
    twin = twins(grammar, words)
    near = [other for other, chance in ranked if chance >= OFFERED and other != words]
    phrases = grammar.interpret(words) or ()
    strange = bool(name_spans(phrases)) and words not in familiar
    named = other_names(grammar, words) if strange else ()
    others = tuple(dict.fromkeys((*near, *twin, *named)))[:MOST_OFFERED]
    may_be_sure = not strict or all(phrase.kind in _MAKES_NO_REP for phrase in phrases)
    if strange or beyond_range(grammar, words, narrowing):
        may_be_sure = False
    sure = bars.word if " " not in words else bars.sure
    if twin or strict:
        sure = max(sure, bars.twin)
    status: Status = "rejected"
    if may_be_sure and confidence >= sure:
        status = "accepted"
    elif confidence >= bars.look or words in nameless:
        status = "doubtful"
    return Judgement(status, words, confidence, others)


def judge_alone(
    heard: Heard, bars: Bars, grammar: Grammar, narrowing: Narrowing, *, strict: bool = False
) -> Judgement:
    """The verdict where one listener alone heard, which tells its own confidence."""
    if not heard.complete:
        return Judgement("rejected", heard.words, 0.0)
    own = judge([(heard.words, heard.confidence)], grammar, narrowing, bars, strict=strict)
    others = tuple(dict.fromkeys((*heard.others, *own.alternatives)))
    return replace(own, alternatives=others)
