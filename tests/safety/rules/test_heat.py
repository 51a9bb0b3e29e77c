"""heat."""

from datetime import date, datetime

import pytest

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.model import Condition, Dog
from voicelog.safety import Settings, check


@pytest.mark.parametrize(
    ("degrees", "severity"), [(21, "remark"), (23, "remark"), (24, "caution"), (29, "stop")]
)
def test_warm_air_is_a_finding_with_or_without_a_collar(degrees: int, severity: str) -> None:
    finding = the(Field().air(degrees).rep(), "heat")
    assert finding.severity == severity
    assert finding.message == f"The air is {degrees} C."
    assert finding.evidence == ("e1",)


def test_cool_air_is_silent() -> None:
    assert not found(Field().air(20).rep(), "heat")
    assert not found(Field().rep(), "heat")


def test_fahrenheit_is_understood() -> None:
    assert not found(Field(unit="F").air(69).rep(), "heat")
    assert the(Field(unit="F").air(70).rep(), "heat").message == "The air is 70 F."
    assert the(Field(unit="F").air(85).rep(), "heat").severity == "stop"


def test_a_pups_bands_are_three_degrees_lower() -> None:
    at = KNOWN.model_copy(update={"at": datetime(2031, 5, 4, 12, 0)})
    pup = Dog(name="Juno", born=date(2030, 8, 1))
    assert the(Field(pup).air(26).rep(), "heat", at).severity == "stop"
    assert not found(Field(pup).air(17).rep(), "heat", at)


@pytest.mark.parametrize("trait", ["heavy", "dark", "short-faced"])
def test_a_dog_that_bears_heat_badly_has_lower_bands_and_the_finding_says_why(trait: str) -> None:
    dog = Dog(name="Juno", heat_traits=(trait,))
    assert not found(Field(dog).air(17).rep(), "heat")
    finding = the(Field(dog).air(21).rep(), "heat")
    assert finding.severity == "caution"
    assert finding.message == f"The air is 21 C. For this dog ({trait}) the bands are 3 C lower."


def test_the_heat_index_stands_beside_and_is_named_as_human() -> None:
    message = (
        "The air is 30 C. Heat index (a human index) 35 C at 70% humidity, "
        "extreme caution on the NWS chart."
    )
    assert the(Field().air(30).say("humidity 70"), "heat").message == message
    assert the(Field().say("humidity 70").air(30), "heat").message == message


def test_the_heat_index_never_changes_the_band() -> None:
    assert the(Field().air(23).say("humidity 95"), "heat").severity == "remark"


def test_rising_heat_is_said_at_each_band_and_falling_heat_is_not() -> None:
    field = Field().air(22).air(23).air(25).air(22).air(25)
    assert [finding.evidence for finding in found(field, "heat")] == [("e3",), ("e1",)]


def test_a_temperature_kept_from_the_dog_before_counts() -> None:
    session = Field().rep().session()
    kept = Condition(at_s=session.start_s, name="temperature", value="30", unit="C")
    warm = session.model_copy(update={"conditions": (kept,)})
    (finding,) = check(warm, KNOWN, Settings())
    assert (finding.rule, finding.severity, finding.evidence) == ("heat", "stop", ())
