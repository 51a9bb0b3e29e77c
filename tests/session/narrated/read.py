"""The narrations of narrations.txt, what the program makes of each, and what readers made of it.

`reader_a.json` and `reader_b.json` are two codings of the words alone, by `guide.md`, each made
without the program, its answers or the other's coding. The readers were language models and no
people: their agreement measures how consistently the words can be read, and is no study of people.
`DIFFERENCES` has what the program does otherwise than both, and why.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from tests.session.said import said
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster, Transmitter
from voicelog.session.variants import assemble

HERE = Path(__file__).parent
FIRST_LINE_S = 100.0
"""When the first line of a narration is said, after what is said of the collar (s)."""


@dataclass(frozen=True)
class CodedRep:
    """A rep as a reader writes it down."""

    cues: int
    mode: str
    levels: tuple[int, ...]
    outcome: str | None
    signs: tuple[str, ...]
    doubt: bool


FIELDS = ("cues", "mode", "levels", "outcome", "signs", "doubt")

DIFFERENCES = {
    "slow at once": "slow by itself is a word to the dog: the breath is not understood, and shown",
    "partway": "partway by itself is no outcome: the breath is not understood, and shown",
    "broke": "the fall of a bird opens no rep by itself: the outcomes stay unplaced, and shown",
    "correction by rep": "a correction is of the last rep: the breath is not understood, and shown",
    "level said twice": "each level that is said is a press in the trace, the same one too",
    "forgot the outcome, no cue after": "the session ends: the outcome was not said, and is asked",
    "no contact": "without contact the dog felt nothing: both reps are void",
    "mixed tap and hold": "the mode is that of the last level; the rep is in no curve of levels",
    "vibrate then level": "warmed up on vibrate, the rep is one of the level",
    "other dog named": "her name is taken as her being called, not this dog; the rep is to check",
    "press after arrival": "the session ends: the outcome was not said, and is asked",
    "level beyond the dial": "the level stays as said, and the rep is to check",
    "level nought": "nought is no press: of the button nothing else was said",
    "many small breaths": "a level whose number comes a breath later is not understood, and shown",
    "stop word and gun": "a shot opens no rep by itself: the outcome stays unplaced, and shown",
    "correction up to": "only the last rung is mended: the ladder before it stays",
}
"""Where the program has other reps than both readers, who agree, and why. Left out is whether a
rep is to check: readers would ask more often, see `tests.bench.narrated`."""


@dataclass(frozen=True)
class Narration:
    """One piece of work as told: whether the dog wears a collar, what the button does by itself,
    and the lines with their seconds."""

    name: str
    collar: bool
    mode: str
    lines: tuple[tuple[float, str], ...]

    def reps(self) -> tuple[CodedRep, ...]:
        """What the program makes of it, without the reps that were struck."""
        roster, grammar = _roster(self.mode)
        told = ["10 collar fitted fit check two fingers"] if self.collar else ["10 no collar"]
        for second, words in self.lines:
            talk = not words.startswith("x ") and grammar.interpret(words) is None
            told.append(f"{second + FIRST_LINE_S:g} {'x ' if talk else ''}{words}")
        sessions = assemble(said(*told, roster=roster, dog="Juno"), roster, dog="Juno")
        return tuple(
            CodedRep(
                cues=rep.cues,
                mode=rep.mode,
                levels=tuple(mark.level for mark in rep.levels),
                outcome=rep.outcome,
                signs=tuple(mark.sign for mark in rep.sign_marks if mark.class_ != "none"),
                doubt=rep.doubtful,
            )
            for session in sessions
            for rep in session.reps
            if not rep.void
        )


@cache
def _roster(mode: str) -> tuple[Roster, Grammar]:
    dogs = tuple(
        Dog.model_validate(
            {
                "name": name,
                "cues": ("here", "place", "heel", "stop", "kennel"),
                "default_mode": mode,
                "transmitter": Transmitter(top=20),
            }
        )
        for name in ("Juno", "Wren")
    )
    roster = Roster(dogs=dogs)
    return roster, Grammar.load(roster=roster)


def narrations() -> Iterator[Narration]:
    """Those of the file, in its order."""
    text = (HERE / "narrations.txt").read_text(encoding="utf-8")
    for block in text.split("\n== ")[1:]:
        head, *told = block.strip().splitlines()
        name, _, dog = head.partition(" | ")
        collar, mode = dog.split()
        pairs = (line.partition(" ") for line in told)
        lines = tuple((float(second), words) for second, _, words in pairs)
        yield Narration(name, collar == "collar", mode, lines)


def coding(name: str) -> dict[str, tuple[CodedRep, ...]]:
    """The reps of each narration in a file of codings: "reader_a" or "reader_b"."""
    found = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))
    return {narration: tuple(map(_coded, reps)) for narration, reps in found.items()}


def _coded(rep: dict[str, object]) -> CodedRep:
    def row(name: str) -> Sequence[object]:
        value = rep[name]
        assert isinstance(value, list)
        return value

    outcome = rep["outcome"]
    return CodedRep(
        cues=int(str(rep["cues"])),
        mode=str(rep["mode"]),
        levels=tuple(int(str(level)) for level in row("levels")),
        outcome=None if outcome is None else str(outcome),
        signs=tuple(str(sign) for sign in row("signs")),
        doubt=bool(rep["doubt"]),
    )
