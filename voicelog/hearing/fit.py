"""Fit how a voice is heard to its card: what was tried, what it gains, whether that is real.

Each setting of the quick listener hears all lines of the card. Which one is taken is decided
without the lines that it is then judged by (k-fold, over lines), so the gain is what lines
not looked at would have had. And it takes three lines more than were spoilt, and no new wrong
reading, to be a gain at all: with thirty lines less is luck.

The bars of the judge are left alone. Fitted to single voices of the tuning recordings, a
shift of the evidence's constant brought at most 2 of 80 notes with both listeners, and with the
quick one alone about as many wrong notes as right ones.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.grammar.samples import meaning
from voicelog.hearing.accents import ACCENTS, can_say_accents, variants
from voicelog.hearing.candidates import consider
from voicelog.hearing.careful import CarefulListener
from voicelog.hearing.companies import company_of
from voicelog.hearing.evidence import likelihoods
from voicelog.hearing.judge import judge
from voicelog.hearing.listener import Listener, Sound
from voicelog.hearing.posteriors import Posteriors
from voicelog.hearing.segmenter import Segment
from voicelog.hearing.voice import Voice

__all__ = [
    "GRADES",
    "USUAL",
    "Asked",
    "Fit",
    "Grade",
    "Setting",
    "Tried",
    "choose",
    "fit",
    "graded",
    "settings",
    "voice_of",
]

Grade = Literal["wrong", "missed", "offered", "sure"]
GRADES: tuple[Grade, ...] = ("wrong", "missed", "offered", "sure")
"""What became of a line, the worst first."""

SPEEDS = (0.9, 1.1)
FOLDS = 5
MARGIN = 2.0
"""Nats by which a setting must beat the usual one, over all lines, to be chosen."""
WORST = -5.0
"""Nats below which a line weighs no more: one that went quite wrong shall not decide."""
GAIN = 3
"""Lines that must be the better for it, less those that are the worse for it."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One way for the quick listener to hear: a playing speed, an accent."""

    speed: float = 1.0
    accent: str = ""

    @property
    def told(self) -> str:
        """What it is, for a person."""
        if self.accent:
            return f"{self.accent} pronunciations beside the usual ones"
        return (
            "the sound as it is"
            if self == USUAL
            else f"the sound played at {self.speed:g} times its speed"
        )


USUAL = Setting()


@dataclass(frozen=True, slots=True)
class Tried:
    """What became of one line under one setting; `likely` is the log-likelihood (nats, 0 or
    less) of what was meant."""

    grade: Grade
    likely: float


@dataclass(frozen=True, slots=True)
class Fit:
    """What the card showed: grades of each line before, and out-of-fold after; the choice.

    `setting` is USUAL where nothing is gained.
    """

    lines: tuple[str, ...]
    before: tuple[Grade, ...]
    after: tuple[Grade, ...]
    setting: Setting

    @property
    def better(self) -> int:
        """Lines that are the better for it."""
        return sum(_rank(b) > _rank(a) for a, b in zip(self.before, self.after, strict=True))

    @property
    def worse(self) -> int:
        """Lines that are the worse for it."""
        return sum(_rank(b) < _rank(a) for a, b in zip(self.before, self.after, strict=True))

    @property
    def gains(self) -> bool:
        """Whether it is worth keeping."""
        return self.setting != USUAL


def settings() -> tuple[Setting, ...]:
    """What is tried, the usual way first: speeds, and accents where eSpeak NG is here."""
    accents = ACCENTS if can_say_accents() else ()
    return (
        USUAL,
        *(Setting(speed=speed) for speed in SPEEDS),
        *(Setting(accent=accent) for accent in accents),
    )


def voice_of(setting: Setting, grammar: Grammar, handler: str = "") -> Voice:
    """The voice that a setting makes of a handler's."""
    said = variants(setting.accent, grammar.vocabulary) if setting.accent else {}
    return Voice(handler=handler, speed=setting.speed, accent=setting.accent, variants=said)


