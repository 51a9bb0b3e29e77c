"""bird and gun."""

from tests.safety.ask import found, the
from tests.safety.build import Field
from voicelog.model import Dog

READY = Dog(name="Juno", reached=("bird", "gun"))


def test_a_press_on_birds_before_that_stage_is_a_stop() -> None:
    for field in (Field().drill("bird"), Field().distraction("medium birds")):
        finding = the(field.rep(2), "bird")
        assert finding.severity == "stop"
        assert finding.evidence == ("e1", "e3")
        assert finding.message == (
            "Level 2 in rep 1 with birds; the profile does not say that this dog has reached "
            "that stage."
        )


def test_a_press_with_gunfire_before_that_stage_is_a_stop() -> None:
    for field in (Field().drill("gun"), Field().distraction("low gunfire")):
        assert the(field.rep(2), "gun").severity == "stop"


def test_a_shot_counts_for_ten_seconds() -> None:
    assert found(Field().cue().say("shot 80 metres").wait(10).press(2).out(), "gun")
    assert not found(Field().cue().say("shot 80 metres").wait(11).press(2).out(), "gun")


def test_a_dog_that_reached_the_stage_is_free() -> None:
    field = Field(READY).drill("gun").distraction("high birds").rep(2)
    assert not found(field, "gun") + found(field, "bird")


def test_work_without_the_button_is_free() -> None:
    field = Field().drill("gun").distraction("high birds").rep().cue().vibrate().out()
    assert not found(field, "gun") + found(field, "bird")


def test_a_new_distraction_ends_the_birds() -> None:
    assert not found(Field().distraction("high birds").distraction("none").rep(2), "bird")
