"""too-many, too-long and many-sessions."""

from datetime import date, datetime

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.model import Dog
from voicelog.safety import History, Settings, history_of

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
    assert finding.message == "Press number 21 in rep 21; the limit is 20 in a session."
    assert not found(presses(20), "too-many")


def test_a_pup_and_a_first_session_have_lower_limits() -> None:
    assert found(presses(13, PUP), "too-many", AT)
    assert not found(presses(12, PUP), "too-many", AT)
    first = found(presses(7), "too-many", History())
    assert [one.message for one in first] == [
        "Press number 7 in rep 7; the limit is 6 in a first session with the button."
    ]
    assert not found(presses(6), "too-many", History())


def test_recalls_without_the_button_have_no_limit() -> None:
    field = Field()
    for _ in range(40):
        field.say("here no button came")
    assert not found(field, "too-many")


def test_a_session_longer_than_the_limit_is_a_caution() -> None:
    finding = the(Field().rep(2).wait(15 * 60).rep(2), "too-long")
    assert finding.severity == "caution"
    assert finding.message == "15 minutes; the limit is 15 in a session."
    assert not found(Field().rep(2).wait(14 * 60).rep(2), "too-long")


def test_a_pup_and_a_first_session_are_shorter() -> None:
    nine = Field(PUP).rep(2).wait(9 * 60).rep(2)
    assert found(nine, "too-long", AT)
    assert found(nine, "too-long", History())
    assert not found(nine, "too-long", KNOWN)


def test_a_long_walk_without_the_button_is_free() -> None:
    assert not found(Field().rep().wait(60 * 60).rep(), "too-long")


def test_a_third_session_with_the_collar_on_one_day_is_a_caution() -> None:
    def day(*hours: int, field: Field) -> History:
        before = [(datetime(2031, 5, 4, hour), field.session()) for hour in hours]
        return history_of(before, datetime(2031, 5, 4, 18))

    worked, free = Field().rep(2), Field().rep()
    finding = the(Field().rep(2), "many-sessions", day(8, 12, field=worked))
    assert finding.severity == "caution"
    assert finding.message == "Session number 3 with the collar on this day in rep 1."
    assert found(Field().cue().vibrate(), "many-sessions", day(8, 12, field=worked))
    assert not found(Field().rep(2), "many-sessions", day(12, field=worked))
    assert not found(Field().rep(), "many-sessions", day(8, 12, field=worked))
    assert not found(Field().rep(2), "many-sessions", day(8, 12, 15, field=free))
    yesterday = [(datetime(2031, 5, 3, hour), worked.session()) for hour in (8, 12)]
    later = history_of(yesterday, datetime(2031, 5, 4, 18))
    assert not found(Field().rep(2), "many-sessions", later)
    few = Settings(day_sessions=1)
    assert found(Field().rep(2), "many-sessions", day(12, field=worked), settings=few)
