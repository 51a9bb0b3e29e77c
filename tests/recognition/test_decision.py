"""What stands: nothing without a whole reading, and more is asked of one that has a twin."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Roster
from voicelog.recognition.decision import (
    MAX_ALTERNATIVES,
    OFFERED,
    Decision,
    decide,
    decide_quick,
)
from voicelog.recognition.quick_recognizer import NO_HYPOTHESIS, AcceptanceThresholds, Hypothesis
from voicelog.recognition.trained_artifact import shipped_artifact

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", cues=("here",)),)))
QUICK_THRESHOLDS = shipped_artifact().fusion.quick.quiet
BARS = AcceptanceThresholds(accept=0.8, offer=0.3, accept_single_word=0.9, accept_sound_alike=0.95)
ALL, TO_20 = RecognitionContext(), RecognitionContext(top_level=20)
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
    recognition_context: RecognitionContext = ALL,
    thresholds: AcceptanceThresholds = BARS,
    strict: bool = False,
) -> Decision:
    """The verdict on what one listener alone heard."""
    heard = Hypothesis(words=words, complete=complete, confidence=confidence, others=others)
    return decide_quick(heard, thresholds, GRAMMAR, recognition_context, strict=strict)


def weighed(*likely: tuple[str, float], strict: bool = False) -> Decision:
    """The verdict on readings and how likely each is right."""
    return decide(likely, GRAMMAR, ALL, BARS, strict=strict)


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
    assert ruled(ALONE, confidence) == Decision(status, ALONE, confidence)  # type: ignore[arg-type]


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


def test_a_twin_that_the_transmitter_cannot_be_set_to_is_a_rival_all_the_same() -> None:
    found = ruled(TWINNED, 0.9, recognition_context=TO_20)
    assert found == Decision("doubtful", TWINNED, 0.9, (OF_TWIN,))


@pytest.mark.parametrize("words", [OF_TWIN, "ceiling twenty one"])
def test_a_level_beyond_the_range_is_never_sure(words: str) -> None:
    assert ruled(words, 1.0).status == "accepted"
    found = ruled(words, 1.0, recognition_context=TO_20)
    assert (found.status, found.words) == ("doubtful", words)


BEGUN = "start session bracken"
TWO_DOGS = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"))))


def test_a_strange_name_is_never_sure_and_the_other_dogs_are_offered() -> None:
    found = decide([(BEGUN, 1.0)], TWO_DOGS, ALL, BARS)
    assert found == Decision("doubtful", BEGUN, 1.0, ("start session wren",))
    assert decide([(BEGUN, 1.0)], TWO_DOGS, ALL, BARS, verified_name=[BEGUN]).status == "accepted"


def test_where_all_but_a_strange_name_was_said_it_is_worth_a_look_however_unlikely() -> None:
    likely = [("came", 0.04), (BEGUN, 0.01)]
    missing = {BEGUN: "B EH N"}
    found = decide(likely, TWO_DOGS, ALL, BARS, missing_name=missing)
    assert (found.status, found.words, found.stranger) == ("doubtful", BEGUN, "B EH N")
    assert decide(likely, TWO_DOGS, ALL, BARS).status == "rejected"
    surer = decide([("came", 0.95), *likely[1:]], TWO_DOGS, ALL, BARS, missing_name=missing)
    assert (surer.status, surer.words, surer.stranger) == ("accepted", "came", "")


@pytest.mark.parametrize("words", ["", "level", "good girl come on then", "level five no"])
def test_what_is_no_whole_reading_is_rejected_however_sure(words: str) -> None:
    assert ruled(words, 1.0, complete=False) == Decision("rejected", words, 0.0)


def test_nothing_heard_is_rejected() -> None:
    assert decide_quick(NO_HYPOTHESIS, BARS, GRAMMAR, ALL) == Decision("rejected", "", 0.0)
    assert weighed() == Decision("rejected", "", 0.0)


def test_what_else_was_heard_is_offered_before_twins_and_each_once() -> None:
    found = ruled(TWINNED, 0.5, others=("level six came", OF_TWIN, "level six came", "level nine"))
    assert found.alternatives == ("level six came", OF_TWIN, "level nine")


def test_an_accepted_reading_keeps_what_else_it_may_have_been() -> None:
    assert ruled(ALONE, 0.9, others=("level nine came",)).alternatives == ("level nine came",)


@pytest.mark.parametrize(
    ("confidence", "status"), [(0.9, "accepted"), (0.89, "doubtful"), (0.29, "rejected")]
)
def test_a_single_word_needs_the_bar_for_words(confidence: float, status: str) -> None:
    assert ruled("came", confidence).status == status


def test_the_likeliest_reading_stands_and_the_others_are_offered_likeliest_first() -> None:
    found = weighed((ALONE, 0.1), ("level nine came", 0.82), ("level six came", 0.05))
    assert found == Decision(
        "accepted", "level nine came", 0.82, alternatives=(ALONE, "level six came")
    )


def test_what_is_next_to_impossible_is_not_offered_and_no_more_than_a_few_are() -> None:
    found = weighed((ALONE, 0.4), ("level nine came", OFFERED), ("level six came", OFFERED / 2))
    assert found.alternatives == ("level nine came",)
    many = [(f"level {word} came", 0.1) for word in ("one", "two", "four", "five", "six", "ten")]
    assert len(weighed((ALONE, 0.4), *many).alternatives) == MAX_ALTERNATIVES


@pytest.mark.parametrize(
    ("words", "confidence", "status"),
    [
        pytest.param(ALONE, 1.0, "doubtful", id="a rep is never sure"),
        pytest.param(ALONE, 0.29, "rejected", id="unlikely stays out"),
        pytest.param("drill recall came", 1.0, "doubtful", id="nor with a rep in it"),
        pytest.param("collar fitted", 0.95, "accepted", id="equipment is, at the bar for twins"),
        pytest.param("collar fitted", 0.94, "doubtful", id="and below it is not"),
        pytest.param("end session", 0.95, "accepted", id="the end of a session is"),
        pytest.param("start session bracken", 1.0, "doubtful", id="whose it is, is not"),
    ],
)
def test_in_a_piece_of_other_talk_only_what_makes_no_rep_is_sure(
    words: str, confidence: float, status: str
) -> None:
    assert weighed((words, confidence), strict=True).status == status
    assert ruled(words, confidence, strict=True).status == status


@pytest.mark.parametrize("words", [ALONE, TWINNED, "came", "start session bracken"])
@pytest.mark.parametrize("recognition_context", [ALL, TO_20], ids=["all", "to 20"])
@given(a=st.floats(0, 1), b=st.floats(0, 1))
def test_more_confidence_never_stands_lower(
    words: str, recognition_context: RecognitionContext, a: float, b: float
) -> None:
    low, high = (
        ruled(
            words,
            confidence,
            recognition_context=recognition_context,
            thresholds=QUICK_THRESHOLDS,
        )
        for confidence in sorted((a, b))
    )
    assert WORTH[low.status] <= WORTH[high.status]
    assert low.alternatives == high.alternatives


def test_a_single_word_with_a_twin_needs_the_higher_bar_of_the_two() -> None:
    comer = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", cues=("come",)),)))
    for thresholds in (
        AcceptanceThresholds(0.8, 0.3, accept_single_word=0.95, accept_sound_alike=0.9),
        AcceptanceThresholds(0.8, 0.3, accept_single_word=0.9, accept_sound_alike=0.95),
    ):
        assert decide([("came", 0.92)], comer, ALL, thresholds).status == "doubtful"
        found = decide([("came", 0.96)], comer, ALL, thresholds)
        assert (found.status, found.alternatives) == ("accepted", ("come",))


@pytest.mark.parametrize(
    ("margin", "ahead", "status"),
    [
        (2.5, {TWINNED: 2.5}, "accepted"),
        (2.5, {TWINNED: 2.4}, "doubtful"),
        (2.5, {TWINNED: -9.0, OF_TWIN: 9.0}, "doubtful"),
        (2.5, {}, "doubtful"),
        (None, {TWINNED: 99.0}, "doubtful"),
    ],
)
def test_a_number_far_ahead_of_its_twin_in_the_phones_needs_no_more_than_another(
    margin: float | None, ahead: dict[str, float], status: str
) -> None:
    bars = BARS._replace(sound_alike_margin=margin)
    found = decide([(TWINNED, 0.81), (OF_TWIN, 0.1)], GRAMMAR, ALL, bars, ahead=ahead)
    assert (found.status, found.alternatives) == (status, (OF_TWIN,))
    cut_out = decide([(TWINNED, 0.81)], GRAMMAR, ALL, bars, ahead=ahead, strict=True)
    assert cut_out.status == "doubtful"


@pytest.mark.parametrize(
    ("margin", "odds", "status"),
    [(4.0, 4.0, "accepted"), (4.0, 3.9, "doubtful"), (None, 99.0, "doubtful")],
)
def test_where_a_layer_tells_teen_from_ty_its_odds_are_enough_too(
    margin: float | None, odds: float, status: str
) -> None:
    bars = BARS._replace(sound_alike_margin=2.5, teen_margin=margin)
    near, far, told = {TWINNED: 2.4}, {TWINNED: 2.5}, {TWINNED: odds}
    found = decide([(TWINNED, 0.81)], GRAMMAR, ALL, bars, ahead=near, number_odds=told)
    assert found.status == status
    found = decide([(TWINNED, 0.81)], GRAMMAR, ALL, bars, ahead=far, number_odds=told)
    assert found.status == "accepted"


@given(confidence=st.floats(0, 1))
def test_a_twin_never_makes_a_reading_surer(confidence: float) -> None:
    with_twin, without = (
        ruled(TWINNED, confidence),
        ruled(TWINNED, confidence, recognition_context=TO_20),
    )
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


@given(
    st.lists(
        st.tuples(
            st.sampled_from([ALONE, TWINNED, "came", "collar fitted", "level nine came"]),
            st.floats(0, 1),
        ),
        max_size=6,
        unique_by=lambda one: one[0],
    ),
    st.booleans(),
)
def test_the_order_of_the_readings_means_nothing_but_among_equals(
    likely: list[tuple[str, float]], strict: bool
) -> None:
    found = decide(likely, GRAMMAR, ALL, BARS, strict=strict)
    assert found.confidence == max((chance for _, chance in likely), default=0.0)
    assert WORTH[found.status] <= WORTH[decide(likely, GRAMMAR, ALL, BARS).status]
    assert found.words not in found.alternatives
    if len({chance for _, chance in likely}) == len(likely):
        assert decide(likely[::-1], GRAMMAR, ALL, BARS, strict=strict) == found


@pytest.mark.parametrize(
    ("words", "needed"), [("came", 0.9), ("tap two", 0.8), ("level three came", 0.8)]
)
def test_of_a_single_word_more_is_asked(words: str, needed: float) -> None:
    assert BARS.accept_words(words) == needed
    assert decide([(words, needed)], GRAMMAR, ALL, BARS).status == "accepted"
    assert decide([(words, needed - 0.01)], GRAMMAR, ALL, BARS).status == "doubtful"
