"""The readings that a segment may have, and what speaks for and against each.

They come from the quick listener's hearings, from what the careful one writes, and from what
lies beside either: near misses mended, neighbouring numbers, words that sound alike. Then
each is put before both: how well does the sound fit these words, how likely is this text?
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from voicelog.grammar.alike import twins
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.grammar.neighbours import neighbours
from voicelog.grammar.repair import repairs
from voicelog.grammar.written import spoken, written
from voicelog.hearing.activity import FRAMES, active, loudness_over
from voicelog.hearing.careful import CarefulListener
from voicelog.hearing.listener import NOTHING, RATE, Heard, Listener, Match, MatchingListener
from voicelog.hearing.segmenter import FRAME, Segment
from voicelog.hearing.transcript import Transcript, Weight

__all__ = ["Candidate", "Considered", "consider"]

MOST = 10
"""Candidates that are looked into."""
MENDED = 2
"""Of the careful listener's texts that are no notes, the likeliest so many are mended."""
BESIDE = 2
"""Candidates whose neighbours and twins are candidates too."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading of a segment.

    quick: the quick listener's own; again: the share of its further hearings that agree.
    match: how well the sound fits the words, None where they cannot lie in it.
    uncovered_s: seconds that sound, but lie under none of the words; uncovered: their share.
    untold_s: the same of the seconds that are speech, as the detector has it.
    weight: what the careful listener thinks of it, None without one.
    held_first, held: it is the likeliest, and the share of, the texts of known words.
    free: it is what the careful listener writes when it may use any word.
    """

    words: str
    quick: bool
    again: float
    match: Match | None
    uncovered_s: float
    uncovered: float
    untold_s: float
    weight: Weight | None
    held_first: bool
    held: float
    free: bool


@dataclass(frozen=True, slots=True)
class Considered:
    """A segment: what each listener heard, the readings it may have, and its circumstances.

    loud_db: how far its loud frames stand above the noise (dB).
    """

    heard: Heard
    transcript: Transcript | None
    candidates: tuple[Candidate, ...]
    loud_db: float


@dataclass(slots=True)
class _Found:
    """A reading and by which ways it was come to."""

    words: str
    ways: list[str] = field(default_factory=list)


def consider(
    segment: Segment,
    grammar: Grammar,
    narrowing: Narrowing,
    quick: Listener | None,
    careful: CarefulListener | None,
) -> Considered:
    """Hear a segment with one listener or both, and look into each reading it may have."""
    sound, noise = segment.sound, segment.noise
    heard = quick.hear(sound, noise) if quick else NOTHING
    transcript = careful.transcribe(sound) if careful else None
    found = _Readings(grammar, narrowing)
    found.add(heard.words, "quick")
    for words in heard.again:
        found.add(words, "again")
    for words in heard.others:
        found.add(words, "other")
    if transcript is not None:
        found.add_written(transcript)
    found.add_beside()
    readings = found.first(MOST)
    weights: Sequence[Weight | None] = [None] * len(readings)
    if careful:
        weights = careful.weigh([written(grammar, one.words) for one in readings])
    matching = quick if isinstance(quick, MatchingListener) else None
    matches = [matching.match(sound, one.words) if matching else None for one in readings]
    sounding = active(sound, noise)
    speech = segment.speech[np.arange(len(sounding)) * (RATE // FRAMES) // FRAME]

    def candidate(one: _Found, weight: Weight | None, match: Match | None) -> Candidate:
        told = np.zeros(len(sounding), np.bool_)
        for word in match.times if match else ():
            told[round(word.start_s * FRAMES) : round(word.end_s * FRAMES)] = True
        return Candidate(
            words=one.words,
            quick="quick" in one.ways,
            again=one.ways.count("again") / max(1, len(heard.again)),
            match=match,
            uncovered_s=float((sounding & ~told).sum()) / FRAMES,
            uncovered=float((sounding & ~told).sum()) / max(1, int(sounding.sum())),
            untold_s=float((speech & ~told).sum()) / FRAMES,
            weight=weight,
            held_first="held first" in one.ways,
            held=one.ways.count("held") / max(1, len(transcript.held) if transcript else 1),
            free="free" in one.ways,
        )

    return Considered(
        heard,
        transcript,
        tuple(map(candidate, readings, weights, matches)),
        loudness_over(sound, noise),
    )


class _Readings:
    """Readings by what they mean: two wordings of the same are one."""

    def __init__(self, grammar: Grammar, narrowing: Narrowing) -> None:
        self.grammar, self.narrowing = grammar, narrowing
        self.found: dict[str, _Found] = {}

    def add(self, words: str, *ways: str) -> bool:
        phrases = self.grammar.interpret(words) if words else None
        if phrases is None or any(self._beyond(dict(phrase.slots)) for phrase in phrases):
            return False
        meaning = repr([(phrase.kind, sorted(phrase.slots.items())) for phrase in phrases])
        self.found.setdefault(meaning, _Found(words)).ways.extend(ways)
        return True

    def _beyond(self, slots: dict[str, object]) -> bool:
        """Whether a level is above what the transmitter has."""
        top = self.narrowing.top_level
        levels = (slots.get(name) for name in ("level", "ceiling"))
        return top is not None and any(isinstance(n, int) and n > top for n in levels)

    def add_written(self, transcript: Transcript) -> None:
        for place, line in enumerate(transcript.held):
            ways = ("held", "held first") if place == 0 else ("held",)
            self._add_text(line.text, ways, mend=place < MENDED)
        self._add_text(transcript.free.text, ("free",), mend=True)

    def _add_text(self, text: str, ways: tuple[str, ...], *, mend: bool) -> None:
        as_spoken = spoken(self.grammar, text)
        if as_spoken:
            self.add(as_spoken[0], *ways)
            for other in as_spoken[1:]:
                self.add(other, "same sound")
        elif mend:
            for repair in repairs(self.grammar, text, limit=1):
                self.add(repair.words, "mended")

    def add_beside(self) -> None:
        for one in list(self.found.values())[:BESIDE]:
            near: Iterable[str] = neighbours(self.grammar, one.words)
            alike = twins(self.grammar, one.words, self.narrowing.top_level)
            for words in (*alike, *near):
                self.add(words, "beside")

    def first(self, most: int) -> tuple[_Found, ...]:
        return tuple(self.found.values())[:most]
