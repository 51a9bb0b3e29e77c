"""How a hearing does on what people have read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Literal

from voicelog.app.rehear.difference import OutcomeTally
from voicelog.grammar.grammar import Grammar
from voicelog.model import Entry, Verdict
from voicelog.model.phrases import phrase_meaning

__all__ = ["RecognitionOutcome", "alike", "counted", "outcome", "scored"]

RecognitionOutcome = Literal["right", "offered", "asked", "missed", "wrong"]
"""What became of an utterance, see `OutcomeTally`."""


def scored(
    read: Iterable[Entry], verdicts: Mapping[str, Verdict], grammar: Grammar
) -> OutcomeTally:
    """The outcome of each entry that a person has `read`, by the verdict on its utterance.

    One without a verdict was not heard at all.
    """
    return counted(outcome(e.reading, verdicts.get(e.id), grammar) for e in read)


def counted(outcomes: Iterable[RecognitionOutcome]) -> OutcomeTally:
    """How many there are of each outcome."""
    return OutcomeTally(**Counter[str](outcomes))


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
