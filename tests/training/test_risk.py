"""The bound that the risk table prints is the one of Clopper and Pearson."""

from __future__ import annotations

from math import comb

import pytest

from tests.bench.risk import clopper_pearson_upper


@pytest.mark.parametrize(("wrong", "total"), [(0, 1), (0, 998), (1, 10), (3, 184), (8, 3414)])
def test_at_the_bound_so_few_wrong_have_probability_one_in_twenty(wrong: int, total: int) -> None:
    # By the definition itself: the risk at which `wrong` or fewer come out 5 times in 100.
    p = clopper_pearson_upper(wrong, total)
    few = sum(comb(total, k) * p**k * (1 - p) ** (total - k) for k in range(wrong + 1))
    assert few == pytest.approx(0.05, rel=1e-6)


def test_the_bound_of_nothing_is_everything() -> None:
    assert clopper_pearson_upper(0, 0) == 1.0
    assert clopper_pearson_upper(4, 4) == 1.0
