"""CUSUM against printed tables.

D. C. Montgomery and G. C. Runger, Applied Statistics and Probability for Engineers, example
16-6, table 16-8: all forty printed sums. NIST/SEMATECH e-Handbook of Statistical Methods,
6.3.2.3: data and table from memory.
"""

from __future__ import annotations

import pytest

from voicelog.analysis.statistics.cusum import cusum


def test_the_forty_sums_of_montgomery_and_runger() -> None:
    values = [102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1]
    values += [101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0]
    found = cusum(values, target=99, slack=1, limit=10)
    above = [2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0]
    below = [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0]
    assert found.above == pytest.approx(above, abs=0.05)
    assert found.below == pytest.approx(below, abs=0.05)
    assert (found.signal, found.began, found.direction) == (None, None, None)


def test_the_first_signal_of_the_nist_handbook_is_at_observation_14() -> None:
    values = [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225]
    values += [324.600, 324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775]
    values += [326.875, 328.350]
    found = cusum(values, target=325, slack=0.3175, limit=4.1959)
    above = [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875]
    above += [14.445, 16.0025, 19.035]
    assert found.above == pytest.approx(above, abs=5e-5)
    assert max(found.below) == pytest.approx(0.715)
    assert found.below.index(max(found.below)) == 7
    assert (found.signal, found.began, found.direction) == (13, 12, "up")
