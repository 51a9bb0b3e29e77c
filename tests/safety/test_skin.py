"""skin."""

from .ask import KNOWN, found, the
from .build import Field


def test_red_skin_is_a_stop_and_rests():
    finding = the(Field().skin("red"), "skin")
    assert finding.severity == "stop"
    assert finding.message == "The skin is red."
    assert finding.advice == "Collar off. Rest the skin until it is clear."


def test_sore_skin_goes_to_a_vet():
    advice = the(Field().skin("sore"), "skin").advice
    assert advice == "Collar off. See a veterinarian before it is fitted again."


def test_clear_skin_is_silent():
    assert not found(Field().skin("clear").fitted().fit().rep(2), "skin")


def test_a_collar_used_on_skin_last_said_to_be_red_is_a_stop():
    red = KNOWN.model_copy(update={"skin": "red"})
    assert the(Field().fitted().fit().rep(2), "skin", red).message == (
        "The skin was red and not said to be clear, and the collar was fitted."
    )
    assert not found(Field().skin("clear").fitted().rep(2), "skin", red)
    assert not found(Field().rep(), "skin", red)


def test_going_on_after_red_in_the_session_is_a_stop_of_its_own():
    assert [finding.evidence for finding in found(Field().skin("red").rep(2), "skin")] == [
        ("e1",),
        ("e1", "e3"),
    ]
