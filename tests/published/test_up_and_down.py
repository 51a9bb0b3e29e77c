"""Up-and-down estimates against published tracks.

H. Levitt, J. Acoust. Soc. Am. 49 (1971) 467-477, figure 4, as encoded in the tests of the
package UpDownMethods (rob-luke/UpDownMethods, tests/test_Levitt1971_Fig4.py). The mean of W. J.
Dixon and A. M. Mood (J. Am. Stat. Assoc. 43 (1948) 109-126) on that track and on the next was
computed with `dixonmood` of the R package upndown. Second track: doses of a nerve block, A. Van
Elstraete and others, Anesthesia and Analgesia 106 (2008) 305-308, from the examples of upndown.
"""

from __future__ import annotations

from itertools import chain, pairwise

import pytest

from voicelog.analysis.statistics.up_down import UpDownEstimate, dixon_mood, reversals

LEVITT = "++oooo++ooo+++++ooo++ooo"


def track(answers: str) -> tuple[list[float], list[bool]]:
    """Levels from 0 in steps of 1, down after "+" and up after "o"."""
    levels = [0.0]
    for answer in answers[:-1]:
        levels.append(levels[-1] + (-1 if answer == "+" else 1))
    return levels, [answer == "+" for answer in answers]


def doses() -> tuple[list[float], list[bool]]:
    turns = (
        *((4, 7), (6, 13), (12, 19), (18, 21), (20, 20), (19, 23), (22, 22), (21, 23), (22, 19)),
        *((20, 23), (22, 24), (23, 23), (22, 22), (23, 23), (22, 25), (24, 22), (23, 23)),
        *((24, 24), (23, 23), (24, 24), (23, 23), (22, 22)),
    )
    levels = list(
        chain.from_iterable(range(a, b + 1) if a <= b else range(a, b - 1, -1) for a, b in turns)
    )
    return [float(x) for x in levels], [b < a for a, b in pairwise(levels)] + [False]


def test_the_levels_of_levitts_track_are_those_of_his_figure() -> None:
    levels, _ = track(LEVITT)
    assert levels == [0, -1, -2, -1, 0, 1, 2, 1, 0, 1, 2, 3, 2, 1, 0, -1, -2, -1, 0, 1, 0, -1, 0, 1]


def test_dixon_and_mood_on_levitts_track() -> None:
    found = dixon_mood(*track(LEVITT))
    assert isinstance(found, UpDownEstimate)
    assert found.level == pytest.approx(0.2272727, abs=1e-6)
    # spread 2.4301205 by their formula, from the 11 answers, the rarer outcome
    assert found.error == pytest.approx(2.4301205 / 11**0.5, abs=1e-6)


def test_dixon_and_mood_on_a_clinical_track() -> None:
    levels, answered = doses()
    assert (len(levels), sum(answered)) == (61, 21)
    found = dixon_mood(levels, answered)
    assert isinstance(found, UpDownEstimate)
    assert found.level == pytest.approx(20.7857143, abs=1e-6)


@pytest.mark.parametrize(("skip", "of", "mean"), [(0, 7, 0.142857), (1, 6, 0.5)])
def test_the_reversals_of_levitts_track(skip: int, of: int, mean: float) -> None:
    """Trials 3, 7, 9, 12, 17, 20, 22 at levels -2, 2, 0, 3, -2, 1, -1."""
    found = reversals(*track(LEVITT), skip=skip)
    assert isinstance(found, UpDownEstimate)
    assert found.of == of
    assert found.level == pytest.approx(mean, abs=1e-6)
