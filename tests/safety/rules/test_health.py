"""unwell."""

import pytest

from tests.safety.ask import found, the
from tests.safety.build import Field
from voicelog.model import Dog


@pytest.mark.parametrize("state", ["lame", "ill"])
def test_a_dog_that_is_lame_or_ill_has_no_button_today(state: str) -> None:
    finding = the(Field().say(f"health {state}"), "unwell")
    assert finding.severity == "remark", "nothing tells of a collar"
    assert finding.message == f"The dog was said to be {state}."
    assert the(Field(Dog(name="Juno", ceiling=4)).say(f"health {state}"), "unwell").severity == (
        "caution"
    )
    assert "No button today" in finding.advice
    assert "veterinarian" in finding.advice


def test_each_press_of_any_kind_is_a_stop_until_it_is_well() -> None:
    field = Field().say("health lame").rep().rep(2).cue().vibrate().out()
    assert [one.severity for one in found(field, "unwell")] == ["stop", "stop", "remark"]
    field = Field().say("health lame").say("health good").rep(2)
    assert [one.severity for one in found(field, "unwell")] == ["remark"]


@pytest.mark.parametrize("state", ["good", "in season", "on medicine"])
def test_what_does_not_rule_it_out_is_only_kept(state: str) -> None:
    field = Field().say(f"health {state}").rep(2)
    assert not found(field, "unwell")
    assert field.session().condition("health") == state
