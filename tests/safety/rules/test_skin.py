"""skin, wear-long, same-site."""

from datetime import datetime

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field

NOON = datetime(2031, 5, 4, 12, 0)


def test_red_skin_is_a_stop_and_rests() -> None:
    finding = the(Field().skin("red"), "skin")
    assert finding.severity == "stop"
    assert finding.message == "The skin is red."
    assert finding.advice == "Collar off. Rest the skin until it is clear."


def test_sore_skin_goes_to_a_vet() -> None:
    advice = the(Field().skin("sore"), "skin").advice
    assert advice == "Collar off. See a veterinarian before it is fitted again."


def test_clear_skin_is_silent() -> None:
    assert not found(Field().skin("clear").fitted().fit().rep(2), "skin")


def test_a_collar_used_on_skin_last_said_to_be_red_is_a_stop() -> None:
    red = KNOWN.model_copy(update={"skin": "red"})
    assert the(Field().fitted().fit().rep(2), "skin", red).message == (
        "The skin was red and was not said to be clear on a later day before the collar was fitted."
    )
    assert not found(Field().skin("clear").fitted().rep(2), "skin", red)
    assert not found(Field().rep(), "skin", red)


def test_going_on_after_red_in_the_session_is_a_stop_of_its_own() -> None:
    assert [finding.evidence for finding in found(Field().skin("red").rep(2), "skin")] == [
        ("e1",),
        ("e1", "e3"),
    ]


def test_worn_more_than_two_hours_at_a_stretch_is_a_caution() -> None:
    finding = the(Field().fitted().wait(7201).rep(), "wear-long")
    assert finding.severity == "caution"
    assert finding.message == "The collar was worn for more than 2 h at a stretch."
    assert not found(Field().fitted().wait(7190).collar("stripped").wait(900).rep(), "wear-long")


def test_a_stretch_goes_on_from_an_earlier_session() -> None:
    past = KNOWN.model_copy(
        update={
            "at": NOON,
            "worn_since": NOON.replace(hour=10, minute=1),
            "last_worn": NOON.replace(hour=11),
        }
    )
    assert found(Field().rep(2).wait(60).rep(2), "wear-long", past)
    assert not found(Field().rep(2), "wear-long", past)
    assert not found(Field().fitted().rep(2).wait(60).rep(2), "wear-long", past)


def test_worn_more_than_eight_hours_in_a_day_is_a_caution() -> None:
    past = KNOWN.model_copy(update={"at": NOON, "worn_s": 8 * 3600 - 5})
    assert the(Field().fitted().wait(6).rep(), "wear-long", past).message == (
        "The collar was worn for more than 8 h in a day."
    )
    assert not found(Field().rep(), "wear-long", past)


def test_not_turned_since_the_session_before_is_a_caution() -> None:
    past = KNOWN.model_copy(update={"at": NOON, "last_worn": NOON.replace(hour=9)})
    finding = the(Field().fitted().fit().rep(2), "same-site", past)
    assert finding.severity == "caution"
    assert finding.message == (
        "The collar was used in rep 1, and since the session before nobody said that it was turned."
    )
    assert not found(Field().fitted().collar("turned").rep(2), "same-site", past)
    assert not found(Field().rep(), "same-site", past)
    turned = past.model_copy(update={"turned": True})
    assert not found(Field().rep(2), "same-site", turned)


def test_a_night_rests_the_site() -> None:
    past = KNOWN.model_copy(update={"at": NOON, "last_worn": NOON.replace(day=3, hour=18)})
    assert not found(Field().rep(2), "same-site", past)
