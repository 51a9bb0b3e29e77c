"""A hundred narrations come to the reps that two readers wrote down from the words alone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from .read import DIFFERENCES, CodedRep, Narration, coding, narrations

READER_A, READER_B = coding("reader_a"), coding("reader_b")
ALL = tuple(narrations())


def told(reps: tuple[CodedRep, ...]) -> tuple[CodedRep, ...]:
    """The reps without whether they are to check."""
    return tuple(replace(rep, doubt=False) for rep in reps)


def test_both_readers_coded_each_of_the_hundred() -> None:
    names = [narration.name for narration in ALL]
    assert len(names) == len(set(names)) == 100
    assert list(READER_A) == list(READER_B) == names


@pytest.mark.parametrize("narration", ALL, ids=lambda narration: narration.name)
def test_the_reps_are_those_of_the_readers(narration: Narration) -> None:
    made = told(narration.reps())
    first, second = told(READER_A[narration.name]), told(READER_B[narration.name])
    if narration.name in DIFFERENCES:
        assert first == second, "the readers differ: it needs no reason"
        assert made != first, "it differs no more: take it off the list"
    elif first == second:
        assert made == first
    else:
        assert made in (first, second)
