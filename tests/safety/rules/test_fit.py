"""fit-missing, contact-poor, fit-wrong, test-failed, coat-wet and raised-unfelt."""

import pytest

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.safety import Settings


def test_a_press_before_a_fit_check_is_a_caution() -> None:
    finding = the(Field().fitted().cue().press(2).out(), "fit-missing")
    assert finding.severity == "caution"
    assert finding.reps == (1,)
    assert finding.evidence == ("e3",)
    assert finding.message == "Level 2 was used in rep 1 before a fit check."
    assert finding.basis == "common practice"


def test_a_press_after_a_fit_check_is_not() -> None:
    assert not found(Field().fitted().fit().rep(2), "fit-missing")


def test_a_fit_check_without_a_number_counts() -> None:
    assert not found(Field().fitted().say("fit check").rep(2), "fit-missing")


def test_the_fit_check_and_the_fitting_come_in_either_order() -> None:
    assert not found(Field().fit().fitted().rep(2), "fit-missing")
    assert not found(Field().fit().and_("collar fitted").rep(2), "fit-missing")


def test_a_new_wearing_needs_a_new_fit_check() -> None:
    worn = Field().fitted().fit().rep(2)
    assert the(worn.collar("stripped").fitted().rep(2), "fit-missing").reps == (2,)
    assert found(Field().fitted().fit().rep(2).collar("slipped").rep(2), "fit-missing")
    assert found(Field().fitted().fit().rep(2).fitted().rep(2), "fit-missing")
    assert not found(Field().fitted().fit().rep(2).fitted().fit().rep(2), "fit-missing")


def test_it_is_said_once_a_session() -> None:
    assert len(found(Field().rep(1).rep(1).rep(1), "fit-missing")) == 1


def test_no_button_and_vibration_need_no_fit_check() -> None:
    assert not found(Field().rep().cue().vibrate().out(), "fit-missing")


def test_a_press_after_no_contact_is_a_caution() -> None:
    finding = the(Field().fit().rep(2).contact("none").rep(2), "contact-poor")
    assert finding.severity == "caution"
    assert finding.reps == (2,)
    assert finding.evidence == ("e5", "e7")
    assert finding.message == "Level 2 was used in rep 2 after no contact was said."


def test_contact_solid_or_a_new_fit_mends_it() -> None:
    for mend in ("solid", "fit", "fitted"):
        field = Field().fit().contact("none")
        field = {"solid": lambda f: f.contact("solid"), "fit": Field.fit, "fitted": Field.fitted}[
            mend
        ](field)
        assert not found(field.rep(2), "contact-poor")


def test_no_contact_without_a_press_after_it_is_silent() -> None:
    assert not found(Field().fit().rep(2).contact("none").rep(), "contact-poor")


def wet(field: Field) -> Field:
    return field.say("coat wet")


def test_a_press_under_a_wrong_fit_is_a_caution() -> None:
    finding = the(Field().say("fit check four fingers").rep(2).rep(2), "fit-wrong")
    assert finding.severity == "caution"
    assert finding.evidence == ("e1", "e3")
    assert finding.message == (
        "Level 2 was used in rep 1 with 4 fingers under the collar, which is too loose."
    )
    tight = the(Field().say("fit check zero fingers").cue().vibrate().out(), "fit-wrong")
    assert tight.message == (
        "Vibrate was used in rep 1 with no finger under the collar, which is too tight."
    )


@pytest.mark.parametrize("fingers", ["one finger", "two fingers", "three fingers"])
def test_a_fit_within_the_limits_is_left_alone(fingers: str) -> None:
    assert not found(Field().say(f"fit check {fingers}").rep(2), "fit-wrong")


def test_a_wrong_fit_that_was_mended_or_never_used_is_left_alone() -> None:
    loose = Field().say("fit check four fingers")
    assert not found(loose, "fit-wrong")
    assert not found(Field().say("fit check four fingers").rep(), "fit-wrong")
    assert not found(Field().say("fit check four fingers").fit().rep(2), "fit-wrong")
    assert not found(Field().say("fit check four fingers").collar("stripped").rep(2), "fit-wrong")
    mended = Field().say("fit check four fingers").say("?fit check two fingers").rep(2)
    assert [one for one in mended.findings(KNOWN, Settings()) if one.rule == "fit-wrong"]


def test_what_goes_under_the_collar_is_set() -> None:
    three = Field().say("fit check three fingers").rep(2)
    assert found(three, "fit-wrong", settings=Settings(fit_most=2))
    assert found(
        Field().say("fit check one finger").rep(2), "fit-wrong", settings=Settings(fit_least=2)
    )


def test_a_press_after_a_failed_test_is_a_caution() -> None:
    finding = the(Field().say("test failed").rep(2), "test-failed")
    assert finding.severity == "caution"
    assert finding.message == "Level 2 was used in rep 1 after its test had failed."
    assert found(Field().say("test failed").cue().vibrate().out(), "test-failed")
    assert found(Field().say("test failed").fitted().fit().rep(2), "test-failed")


def test_a_failed_test_that_was_made_good_is_left_alone() -> None:
    assert not found(Field().say("test failed").say("test good").rep(2), "test-failed")
    assert not found(Field().say("test good").rep(2), "test-failed")
    assert not found(Field().say("test failed").rep(), "test-failed")


def test_a_level_in_a_wet_coat_is_a_remark_once() -> None:
    finding = the(wet(Field()).rep(2).rep(2), "coat-wet")
    assert finding.severity == "remark"
    assert finding.message == "Level 2 was used in rep 1 while the coat was wet."
    assert len(found(wet(Field()).rep(2).say("coat dry").say("coat wet").rep(2), "coat-wet")) == 1


def test_a_dry_coat_or_no_level_is_left_alone() -> None:
    assert not found(wet(Field()).say("coat dry").rep(2), "coat-wet")
    assert not found(wet(Field()).rep(), "coat-wet")
    assert not found(wet(Field()).cue().vibrate().out(), "coat-wet")
    assert not found(Field().say("coat dry").rep(2), "coat-wet")


def unfelt() -> Field:
    field = Field().rep(2)
    for level in (2, 3, 4):
        field.cue().press(level).sign("nothing").out("ignored")
    return field.contact("none")


def test_a_level_raised_without_contact_and_used_again_is_a_caution() -> None:
    finding = the(unfelt().fitted().fit().contact("solid").rep(4), "raised-unfelt")
    assert finding.severity == "caution"
    assert finding.message == (
        "Level 4 was used in rep 5 once contact was back; it was raised from 2 while there was "
        "none."
    )
    assert finding.advice.endswith("never above the level where that rise began.")
    searched = Field().drill("find level")
    for level in (1, 2, 3):
        searched.tap(level).sign("nothing")
    assert found(searched.contact("none").contact("solid").tap(3), "raised-unfelt")


@pytest.mark.parametrize(
    "field",
    [
        unfelt().contact("solid").rep(2).rep(3),
        unfelt().contact("solid").rep(),
        unfelt().rep(4),
        Field().rep(2).rep(3).contact("none").contact("solid").rep(3),
        Field()
        .cue().press(3).out("ignored").contact("none").contact("solid").rep(3),
    ],
)  # fmt: skip
def test_going_back_down_or_no_rise_is_left_alone(field: Field) -> None:
    assert not found(field, "raised-unfelt")
