"""fit-missing and contact-poor."""

from tests.safety.ask import found, the
from tests.safety.build import Field


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
