"""What stands of what was heard: one small function.

A wrong record that looks right is the worst this log can hold, a doubtful one costs a key
press. So a reading is accepted only where it is as good as certain, on all that two
listeners know (features.py), and more is asked of those that were mistaken most often:
single words, and readings with a sound-alike ("fifteen", "fifty").
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from voicelog.grammar.grammar import Grammar, RecognitionContext, beyond_range
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model import Status
from voicelog.recognition.name_verification import other_name_readings, session_name_spans
from voicelog.recognition.quick_recognizer import AcceptanceThresholds, Hypothesis

__all__ = ["Decision", "decide", "decide_quick"]

_KINDS_WITHOUT_REP = frozenset({"session", "equipment", "condition"})

OFFERED = 0.01
"""A reading less likely than this is not offered."""
MAX_ALTERNATIVES = 4


@dataclass(frozen=True, slots=True)
class Decision:
    """What stands, how surely (0 to 1), and what else it may have been, likeliest first; `stranger`
    are the phones heard in place of a name, where all but the name was said and it is surely
    another."""

    status: Status
    words: str
    confidence: float
    alternatives: tuple[str, ...] = ()
    stranger: str = ""


_NO_NAMES: Mapping[str, str] = MappingProxyType({})
_NONE_AHEAD: Mapping[str, float] = MappingProxyType({})


def decide(
    likely: Sequence[tuple[str, float]],
    grammar: Grammar,
    recognition_context: RecognitionContext,
    thresholds: AcceptanceThresholds,
    *,
    strict: bool = False,
    verified_name: Collection[str] = (),
    missing_name: Mapping[str, str] = _NO_NAMES,
    ahead: Mapping[str, float] = _NONE_AHEAD,
    number_odds: Mapping[str, float] = _NONE_AHEAD,
) -> Decision:
    """The verdict on a segment's readings, given with how likely (0 to 1) each is right.

    The likeliest is accepted from its threshold on, doubtful from `thresholds.offer` on, else
    rejected; its alternatives are the other readings, likeliest first.

    A level beyond the transmitter's range is no more than worth a look, however likely. So is a
    reading that names whose session it is, unless it is among the `verified_name` ones, whose name
    was surely said; `missing_name` ones, of which all but the name was, are so however unlikely,
    and the phones that they have there for the name are kept: "" where it may still be that name.

    A reading with a sound-alike needs `thresholds.accept_sound_alike`, unless `ahead` tells that it
    lies `thresholds.sound_alike_margin` nats or more ahead of every number that sounds like it, or
    `number_odds` (-teen or -ty, teen_layer.py) are `thresholds.teen_margin` nats or more.

    With `strict`, for sound that was cut out of other sound not understood, what would be
    sure is worth a look: the rest may have told more of the same rep. Only what makes no
    rep can be sure, and not below the threshold for sound-alikes.
    """
    ranked = sorted(likely, key=lambda one: -one[1])
    if not ranked:
        return Decision("rejected", "", 0.0)
    words, confidence = ranked[0]
    if missing_name and confidence < thresholds.offer:
        words, confidence = next(one for one in ranked if one[0] in missing_name)
    sound_alike = sound_alike_readings(grammar, words)
    near = [other for other, chance in ranked if chance >= OFFERED and other != words]
    phrases = grammar.interpret(words) or ()
    strange = bool(session_name_spans(phrases)) and words not in verified_name
    named = other_name_readings(grammar, words) if strange else ()
    others = tuple(dict.fromkeys((*near, *sound_alike, *named)))[:MAX_ALTERNATIVES]
    may_be_sure = not strict or all(phrase.kind in _KINDS_WITHOUT_REP for phrase in phrases)
    if strange or beyond_range(grammar, words, recognition_context):
        may_be_sure = False
    needed = thresholds.accept_words(words)
    told_apart = _told_apart(words, thresholds, ahead, number_odds)
    if strict or (sound_alike and not told_apart):
        needed = max(needed, thresholds.accept_sound_alike)
    status: Status = "rejected"
    if may_be_sure and confidence >= needed:
        status = "accepted"
    elif confidence >= thresholds.offer or words in missing_name:
        status = "doubtful"
    stranger = missing_name.get(words, "") if status == "doubtful" else ""
    return Decision(status, words, confidence, others, stranger)


def _told_apart(
    words: str,
    thresholds: AcceptanceThresholds,
    ahead: Mapping[str, float],
    number_odds: Mapping[str, float],
) -> bool:
    """Whether its numbers surely are none that sound like them."""
    margins = (
        (ahead.get(words, 0.0), thresholds.sound_alike_margin),
        (number_odds.get(words, 0.0), thresholds.teen_margin),
    )
    return any(margin is not None and nats >= margin for nats, margin in margins)


def decide_quick(
    heard: Hypothesis,
    thresholds: AcceptanceThresholds,
    grammar: Grammar,
    recognition_context: RecognitionContext,
    *,
    strict: bool = False,
) -> Decision:
    """The verdict where one listener alone heard, which tells its own confidence."""
    if not heard.complete:
        return Decision("rejected", heard.words, 0.0)
    own = decide(
        [(heard.words, heard.confidence)], grammar, recognition_context, thresholds, strict=strict
    )
    others = tuple(dict.fromkeys((*heard.others, *own.alternatives)))
    return replace(own, alternatives=others)
