"""too-many and too-long."""

from datetime import date, datetime

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.model import Dog
from voicelog.safety import History

AT = KNOWN.model_copy(update={"at": datetime(2031, 5, 4, 12, 0)})
PUP = Dog(name="Juno", born=date(2030, 8, 1))


def presses(number: int, dog: Dog | None = None) -> Field:
    field = Field(dog) if dog else Field()
    for _ in range(number):
        field.say("here level 2 came")
    return field


def test_more_presses_than_the_dogs_limit_are_a_caution() -> None:
    finding = the(presses(21), "too-many")
    assert finding.severity == "caution"
    assert finding.reps == (21,)
    assert finding.message == "Press number 21 in rep 21; the limit for this dog is 20."
    assert not found(presses(20), "too-many")


def test_a_pup_and_a_first_session_have_lower_limits() -> None:
    assert found(presses(13, PUP), "too-many", AT)
    assert not found(presses(12, PUP), "too-many", AT)
    assert found(presses(7), "too-many", History())
    assert not found(presses(6), "too-many", History())


def test_recalls_without_the_button_have_no_limit() -> None:
    field = Field()
    for _ in range(40):
        field.say("here no button came")
    assert not found(field, "too-many")


def test_a_session_longer_than_the_limit_is_a_caution() -> None:
    finding = the(Field().rep(2).wait(15 * 60).rep(2), "too-long")
    assert finding.severity == "caution"
    assert finding.message == "15 minutes; the limit for this dog is 15."
    assert not found(Field().rep(2).wait(14 * 60).rep(2), "too-long")


def test_a_pup_and_a_first_session_are_shorter() -> None:
    nine = Field(PUP).rep(2).wait(9 * 60).rep(2)
    assert found(nine, "too-long", AT)
    assert found(nine, "too-long", History())
    assert not found(nine, "too-long", KNOWN)


def test_a_long_walk_without_the_button_is_free() -> None:
    assert not found(Field().rep().wait(60 * 60).rep(), "too-long")
