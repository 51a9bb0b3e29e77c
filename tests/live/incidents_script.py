"""Thirty scripted incidents in three sessions: each dangerous thing twice in its session.

Invented. An incident is what is said before, the words that prove it, and the rules of which one
has to warn. What cautions wait for, the outcome, is part of the proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["SESSIONS", "ScriptedIncident"]


@dataclass(frozen=True, slots=True)
class ScriptedIncident:
    """`before` and `proof` are (pause s, words); one of `rules` warns after the proof. `by_time_s`:
    the proof is no word but time, so long (s) after it. `answers`: the proof only answers a
    question about the words before it; where that is not asked, since much was said in the last
    minute, the warning comes right after those words."""

    name: str
    before: tuple[tuple[float, str], ...]
    proof: tuple[float, str]
    rules: frozenset[str]
    by_time_s: float = 0.0
    answers: bool = False


def _twice(
    name: str,
    before: Sequence[tuple[float, str]],
    proof: tuple[float, str],
    *rules: str,
    by_time_s: float = 0.0,
    answers: bool = False,
) -> list[ScriptedIncident]:
    return [ScriptedIncident(name, tuple(before), proof, frozenset(rules), by_time_s, answers)] * 2


_READY = (
    (1.0, "start session bracken"),
    (6.0, "fit check two fingers"),
    (2.0, "here vibrate came"),
)
_OVER = (3.0, "came")
REST = 8.0

SESSIONS: tuple[tuple[tuple[tuple[float, str], ...], tuple[ScriptedIncident, ...]], ...] = (
    (
        _READY,
        (
            *_twice(
                "weak signs",
                [(REST, "here no button"), (1.5, "whined")],
                (1.0, "lip lick came"),
                "stress-weak",
            ),
            *_twice(
                "yelped",
                [_OVER, (REST, "here"), (2.0, "level two")],
                (1.5, "yelped"),
                "stress-strong",
                "stress-twice",
            ),
            *_twice(
                "not eased",
                [_OVER, (REST, "here")],
                (2.0, "level three"),
                "stress-not-eased",
                "stress-twice",
            ),
            *_twice(
                "screamed",
                [_OVER, (REST, "here no button")],
                (1.5, "screamed"),
                "stress-strong",
                "stress-twice",
            ),
            *_twice(
                "growled",
                [_OVER, (REST, "here no button")],
                (1.5, "growled"),
                "stress-strong",
                "stress-twice",
            ),
        ),
    ),
    (
        _READY,
        (
            *_twice(
                "over the ceiling", [_OVER, (REST, "here")], (2.0, "level nine"), "over-ceiling"
            ),
            *_twice(
                "held too long",
                [_OVER, (REST, "here")],
                (2.0, "level two"),
                "held-long",
                by_time_s=3.0,
            ),
            *_twice(
                "big step",
                [_OVER, (REST, "here level one came"), (REST, "here level four came")],
                (3.5, "affirm"),  # a jump is read back first
                "step-big",
                answers=True,
            ),
            *_twice(
                "beyond the transmitter",
                [(REST, "here")],
                (2.0, "level twenty five"),
                "over-range",
                "over-ceiling",
            ),
            *_twice(
                "no contact",
                [_OVER, (REST, "no contact")],
                (4.0, "here level one came"),
                "contact-poor",
            ),
        ),
    ),
    (
        _READY,
        (
            *_twice(
                "test failed", [(REST, "test failed")], (4.0, "here level one came"), "test-failed"
            ),
            *_twice("sore skin", [_OVER], (REST, "skin sore"), "skin"),
            *_twice("red skin", [], (REST, "skin red"), "skin"),
            *_twice(
                "on after the arrival",
                [(REST, "test good"), (4.0, "here"), (2.0, "level one"), (1.0, "came")],
                (5.0, "thumb off"),
                "kept-on",
                "held-long",
            ),
            *_twice("gunfire", [(REST, "drill gun")], (4.0, "here level one"), "gun"),
        ),
    ),
)
"""Of each session: what is said to begin it, and its ten incidents."""
