"""step-big, over-ceiling, over-range and climbed."""

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.model import Dog, Transmitter
from voicelog.safety import Settings

SMALL = Dog(name="Juno", transmitter=Transmitter(top=18))
LARGE = Dog(name="Juno", transmitter=Transmitter(top=100))


def test_two_steps_up_between_presses_is_a_caution() -> None:
    finding = the(Field(SMALL).rep(2).rep(4), "step-big")
    assert finding.severity == "caution"
    assert finding.reps == (1, 2)
    assert finding.evidence == ("e2", "e5")
    assert finding.message == "Up from level 2 to 4 at once in rep 2."


def test_one_step_up_or_any_way_down_is_not() -> None:
    assert not found(Field(SMALL).rep(2).rep(3).rep(1).rep(1).rep(2), "step-big")


def test_on_a_large_range_a_step_grows_with_the_level() -> None:
    assert found(Field(LARGE).rep(1).rep(4), "step-big")
    assert found(Field(LARGE).rep(10).rep(12), "step-big")
    assert not found(Field(LARGE).rep(40).rep(44), "step-big")
    assert found(Field(LARGE).rep(40).rep(45), "step-big")
    assert found(Field(LARGE).rep(90).rep(96), "step-big")


def test_where_no_top_is_given_a_step_is_one_level() -> None:
    finding = the(Field().rep(1).rep(4), "step-big")
    assert finding.message == "Up from level 1 to 4 at once in rep 2."
    assert finding.advice == "Change by one step at a time."
    assert found(Field().rep(40).rep(42), "step-big")
    assert not found(Field().rep(40).rep(41), "step-big")


def test_the_first_press_has_nothing_to_step_from() -> None:
    assert not found(Field(SMALL).rep(9), "step-big")


def test_vibration_between_presses_does_not_hide_a_big_step() -> None:
    assert found(Field(SMALL).rep(2).cue().vibrate().out().rep(4), "step-big")


def test_a_press_above_the_ceiling_said_is_a_stop() -> None:
    finding = the(Field().ceiling(4).rep(5), "over-ceiling")
    assert finding.severity == "stop"
    assert finding.evidence == ("e1", "e3")
    assert finding.message == "Level 5 in rep 1 is above the ceiling 4."


def test_a_press_at_the_ceiling_is_not() -> None:
    assert not found(Field().ceiling(4).rep(4), "over-ceiling")


def test_the_profile_has_a_ceiling_until_one_is_said() -> None:
    dog = Dog(name="Juno", ceiling=3)
    assert the(Field(dog).rep(4), "over-ceiling").evidence == ("e2",)
    assert not found(Field(dog).ceiling(5).rep(4), "over-ceiling")


def test_a_ceiling_said_later_does_not_look_back() -> None:
    assert not found(Field().rep(5).ceiling(4).rep(4), "over-ceiling")


def test_no_ceiling_no_finding() -> None:
    assert not found(Field().rep(5), "over-ceiling")


def test_a_level_above_the_transmitters_top_is_a_caution() -> None:
    finding = the(Field(SMALL).rep(19), "over-range")
    assert finding.severity == "caution"
    assert finding.message == "Level 19 in rep 1 is above the transmitter's top, 18."
    assert not found(Field(SMALL).rep(18), "over-range")
    assert the(Field().rep(101), "over-range").message == (
        "Level 101 in rep 1 is above the top taken where none is given, 100."
    )
    assert not found(Field(SMALL).rep(), "over-range")


def test_a_rep_that_starts_above_the_level_last_answered_is_a_remark() -> None:
    finding = the(Field(SMALL).rep(2).rep(3, "ignored").rep(4), "not-rolled-back")
    assert finding.severity == "remark"
    assert finding.reps == (1, 3)
    assert finding.message == "The rep started at level 4 in rep 3; the level last answered was 2."


def test_a_rep_to_check_does_not_clear_the_level_answered_before_it() -> None:
    asked = Field(SMALL).rep(2).say("here ignored level 5 came")
    finding = the(asked.rep(5), "not-rolled-back")
    assert finding.reps == (1, 2)
    finding = the(asked.say("correction came").rep(9), "not-rolled-back")
    assert finding.message.endswith("the level last answered was 2.")


def test_a_rep_that_starts_a_step_above_is_not() -> None:
    assert not found(Field(SMALL).rep(2).rep(3).rep(4), "not-rolled-back")


def test_going_up_within_a_rep_is_no_start() -> None:
    assert not found(Field(SMALL).rep(2).cue().press(3).press(4).out(), "not-rolled-back")


def test_each_distraction_has_its_own_level() -> None:
    field = Field(SMALL).rep(2).distraction("high").rep(5)
    assert not found(field, "not-rolled-back", KNOWN.model_copy(update={"answered": {}}))


def test_it_is_said_once_a_session() -> None:
    field = Field(SMALL).rep(2).rep(3, "ignored").rep(4, "ignored").rep(4)
    assert len(found(field, "not-rolled-back")) == 1


def test_the_level_last_answered_comes_from_earlier_sessions_of_the_same_transmitter() -> None:
    assert found(Field().rep(3, "ignored").rep(9), "not-rolled-back", KNOWN)
    assert not found(Field(SMALL).rep(3, "ignored").rep(9), "not-rolled-back", KNOWN)


def climb(*levels: int, dog: Dog = SMALL) -> Field:
    field = Field(dog)
    for level in levels:
        field.rep(level)
    return field


def test_a_level_that_climbs_far_in_one_session_is_a_caution() -> None:
    finding = the(climb(2, 3, 4, 5, 6, 7, 8), "climbed")
    assert finding.severity == "caution"
    assert finding.evidence == ("e2", "e17")
    assert finding.message == "From level 2 to 7 in rep 6 in one session."


def test_a_climb_of_a_few_steps_or_down_or_in_the_search_is_left_alone() -> None:
    assert not found(climb(2, 3, 4, 5, 6), "climbed")
    assert not found(climb(7, 6, 5, 4, 3, 2), "climbed")
    searched = Field(SMALL).drill("find level")
    for level in range(1, 10):
        searched.tap(level).sign("nothing")
    assert not found(searched, "climbed")
    assert not found(climb(40, 44, 48, 52, 56, dog=LARGE), "climbed")
    assert found(climb(40, 44, 48, 52, 57, dog=LARGE), "climbed")


def test_how_far_is_too_far_is_set() -> None:
    assert found(climb(2, 3, 4, 5), "climbed", settings=Settings(climb_steps=2))
    assert not found(climb(2, 3, 4, 5, 6, 7, 8), "climbed", settings=Settings(climb_steps=6))


def test_of_a_level_that_the_collar_lacks_it_is_said_that_it_cannot_be_right_and_no_more() -> None:
    wrong = (
        "Level 22 cannot be right: the transmitter goes to 18. Check what was said, and correct "
        "the entry or the dog's profile."
    )
    field = Field(SMALL).rep(4).rep(22).rep(5).sign("yelped").rep(22)
    for rule in ("step-big", "over-range", "stress-level-again"):
        told = [one for one in found(field, rule) if "22" in one.message]
        assert told, rule
        assert {one.advice for one in told} == {wrong}, rule
    yelp = the(Field(SMALL).rep(22).sign("yelped"), "stress-strong").advice
    assert yelp.endswith(wrong)
    assert "level near it" not in yelp
    assert (
        "cannot be right" not in the(Field().rep(101), "over-range").advice
    )  # its top is not known
