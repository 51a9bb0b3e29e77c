"""no-reaction-rising and three-failed."""

from tests.safety.ask import found, the
from tests.safety.build import Field


def nothing_at(*levels: int) -> Field:
    field = Field().drill("find level")
    for level in levels:
        field.tap(level).sign("nothing")
    return field


def test_nothing_at_three_rising_levels_asks_for_a_check() -> None:
    finding = the(nothing_at(1, 2, 3), "no-reaction-rising")
    assert finding.severity == "caution"
    assert finding.reps == (1, 2, 3)
    assert finding.message == "Nothing at 3 rising levels, up to 3 in rep 3."


def test_two_rising_levels_or_three_equal_ones_do_not() -> None:
    assert not found(nothing_at(1, 2), "no-reaction-rising")
    assert not found(nothing_at(2, 2, 2), "no-reaction-rising")
    assert not found(nothing_at(3, 2, 1), "no-reaction-rising")


def test_a_fourth_rise_before_a_check_is_a_caution_of_its_own() -> None:
    later = found(nothing_at(1, 2, 3).tap(4), "no-reaction-rising")
    assert [finding.message for finding in later][1:] == [
        "Up again to level 4 in rep 4 with no check said."
    ]
    assert len(found(nothing_at(1, 2, 3).tap(3), "no-reaction-rising")) == 1


def test_a_check_or_a_reaction_begins_the_count_anew() -> None:
    for words in ("contact solid", "fit check"):
        assert not found(nothing_at(1, 2).say(words).tap(3).sign("nothing"), "no-reaction-rising")
    field = nothing_at(1, 2).tap(2).sign("neck twitch").tap(3).sign("nothing")
    assert not found(field, "no-reaction-rising")


def test_three_failures_in_a_row_at_rising_levels_are_a_caution() -> None:
    field = Field().rep(1, "ignored").rep(2, "left").rep(3, "helped")
    finding = the(field, "three-failed")
    assert finding.severity == "caution"
    assert finding.reps == (1, 2, 3)
    assert finding.message == "3 failures in a row at rising levels, up to 3 in rep 3."
    assert finding.advice == "Make it easier: shorter, quieter, or with the line."


def test_two_failures_an_answer_between_or_equal_levels_are_not() -> None:
    assert not found(Field().rep(1, "ignored").rep(2, "ignored"), "three-failed")
    assert not found(
        Field().rep(1, "ignored").rep(2, "ignored").rep(2).rep(3, "ignored"), "three-failed"
    )
    assert not found(Field().rep(2, "ignored").rep(2, "ignored").rep(2, "ignored"), "three-failed")


def test_failures_without_the_button_are_no_rising_levels() -> None:
    assert not found(
        Field().rep(None, "ignored").rep(None, "ignored").rep(None, "ignored"), "three-failed"
    )
