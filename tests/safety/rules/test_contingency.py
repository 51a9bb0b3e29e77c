"""kept-on, pressed-after-turn, no-time-to-answer and every-call: trigger, near miss, silence."""

import pytest

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.safety import Settings


def kept(after_s: float, press: str = "level 3", outcome: str = "came") -> Field:
    field = Field().cue().wait(3).say(press).wait(2).say(outcome)
    return field.wait(after_s).off()


def test_a_press_that_went_on_after_the_arrival_is_a_caution() -> None:
    finding = the(kept(4), "kept-on")
    assert finding.severity == "caution"
    assert finding.evidence == ("e3", "e4")
    assert finding.message == "Level 3 stayed on 2 to 6 s after the dog had arrived in rep 1."
    assert finding.basis == "common practice"
    assert found(kept(12), "kept-on")
    assert found(kept(4, "vibrate"), "kept-on")
    assert found(kept(4, outcome="came slow"), "kept-on")


@pytest.mark.parametrize("after_s", [0.5, 1.0, 1.5, 2.0])
def test_a_thumb_that_comes_off_with_the_arrival_is_left_alone(after_s: float) -> None:
    assert not found(kept(after_s), "kept-on")


def test_how_much_has_to_be_on_the_wrong_side_is_set() -> None:
    """2 s apart is 0 to 4 s, of which three quarters lie beyond 1 s."""
    assert found(kept(2), "kept-on", settings=Settings(mostly_share=0.75))
    assert not found(kept(2), "kept-on", settings=Settings(mostly_share=0.76))
    assert found(kept(2), "kept-on", settings=Settings(narrator_s=0.5))
    assert not found(kept(4), "kept-on", settings=Settings(narrator_s=3.0))
    (finding,) = found(kept(6), "kept-on", settings=Settings(arrival_s=2.0))
    assert finding.basis == "common practice; threshold arrival_s set to 2 (default 1)"


@pytest.mark.parametrize(
    "field",
    [
        Field().cue().say("level 3 came thumb off"),
        Field().cue().press(3).off().out(),
        Field().cue().press(3).say("came thumb off"),
        Field().cue().press(3).out(),
        Field().cue().tap(3).out().wait(5).off(),
        Field().cue().press(3).out("ignored").wait(5).off(),
        Field().cue().press(3).out("helped").wait(5).off(),
        Field().rep().wait(5).off(),
        Field().cue().press(3).off().out().wait(5).off(),
    ],
)
def test_what_was_not_said_or_was_over_before_is_left_alone(field: Field) -> None:
    assert not found(field, "kept-on")


def test_a_press_after_the_turn_is_a_caution() -> None:
    field = Field().cue().say("committed").press(3).out()
    finding = the(field, "pressed-after-turn")
    assert finding.severity == "caution"
    assert finding.evidence == ("e2", "e3")
    assert finding.message == "Level 3 was used in rep 1 after the dog had turned."
    assert found(Field().cue().say("on his way").vibrate().out(), "pressed-after-turn")
    assert found(Field().cue().press(2).say("committed").press(3).out(), "pressed-after-turn")


@pytest.mark.parametrize(
    "field",
    [
        Field().cue().press(3).say("committed").out(),
        Field().cue().say("committed").wait(1).press(3).out(),
        Field().cue().say("committed level 3").out(),
        Field().cue().say("committed").cue().press(3).out(),
        Field().cue().say("committed").out().rep(3),
        Field().cue().say("committed").off().out(),
    ],
)
def test_a_press_before_the_turn_or_after_another_call_is_left_alone(field: Field) -> None:
    assert not found(field, "pressed-after-turn")


def test_a_press_with_the_call_or_before_it_is_a_remark() -> None:
    finding = the(Field().cue().wait(0.6).press(3).out(), "no-time-to-answer")
    assert finding.severity == "remark"
    assert finding.message == (
        "Level 3 was used in rep 1 with the call or before it, so that the dog could not answer "
        "first."
    )
    before = the(Field().press(3).cue().out(), "no-time-to-answer")
    assert before.evidence == ("e1", "e2")
    many = Field().cue().wait(0.6).press(3).out().cue().wait(0.6).press(3).out()
    assert len(found(many, "no-time-to-answer")) == 1


@pytest.mark.parametrize(
    "field",
    [
        Field().cue().wait(1.0).press(3).out(),
        Field().say("here level 3").out(),
        Field().cue().cue().wait(0.6).press(3).out(),
        Field().cue().wait(0.6).vibrate().out(),
        Field().press(3).say("came called twice"),
        Field().press(3).out(),
        Field().drill("find level").tap(1).wait(0.6).cue().sign("nothing"),
        Field().cue().wait(3).press(3).wait(0.6).press(4).out(),
    ],
)
def test_time_to_answer_or_no_call_is_left_alone(field: Field) -> None:
    assert not found(field, "no-time-to-answer")


def test_how_long_the_dog_has_to_answer_is_set() -> None:
    field = Field().cue().wait(3).press(3).out()
    assert found(field, "no-time-to-answer", settings=Settings(answer_s=5.0))
    assert not found(field, "no-time-to-answer", settings=Settings(answer_s=4.0))


def calls(pressed: int, free: int = 0) -> Field:
    field = Field()
    for number in range(pressed + free):
        field.rep(3 if number < pressed else None).wait(30)
    return field


def test_the_button_on_every_call_is_a_remark() -> None:
    finding = the(calls(5), "every-call")
    assert finding.severity == "remark"
    assert finding.reps == (1, 2, 3, 4, 5)
    assert finding.message == "All 5 calls of the session had the button."


def test_one_call_without_the_button_or_few_calls_are_left_alone() -> None:
    assert not found(calls(4), "every-call")
    assert not found(calls(9, free=1), "every-call")
    assert found(calls(3), "every-call", settings=Settings(every_calls=3))
    vibrated = Field()
    for _ in range(9):
        vibrated.cue().vibrate().out()
    assert not found(vibrated, "every-call")
    searched = Field().drill("find level")
    for level in range(1, 8):
        searched.tap(level).sign("nothing")
    assert not found(searched, "every-call")


def test_a_doubtful_call_without_the_button_clears_nothing() -> None:
    field = calls(5).cue().doubt().out().doubt()
    assert [one for one in field.findings(KNOWN, Settings()) if one.rule == "every-call"]
