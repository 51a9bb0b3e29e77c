"""vibrate-often, vibrate-long and vibrate-young: trigger, near miss, silence."""

from datetime import date, datetime

import pytest

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.model import Dog
from voicelog.safety import Settings

AT = KNOWN.model_copy(update={"at": datetime(2031, 5, 4, 12, 0)})
PUP = Dog(name="Juno", born=date(2030, 8, 1))
YOUNG = Dog(name="Juno", born=date(2030, 12, 1))


def vibrated(times: int, dog: Dog | None = None) -> Field:
    field = Field(dog) if dog else Field()
    for _ in range(times):
        field.cue().vibrate().out()
    return field


def test_vibrate_as_often_as_the_button_may_be_is_a_remark() -> None:
    finding = the(vibrated(22), "vibrate-often")
    assert finding.severity == "remark"
    assert finding.reps == (21,)
    assert finding.message == (
        "Vibrate or tone for the 21st time in rep 21; the limit is 20 in a session."
    )
    assert found(vibrated(13, PUP), "vibrate-often", AT)


def test_fewer_or_with_a_level_are_left_alone() -> None:
    assert not found(vibrated(20), "vibrate-often")
    assert not found(vibrated(12, PUP), "vibrate-often", AT)
    levels = Field()
    for _ in range(21):
        levels.rep(2)
    assert not found(levels, "vibrate-often")


def test_vibrate_again_and_again_in_one_rep_is_a_remark() -> None:
    finding = the(Field().cue().vibrate().vibrate().vibrate().vibrate().vibrate(), "vibrate-often")
    assert finding.message == "Vibrate for the 4th time in rep 1."
    assert not found(Field().cue().vibrate().vibrate().vibrate().out(), "vibrate-often")
    twice = Field().cue().vibrate().vibrate().out()
    assert found(twice, "vibrate-often", settings=Settings(rep_presses=1))


@pytest.mark.parametrize("mode", ["vibrate", "tone"])
def test_vibrate_held_as_long_as_the_button_may_not_be_is_a_caution(mode: str) -> None:
    finding = the(Field().cue().say(mode).wait(5).off().out(), "vibrate-long")
    assert finding.severity == "caution"
    assert finding.evidence == ("e2", "e3")
    assert finding.message == f"{mode.capitalize()} was held for 5 s in rep 1."
    assert not found(Field().cue().say(mode).wait(3).off().out(), "vibrate-long")


def test_vibrate_without_an_end_and_a_level_are_left_alone() -> None:
    assert not found(Field().cue().vibrate().wait(20).out(), "vibrate-long")
    assert not found(Field().cue().press(3).wait(20).off().out(), "vibrate-long")
    assert not found(Field().cue().vibrate().wait(2).press(3).wait(9).off(), "vibrate-long")


def test_a_pup_on_vibrate_is_a_remark_once() -> None:
    finding = the(vibrated(3, YOUNG), "vibrate-young", AT)
    assert finding.severity == "remark"
    assert finding.message == "Vibrate was used in rep 1 on a dog of 5 months."


def test_an_older_pup_no_button_or_no_birthday_is_left_alone() -> None:
    assert not found(vibrated(3, PUP), "vibrate-young", AT)
    assert not found(Field(YOUNG).rep().rep(), "vibrate-young", AT)
    assert not found(vibrated(3), "vibrate-young", AT)
    older = Settings(vibrate_months=12)
    assert found(vibrated(1, PUP), "vibrate-young", AT, settings=older)
