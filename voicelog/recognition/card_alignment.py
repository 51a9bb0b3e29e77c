"""Find the lines of a card in the segments of a recording, in order, past false starts.

Lines are matched to segments by how alike the phones of a line and of what was heard are;
one line may have no segment and one segment no line, but the order holds (Needleman and
Wunsch, Journal of Molecular Biology 48(3):443-453, 1970). What a listener hears badly it would
miss so, and those lines matter most: where as many segments as lines lie between two that
were found, and they are about as long as the lines take, they are the lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import (
    NoPronunciationError,
    Phones,
    Pronouncer,
    edit_distance,
    shipped_pronouncer,
)
from voicelog.recognition.quick_recognizer import QuickRecognizer
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.voice_activity import FRAME

__all__ = ["align_card", "is_plausible_duration", "order"]

ALIKE = 0.5
"""From this likeness (0 to 1) on, a segment may be a line by what was heard in it."""
MIN_PHONE_S, LONGEST_S = 0.035, 0.25
"""Seconds of speech for each phone of a line, in haste and at leisure; common practice, no
source."""


def align_card(
    card: Sequence[str], found: Sequence[Segment], listener: QuickRecognizer, grammar: Grammar
) -> tuple[tuple[str, Segment], ...]:
    """The lines of the card that were read, in order, each with its segment.

    Of a line read more than once the last reading that is as good as any counts.
    """
    say = shipped_pronouncer()
    lines = [say.phrase(line)[0] for line in card]
    heard = [_phones(say, listener.hear(one.sound, one.noise).words) for one in found]
    alike = [[_likeness(line, said) for said in heard] for line in lines]
    long = [[is_plausible_duration(one, line) for one in found] for line in card]
    return tuple((card[line], found[place]) for line, place in order(alike, long))


def order(
    alike: Sequence[Sequence[float]], long: Sequence[Sequence[bool]]
) -> tuple[tuple[int, int], ...]:
    """Pairs of a line and a segment in order, from the likeness of each line to each segment
    and whether that is about as long as the line takes."""
    pairs = _best(alike)
    ends = [(-1, -1), *pairs, (len(alike), len(alike[0]) if alike else 0)]
    for (line, place), (next_line, next_place) in pairwise(ends):
        between = range(line + 1, next_line)
        shift = place - line
        if len(between) == next_place - place - 1 and all(long[at][at + shift] for at in between):
            pairs += [(at, at + shift) for at in between]
    return tuple(sorted(pairs))


def is_plausible_duration(segment: Segment, line: str) -> bool:
    """Whether there is about as much speech in a segment as a line takes to read."""
    phones = len(shipped_pronouncer().phrase(line)[0])
    speech_s = float(segment.speech.sum()) * FRAME / RATE
    return MIN_PHONE_S * phones <= speech_s <= LONGEST_S * phones + 0.5


def _best(alike: Sequence[Sequence[float]]) -> list[tuple[int, int]]:
    """The pairs in order whose likeness above ALIKE is greatest in sum."""
    columns = len(alike[0]) if alike else 0
    total = [[0.0] * (columns + 1) for _ in range(len(alike) + 1)]
    for line in range(1, len(alike) + 1):
        for place in range(1, columns + 1):
            total[line][place] = max(
                total[line - 1][place],
                total[line][place - 1],
                total[line - 1][place - 1] + alike[line - 1][place - 1] - ALIKE,
            )
    pairs: list[tuple[int, int]] = []
    line, place = len(alike), columns
    while line and place:
        paired = total[line - 1][place - 1] + alike[line - 1][place - 1] - ALIKE
        if alike[line - 1][place - 1] > ALIKE and total[line][place] == paired:
            pairs.append((line - 1, place - 1))
            line, place = line - 1, place - 1
        elif total[line][place] == total[line][place - 1]:
            place -= 1
        else:
            line -= 1
    return pairs[::-1]


def _phones(say: Pronouncer, words: str) -> Phones:
    try:
        return say.phrase(words)[0] if words else ()
    except NoPronunciationError:
        return ()


def _likeness(a: Phones, b: Phones) -> float:
    """1 for the same phones, 0 for nothing in common."""
    return 1.0 - edit_distance(a, b) / max(len(a), len(b), 1)
