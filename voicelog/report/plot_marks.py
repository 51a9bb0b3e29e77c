"""The marks of a rep on a plot, and their legend in words, for every paper alike.

Shape carries the meaning; colour only repeats it. "broke" is a cross: two slashes, the
dog neither came nor merely left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from voicelog.report.state_words import CHECK, TO_CHECK, VOID
from voicelog.report.summary_rows import PlotRow, PlotShape, SummaryRow

__all__ = ["GLYPHS", "LANES", "NOTES", "SHAPES", "describe", "drawn", "lanes", "legend"]

SHAPES: dict[PlotShape, str] = {
    "complied": "came or done",
    "part": "slow or partway",
    "ignored": "ignored",
    "helped": "line help",
    "left": "peeled off",
    "broke": "broke",
    "noticed": "tap, a sign seen",
    "nothing": "tap, nothing seen",
    "unsaid": "outcome not said",
}
"""Each shape in words, in legend order."""

NOTES = {
    "stress": "stress",
    CHECK: f"{TO_CHECK}, not counted",
    "trace": "levels passed in the rep",
}
"""What is drawn around a shape, in words."""

GLYPHS: Mapping[str, str] = {
    "complied": "●",
    "part": "◐",
    "ignored": "○",
    "helped": "■",
    "left": "/",
    "broke": "×",
    "noticed": "◆",
    "nothing": "◇",
    "unsaid": "?",
}
"""Each shape as one character."""

LANES: tuple[PlotRow, ...] = ("tone", "vibrate", "no button", "not said")
"""The rows under the levels, from the top."""


def drawn(reps: Sequence[SummaryRow]) -> list[SummaryRow]:
    """The reps that the plot shows: all but void ones."""
    return [rep for rep in reps if rep.word != VOID]


def lanes(reps: Sequence[SummaryRow]) -> list[PlotRow]:
    """The rows under the levels that these reps need."""
    return [lane for lane in LANES if any(rep.lane == lane for rep in drawn(reps))]


def legend(reps: Sequence[SummaryRow]) -> list[tuple[str, str]]:
    """What these reps use, as (key of SHAPES or NOTES, words); never empty for any rep."""
    shown = drawn(reps)
    used = {rep.shape for rep in shown}
    keys: list[tuple[str, str]] = [(key, SHAPES[key]) for key in SHAPES if key in used]
    if any(rep.stress for rep in shown):
        keys.append(("stress", NOTES["stress"]))
    if any(rep.word == CHECK for rep in shown):
        keys.append((CHECK, NOTES[CHECK]))
    if any(len(set(rep.levels)) > 1 for rep in shown):
        keys.append(("trace", NOTES["trace"]))
    return keys


def describe(rep: SummaryRow) -> str:
    """A rep in words, for who cannot see the plot."""
    notes = [rep.button, rep.outcome if rep.shape == "unsaid" else SHAPES[rep.shape]]
    if rep.stress:
        notes.append("stress")
    if rep.word == CHECK:
        notes.append(NOTES[CHECK])
    return f"Rep {rep.number}: {', '.join(notes)}."
