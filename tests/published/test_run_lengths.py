"""How long the CUSUM runs before it signals, against published tables.

Average run lengths of the two-sided tabular CUSUM with a slack of 0.5 standard deviations and a
limit of 4 or 5: D. C. Montgomery, Introduction to Statistical Quality Control, table of ARL by
shift (after J. M. Lucas, J. Qual. Technol. 8 (1976) 1-12); one-sided, without a shift: D. M.
Hawkins and D. H. Olwell, Cumulative Sum Charts and Charting for Quality Improvement (1998). All
from memory. Each is checked twice: by the Markov chain of D. Brook and D. A. Evans (Biometrika 59
(1972) 539-549) over the recursion, and by playing normal values through `cusum`. Of 1 / ARL the two
sides add up (K. W. Kemp, J. R. Stat. Soc. B 23 (1961) 149-153).
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from voicelog.analysis.statistics.cusum import LIMIT, SLACK, cusum

TABLE = {  # shift in standard deviations: with a limit of 4, of 5
    0.0: (168, 465),
    0.25: (74.2, 139),
    0.5: (26.6, 38.0),
    0.75: (13.3, 17.0),
    1.0: (8.38, 10.4),
    1.5: (4.75, 5.75),
    2.0: (3.34, 4.01),
    3.0: (2.19, 2.57),
}


def one_sided(shift: float, slack: float, limit: float, states: int = 150) -> float:
    """The average run length of one sum, from 0, by a chain of so many states."""
    width = 2 * limit / (2 * states - 1)
    at = np.arange(states) * width
    upper = at[None, :] + width / 2 - at[:, None] + slack - shift
    reached = norm.cdf(upper)
    step = np.diff(reached, axis=1, prepend=0.0)
    return float(np.linalg.solve(np.eye(states) - step, np.ones(states))[0])


def two_sided(shift: float, slack: float, limit: float) -> float:
    """Both sums."""
    return 1 / (1 / one_sided(shift, slack, limit) + 1 / one_sided(-shift, slack, limit))


@pytest.mark.parametrize("shift", TABLE)
def test_the_chain_gives_the_printed_run_lengths(shift: float) -> None:
    for limit, printed in zip((4.0, 5.0), TABLE[shift], strict=True):
        assert two_sided(shift, 0.5, limit) == pytest.approx(printed, rel=0.006)


@pytest.mark.parametrize(("limit", "printed"), [(4.0, 335.4), (5.0, 930.9)])
def test_one_side_without_a_shift(limit: float, printed: float) -> None:
    assert one_sided(0.0, 0.5, limit) == pytest.approx(printed, rel=0.01)


@pytest.mark.parametrize(
    ("shift", "limit", "runs"),
    [(0.0, 4.0, 150), (0.5, 5.0, 200), (1.0, 5.0, 200), (2.0, 4.0, 200)],
)
def test_the_sums_that_ship_run_as_long(shift: float, limit: float, runs: int) -> None:
    expected = two_sided(shift, 0.5, limit)
    draw = np.random.default_rng(7)
    lengths = []
    for _ in range(runs):
        found = cusum(draw.normal(shift, 1, int(12 * expected) + 20).tolist(), 0.0, 0.5, limit)
        assert found.signal is not None
        lengths.append(found.signal + 1)
    error = np.std(lengths) / runs**0.5
    assert abs(np.mean(lengths) - expected) < 3 * error


def test_what_ships_is_the_design_of_the_table() -> None:
    assert (SLACK, LIMIT) == (0.5, 5.0)
