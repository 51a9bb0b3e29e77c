"""Scripted sessions for the ear: what is said, with which pauses; calm, busy and dreadful.

Invented sessions of an invented dog. A line is (pause s, words) or (pause s, words, how sure).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from tests.live.fields import Field
from voicelog.live.outputs import CancelSpeech, Output, SpeakWords
from voicelog.live.sayings import MANNERS, SayingKind
from voicelog.model import Status

__all__ = ["Line", "Told", "busy", "calm", "dreadful", "play"]

Line = tuple[float, str] | tuple[float, str, Status]

START: tuple[Line, ...] = (
    (1.0, "start session bracken"),
    (5.0, "affirm"),
    (2.0, "collar fitted"),
    (2.0, "fit check two fingers"),
    (2.0, "skin clear"),
    (2.0, "line trailing"),
    (2.0, "distraction low"),
)
WARM_UP: tuple[Line, ...] = ((6.0, "here vibrate came"), (12.0, "treat"))


def calm(seed: int, minutes: float = 10.0) -> list[Line]:
    """A session in which nothing is to be warned of: calls without the button, a few taps at one or
    two, everything that is to be prepared prepared. `seed` chooses what happens when."""
    rng = random.Random(seed)
    lines: list[Line] = [*START, *WARM_UP]
    spent = sum(line[0] + 1.6 for line in lines)
    reps = 0
    while spent < minutes * 60.0 - 30.0:
        reps += 1
        rep: list[Line] = rng.choice(
            [
                [(15.0, "here no button came"), (3.0, "praised")],
                [(20.0, "here"), (2.0, "no button"), (1.0, "came")],
                [(20.0, "here"), (3.0, "committed"), (2.0, "came no button"), (4.0, "treat")],
                [(25.0, "here no button came slow")],
                [(30.0, "distance twenty metres")],
                [(12.0, "good girl come on then", "rejected")],
            ]
        )
        if reps in (4, 9):  # few presses, at the lowest level, in time
            rep = [(25.0, "here"), (2.5, "tap one"), (0.5, "neck twitch"), (1.0, "came")]
        lines += rep
        spent += sum(line[0] + 1.6 for line in rep)
    return [*lines, (8.0, "here no button came"), (6.0, "end session")]


def busy() -> list[Line]:
    """Much at once: notes to check, questions to the ear, cautions of several rules."""
    lines: list[Line] = [(1.0, "start session bracken"), (1.0, "distraction high")]
    for number in range(8):
        lines += [
            (3.0, "here level two came"),
            (2.0, "say level"),
            (2.0, "distance ten metres", "doubtful"),
            (1.0, f"here level {('four', 'one', 'five', 'two')[number % 4]} came"),
            (1.0, "whined lip lick"),
            (4.0, "here level one came", "doubtful"),
            (6.0, "say count"),
        ]
    return [*lines, (3.0, "end session")]


def dreadful() -> list[Line]:
    """Everything that must not happen, again and again."""
    lines: list[Line] = list(START)
    for _ in range(4):
        lines += [
            (5.0, "here"),
            (1.0, "level nine"),
            (8.0, "yelped"),
            (1.0, "thumb off"),
            (1.0, "came"),
            (10.0, "here level eight came"),
            (4.0, "roger"),
            (5.0, "here level two"),
            (1.0, "screamed", "doubtful"),
            (6.0, "ignored"),
            (3.0, "here level three cowered"),
        ]
    return [*lines, (3.0, "came"), (4.0, "end session")]


@dataclass
class Told:
    """What sounded, with when (s), and at which of these moments a rep was open."""

    sounded: list[tuple[float, Output]] = field(default_factory=list)
    in_rep: set[float] = field(default_factory=set)
    ended_s: float | None = None

    @property
    def warned(self) -> Counter[str]:
        """How often each rule spoke."""
        return Counter(
            one.rule for _, one in self.sounded if isinstance(one, SpeakWords) and one.rule
        )

    def words(self, *, budgeted: bool = False, after_s: float = -1.0) -> list[tuple[float, str]]:
        """What was said, with when (s); only of kinds that have a budget where so asked."""
        return [
            (at_s, one.words)
            for at_s, one in self.sounded
            if isinstance(one, SpeakWords)
            and at_s > after_s
            and (not budgeted or MANNERS[_kind(one)].budget is not None)
        ]


def _kind(one: SpeakWords) -> SayingKind:
    if one.tone == "stop":
        return "stop"
    if one.rule is not None:
        return "thumb off" if one.words.startswith("Thumb off") else "caution"
    return "answer" if isinstance(one.key, tuple) and one.key[0] == "answer" else "question"


def play(lines: Sequence[Line], field_: Field | None = None, quiet_s: float = 60.0) -> Told:
    """Say them all, with a quiet end; everything that sounded."""
    stage, told = field_ or Field(), Told()
    for line in lines:
        pause_s, words = line[0], line[1]
        _wait(told, stage, pause_s)
        outputs = stage.says(words, status=line[2] if len(line) > 2 else "accepted")
        _note(told, stage, outputs)
    told.ended_s = stage.at_s
    _wait(told, stage, quiet_s)
    return told


def _wait(told: Told, stage: Field, seconds: float) -> None:
    for _ in range(round(seconds * 10)):
        _note(told, stage, stage.waits(0.1))


def _note(told: Told, stage: Field, outputs: Sequence[Output]) -> None:
    told.sounded += [(stage.at_s, one) for one in outputs if not isinstance(one, CancelSpeech)]
    if stage.dialogue.arbiter.rep is not None:
        told.in_rep.add(stage.at_s)
