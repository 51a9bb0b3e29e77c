"""The intervals of the benchmark's shares, against a published table.

Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17
(1998) 857-872, table I, method 3 (score, without continuity correction); from memory.
"""

from __future__ import annotations

import pytest

from tests.bench.recognition import wilson_interval


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals_are_those_published(
    count: int, total: int, low: float, high: float
) -> None:
    assert wilson_interval(count, total) == pytest.approx((low, high), abs=5e-5)
