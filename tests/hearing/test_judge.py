"""What stands: nothing without a whole reading, and more is asked of one that has a twin."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.judge import Judgement, judge
from voicelog.hearing.listener import NOTHING, Bars, Heard
from voicelog.hearing.sphinx import SphinxListener
from voicelog.model import Dog, Roster

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", cues=("here",)),)))
BARS = Bars(sure=0.8, look=0.3, word=0.9, twin=0.95)
ALL, TO_20 = Narrowing(), Narrowing(top_level=20)
WORTH = {"rejected": 0, "doubtful": 1, "accepted": 2}

ALONE = "level three came"
TWINNED = "level fifteen came"
OF_TWIN = "level fifty came"


def ruled(
    words: str,
    confidence: float,
    *,
    others: tuple[str, ...] = (),
    complete: bool = True,
    narrowing: Narrowing = ALL,
    bars: Bars = BARS,
) -> Judgement:
    heard = Heard(words=words, complete=complete, confidence=confidence, others=others)
    return judge([(heard, bars)], GRAMMAR, narrowing)


@pytest.mark.parametrize(
    ("confidence", "status"),
    [
        (1.0, "accepted"),
        (0.8, "accepted"),
        (0.79, "doubtful"),
        (0.3, "doubtful"),
        (0.29, "rejected"),
        (0.0, "rejected"),
    ],
)
def test_the_bars_part_accepted_doubtful_and_rejected(confidence: float, status: str) -> None:
    assert ruled(ALONE, confidence) == Judgement(status, ALONE, confidence)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("confidence", "status"),
    [
        (0.95, "accepted"),
        (0.94, "doubtful"),
        (0.8, "doubtful"),
        (0.3, "doubtful"),
        (0.29, "rejected"),
    ],
)
def test_a_reading_with_a_twin_needs_the_twin_bar_and_offers_it(
    confidence: float, status: str
) -> None:
    found = ruled(TWINNED, confidence)
    assert (found.status, found.words, found.confidence) == (status, TWINNED, confidence)
    assert found.alternatives == (OF_TWIN,)


def test_a_twin_that_the_transmitter_cannot_be_set_to_is_none() -> None:
    assert ruled(TWINNED, 0.9, narrowing=TO_20) == Judgement("accepted", TWINNED, 0.9)


@pytest.mark.parametrize("words", ["", "level", "good girl come on then", "level five no"])
def test_what_is_no_whole_reading_is_rejected_however_sure(words: str) -> None:
    assert ruled(words, 1.0, complete=False) == Judgement("rejected", words, 0.0)


def test_nothing_heard_is_rejected() -> None:
    assert judge([(NOTHING, BARS)], GRAMMAR, ALL) == Judgement("rejected", "", 0.0)


def test_what_else_was_heard_is_offered_before_twins_and_each_once() -> None:
    found = ruled(TWINNED, 0.5, others=("level six came", OF_TWIN, "level six came", "level nine"))
    assert found.alternatives == ("level six came", OF_TWIN, "level nine")


def test_an_accepted_reading_keeps_what_else_it_may_have_been() -> None:
    assert ruled(ALONE, 0.9, others=("level nine came",)).alternatives == ("level nine came",)


def test_the_quick_listener_comes_first() -> None:
    quick, careful = Heard(ALONE, True, None, 0.9), Heard("level nine came", True, None, 0.2)
    found = judge([(quick, BARS), (careful, BARS)], GRAMMAR, ALL)
    assert (found.status, found.words) == ("accepted", ALONE)


@pytest.mark.parametrize("words", [ALONE, TWINNED, "came", "start session bracken"])
@pytest.mark.parametrize("narrowing", [ALL, TO_20], ids=["all", "to 20"])
@given(a=st.floats(0, 1), b=st.floats(0, 1))
def test_more_confidence_never_stands_lower(
    words: str, narrowing: Narrowing, a: float, b: float
) -> None:
    low, high = (
        ruled(words, confidence, narrowing=narrowing, bars=SphinxListener.bars)
        for confidence in sorted((a, b))
    )
    assert WORTH[low.status] <= WORTH[high.status]
    assert low.alternatives == high.alternatives


@given(confidence=st.floats(0, 1))
def test_a_twin_never_makes_a_reading_surer(confidence: float) -> None:
    with_twin, without = ruled(TWINNED, confidence), ruled(TWINNED, confidence, narrowing=TO_20)
    assert WORTH[with_twin.status] <= WORTH[without.status]


@given(
    confidence=st.floats(0, 1),
    others=st.lists(st.sampled_from([OF_TWIN, "level six", "came", "no button"])).map(tuple),
)
def test_alternatives_are_each_offered_once_and_never_the_reading(
    confidence: float, others: tuple[str, ...]
) -> None:
    found = ruled(TWINNED, confidence, others=others)
    assert len(set(found.alternatives)) == len(found.alternatives)
    assert set(found.alternatives) == {*others, OF_TWIN}
    assert found.words not in found.alternatives