def fit(
    lines: Sequence[tuple[str, Segment]],
    grammar: Grammar,
    narrowing: Narrowing,
    quick_for: Callable[[Voice], Listener],
    careful: CarefulListener | None = None,
    *,
    tried: Callable[[int, int], None] = lambda done, of: None,
) -> Fit:
    """Try every setting on the lines of a card, each with the segment that holds it.

    `quick_for` makes the quick listener for a voice; `tried` is told how far it is.
    """
    every = settings()
    table: dict[Setting, tuple[Tried, ...]] = {}
    asked = [Asked(careful) if careful is not None else None for _ in lines]
    for number, setting in enumerate(every, start=1):
        quick = quick_for(voice_of(setting, grammar))
        table[setting] = tuple(
            _graded(words, segment, grammar, narrowing, quick, one)
            for (words, segment), one in zip(lines, asked, strict=True)
        )
        tried(number, len(every))
    return choose(tuple(words for words, _ in lines), table)


def graded(
    lines: Sequence[tuple[str, Segment]],
    grammar: Grammar,
    narrowing: Narrowing,
    quick: Listener,
    careful: CarefulListener | None = None,
) -> tuple[Tried, ...]:
    """What becomes of lines, each with the segment that holds it."""
    return tuple(_graded(*line, grammar, narrowing, quick, careful) for line in lines)


def choose(lines: tuple[str, ...], table: Mapping[Setting, Sequence[Tried]]) -> Fit:
    """The setting that the lines speak for, and what it gains; pure.

    Every line is judged by the setting that the other folds chose. USUAL must be among those
    tried.
    """
    before = tuple(one.grade for one in table[USUAL])
    after: list[Grade] = list(before)
    for fold in range(FOLDS):
        others = [place for place in range(len(lines)) if place % FOLDS != fold]
        best = _best(table, others)
        for place in range(fold, len(lines), FOLDS):
            after[place] = table[best][place].grade
    found = Fit(lines, before, tuple(after), _best(table, range(len(lines))))
    wrong = Counter(found.after)["wrong"] - Counter(before)["wrong"]
    if wrong > 0 or found.better - found.worse < GAIN:
        return Fit(lines, before, tuple(after), USUAL)
    return found


def _best(table: Mapping[Setting, Sequence[Tried]], places: Sequence[int]) -> Setting:
    """The likeliest setting on some lines; the usual one unless it is clearly beaten."""

    def likely(setting: Setting) -> float:
        total = sum(max(table[setting][place].likely, WORST) for place in places)
        return total + (MARGIN if setting == USUAL else 0.0)

    return max(table, key=likely)


def _graded(
    words: str,
    segment: Segment,
    grammar: Grammar,
    narrowing: Narrowing,
    quick: Listener,
    careful: CarefulListener | None,
) -> Tried:
    of = consider(segment, grammar, narrowing, quick, careful)
    company = company_of(quick, careful)
    likely = likelihoods(of, company.weights)
    readings = [(one.words, chance) for one, chance in zip(of.candidates, likely, strict=True)]
    judged = judge(readings, grammar, narrowing, company.bars(of.loud_db))
    meant = meaning(grammar.interpret(words) or ())

    def right(said: str) -> bool:
        return meaning(grammar.interpret(said) or ()) == meant

    chance = sum(chance for said, chance in readings if right(said))
    grade: Grade = "missed"
    if judged.status == "accepted":
        grade = "sure" if right(judged.words) else "wrong"
    elif judged.status == "doubtful" and any(map(right, (judged.words, *judged.alternatives))):
        grade = "offered"
    return Tried(grade, math.log(chance) if chance > 0 else -math.inf)


def _rank(grade: Grade) -> int:
    return GRADES.index(grade)


class Asked:
    """A careful listener that is asked the same about the same segment only once."""

    def __init__(self, careful: CarefulListener) -> None:
        self._careful = careful
        self._sounds: tuple[Sound, ...] = ()
        self._phones: Posteriors | None = None

    @property
    def name(self) -> str:
        """The listener's own name."""
        return self._careful.name

    def attend(self, *sounds: Sound) -> None:
        """Take in the segment; it is handed on when something new is asked."""
        self._sounds = sounds

    def phones(self) -> Posteriors:
        """As the listener's."""
        if self._phones is None:
            self._phones = self._attending().phones()
        return self._phones

    def _attending(self) -> CarefulListener:
        assert self._sounds, "asked before it attended"
        self._careful.attend(*self._sounds)
        return self._careful
