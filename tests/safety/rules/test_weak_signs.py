"""stress-weak."""

from tests.safety.ask import found, the
from tests.safety.build import Field


def with_signs(*signs: str | None) -> Field:
    field = Field()
    for sign in signs:
        field.say(f"here level 2 came {sign}" if sign else "here level 2 came")
        field.wait(20)
    return field


def test_two_different_weak_signs_in_a_rep_are_a_caution() -> None:
    finding = the(Field().say("here level 2 whined").say("came yawned"), "stress-weak")
    assert finding.severity == "caution"
    assert finding.evidence == ("e1", "e2")
    assert finding.message == "2 weak signs in rep 1: whined, yawned."


def test_one_sign_or_the_same_sign_twice_is_not() -> None:
    assert not found(with_signs("whined"), "stress-weak")
    assert not found(Field().say("here level 2 whined").say("came whined"), "stress-weak")


def test_weak_signs_in_three_of_ten_reps_are_a_caution() -> None:
    finding = the(with_signs("whined", None, "yawned", None, "whined"), "stress-weak")
    assert finding.reps == (1, 3, 5)
    assert finding.message == "Weak signs in 3 of the last 10 reps in rep 5."


def test_three_in_eleven_reps_are_not() -> None:
    assert found(with_signs("whined", "whined", *[None] * 7, "whined"), "stress-weak")
    assert not found(with_signs("whined", "whined", *[None] * 8, "whined"), "stress-weak")


def test_panting_after_a_retrieve_or_in_heat_says_nothing() -> None:
    assert found(with_signs("whined panting"), "stress-weak")
    assert not found(Field().rep(2).reward("retrieve").say("here whined panting"), "stress-weak")
    assert found(
        Field().rep(2).reward("retrieve").wait(200).say("here whined panting"), "stress-weak"
    )
    assert not found(Field().air(21).say("here whined panting"), "stress-weak")
    assert found(Field().air(20).say("here whined panting"), "stress-weak")


def test_a_lip_lick_after_food_says_nothing() -> None:
    assert found(with_signs("whined lip lick"), "stress-weak")
    assert not found(Field().rep(2).reward("treat").say("here whined lip lick"), "stress-weak")
