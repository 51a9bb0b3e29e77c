"""Two shares, like with like."""

from __future__ import annotations

import pytest

from voicelog.analysis.statistics.share_difference import (
    GroupedAnswer,
    ShareDifference,
    share_difference,
)
from voicelog.analysis.statistics.unknown import Unknown


def answers(
    first: bool, yes: int, of: int, stratum: str = "", single: bool = True
) -> list[GroupedAnswer]:
    return [
        GroupedAnswer(first, stratum, f"{stratum}{n if single else n % 2}", n < yes)
        for n in range(of)
    ]


def compared(*groups: list[GroupedAnswer]) -> ShareDifference:
    found = share_difference(one for group in groups for one in group)
    assert isinstance(found, ShareDifference)
    return found


def test_reps_of_sessions_of_their_own_are_newcombes_interval() -> None:
    """R. G. Newcombe (1998), method 10 of 56/70 against 48/80: 0.0524 to 0.3339 (from memory)."""
    found = compared(answers(True, 56, 70), answers(False, 48, 80))
    assert found.difference == pytest.approx(0.2)
    assert (found.low, found.high) == pytest.approx((0.0524, 0.3339), abs=2e-3)


def test_strata_are_weighed_and_those_of_one_group_left_out() -> None:
    found = compared(
        answers(True, 9, 10, "easy"), answers(False, 18, 20, "easy"),
        answers(True, 2, 10, "hard"), answers(False, 1, 5, "hard"),
        answers(False, 0, 50, "alone"),
    )  # fmt: skip
    assert found.difference == pytest.approx(0.0)
    # weights 10 x 20 / 30 and 10 x 5 / 15: two to one
    assert found.first == pytest.approx((2 * 0.9 + 0.2) / 3)
    assert (found.of_first, found.of_second) == (20, 25)


def test_few_sessions_make_it_wider_and_too_few_calls_are_said() -> None:
    own = compared(answers(True, 20, 30), answers(False, 10, 30))
    shared = compared(answers(True, 20, 30, single=False), answers(False, 10, 30, single=False))
    assert shared.high - shared.low > own.high - own.low
    few = share_difference([*answers(True, 3, 5), *answers(False, 9, 9)])
    assert few == Unknown(code="too few to compare", of=5, needed=6)
