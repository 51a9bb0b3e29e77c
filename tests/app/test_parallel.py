"""Items are worked on in order, whatever comes of each, in one process or in several."""

from __future__ import annotations

import pytest

from voicelog.app.parallel import for_each
from voicelog.model import VoicelogError


def halved(number: int) -> int:
    if number % 2:
        raise VoicelogError(f"Found {number}, wanted an even number.")
    return number // 2


@pytest.mark.parametrize("jobs", [1, 2])
def test_results_come_in_order_and_an_error_is_one(jobs: int) -> None:
    told: list[tuple[int, int]] = []
    found = list(for_each([4, 3, 2], halved, jobs, lambda at, of, _item: told.append((at, of))))
    assert [item for item, _ in found] == [4, 3, 2]
    assert [str(result) for _, result in found] == ["2", "Found 3, wanted an even number.", "1"]
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_a_mistake_of_the_program_is_raised() -> None:
    with pytest.raises(ZeroDivisionError):
        list(for_each([0], lambda number: 1 // number, 1))
