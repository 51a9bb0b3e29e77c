"""How a hearing does on what people have read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from voicelog.analysis.reviewed_entries import OutcomeTally, RecognitionOutcome, tallied
from voicelog.grammar.grammar import Grammar
from voicelog.model import Entry, Verdict
from voicelog.model.phrases import phrase_meaning

__all__ = ["alike", "outcome", "scored"]


def scored(
    read: Iterable[Entry], verdicts: Mapping[str, Verdict], grammar: Grammar
) -> OutcomeTally:
    """The outcome of each entry that a person has `read`, by the verdict on its utterance.

    One without a verdict was not heard at all.
    """
    return tallied(outcome(e.reading, verdicts.get(e.id), grammar) for e in read)


def outcome(right: str, verdict: Verdict | None, grammar: Grammar) -> RecognitionOutcome:
    """What a verdict makes of an utterance in which `right` was said."""
    is_note = bool(grammar.interpret(right))
    if verdict is None or verdict.status == "rejected":
        return "missed" if is_note else "right"
    if verdict.status == "accepted":
        return "right" if alike(right, verdict.words, grammar) else "wrong"
    offered = (verdict.words, *verdict.alternatives)
    return "offered" if any(alike(right, one, grammar) for one in offered) else "asked"


def alike(a: str, b: str, grammar: Grammar) -> bool:
    """Whether two readings mean the same."""
    one, other = grammar.interpret(a), grammar.interpret(b)
    if not one or not other:
        return a == b
    return phrase_meaning(one) == phrase_meaning(other)
