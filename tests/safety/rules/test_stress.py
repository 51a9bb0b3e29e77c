"""stress-strong, stress-not-eased, stress-twice, no-rest and fear-went-on."""

from datetime import datetime

import pytest

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.grammar.signs import signs
from voicelog.model import Dog, Transmitter
from voicelog.safety import History, PastSign, Settings

NOON = datetime(2031, 5, 4, 12, 0)
NEVER_AGAIN = "Never so high again."
SMALL = Dog(name="Juno", transmitter=Transmitter(top=18))


def test_a_strong_sign_is_a_caution_and_bars_the_level() -> None:
    finding = the(Field().cue().press(4).sign("yelped").out(), "stress-strong")
    assert finding.severity == "caution"
    assert finding.reps == (1,)
    assert finding.message == "Strong sign in rep 1 at level 4: yelped."
    assert finding.advice == (
        "At such a sign thumb off at once, a minute of rest, and look at fit and coat. No level is "
        "low enough: no stimulation."
    )


def test_what_is_barred_goes_down_by_two_steps() -> None:
    for top, level, limit in ((18, 4, 2), (100, 30, 20), (None, 30, 20), (None, 70, 56)):
        dog = Dog(name="Juno", transmitter=Transmitter(top=top))
        field = Field(dog).cue().press(level).sign("yelped").out()
        assert the(field, "stress-strong").advice.endswith("No level near it again that day.")
        past = KNOWN.model_copy(
            update={
                "transmitter": dog.transmitter,
                "strong": (PastSign(at=NOON, sign="yelped", level=level),),
            }
        )
        assert not found(Field(dog).rep(limit), "stress-level-again", past)
        assert the(Field(dog).rep(limit + 1), "stress-level-again", past).advice == NEVER_AGAIN


def test_where_no_level_is_two_steps_lower_there_is_no_stimulation() -> None:
    for top, level in ((18, 2), (100, 10), (None, 10)):
        dog = Dog(name="Juno", transmitter=Transmitter(top=top))
        field = Field(dog).cue().press(level).sign("yelped").out().rep(1)
        assert the(field, "stress-not-eased").advice == (
            "End the session at such a sign. No level is low enough: no stimulation."
        )


def test_a_sign_is_told_at_the_level_of_its_own_rep_and_of_no_other() -> None:
    said = Field().rep(3).say("?here tone came").sign("growling").rep(3)
    seen = {one.rule: one for one in said.findings(KNOWN, Settings())}
    assert not seen["stress-strong"].on_doubt
    assert seen["stress-strong"].message == "Strong sign in rep 2: growling."
    assert seen["stress-level-again"].message == (
        "Level 3 was used in rep 3; level 3 had a strong sign: growling in this session."
    )
    after = Field(SMALL).rep(9).cue().say("tone").sign("yelped").out().rep(9)
    assert the(after, "stress-not-eased").message == (
        "Yelped after level 9, and the next was level 9 in rep 3."
    )


def test_a_strong_sign_to_a_vibration_or_to_nothing_is_one_too() -> None:
    assert (
        "at vibrate: cowered"
        in the(Field().cue().vibrate().sign("cowered").out(), "stress-strong").message
    )
    assert the(Field().cue().sign("yelped").out(), "stress-strong").message == (
        "Strong sign in rep 1: yelped."
    )


def test_signs_of_one_breath_are_one_finding() -> None:
    field = Field().cue().press(4).sign("yelped").and_("tail tucked").out()
    assert the(field, "stress-strong").message.endswith("at level 4: yelped, tail tucked.")


def test_weak_and_noticed_signs_are_not_strong() -> None:
    field = Field().cue().press(4).sign("whined").sign("neck twitch").sign("nothing").out()
    assert not found(field, "stress-strong")


def test_the_next_press_not_two_steps_lower_is_a_stop() -> None:
    finding = the(Field().cue().press(10).sign("yelped").out().rep(6), "stress-not-eased")
    assert finding.severity == "stop"
    assert finding.reps == (1, 2)
    assert finding.message == "Yelped at level 10, and the next was level 6 in rep 2."


def test_two_steps_lower_is_enough() -> None:
    # Where no top is given a step down is 5 levels at least.
    assert found(Field().cue().press(14).sign("yelped").out().rep(5), "stress-not-eased")
    assert not found(Field().cue().press(15).sign("yelped").out().rep(5), "stress-not-eased")


def test_only_the_next_press_is_asked_to_be_lower() -> None:
    field = Field().cue().press(20).sign("yelped").out().rep(5).rep(10)
    assert not found(field, "stress-not-eased")


def test_no_press_after_a_strong_sign_is_silent() -> None:
    assert not found(Field().cue().press(15).sign("yelped").out().rep(), "stress-not-eased")


def test_a_vibration_after_it_does_not_make_the_old_level_right() -> None:
    field = Field().cue().press(15).sign("yelped").out().cue().vibrate().out().rep(15)
    assert found(field, "stress-not-eased")


def test_a_strong_sign_before_any_level_has_none_to_come_down_from() -> None:
    field = Field().cue().vibrate().sign("yelped").out().rep(1)
    assert not found(field, "stress-not-eased")


def test_the_second_strong_sign_ends_the_day() -> None:
    field = Field().cue().press(15).sign("yelped").out().cue().press(5).sign("flinched").out()
    finding = the(field, "stress-twice")
    assert finding.severity == "stop"
    assert finding.reps == (1, 2)
    assert finding.message == "Strong sign number 2 today in rep 2."


def test_one_ordinary_strong_sign_does_not() -> None:
    assert not found(Field().cue().press(4).sign("yelped").out().rep(), "stress-twice")


def test_a_scream_freeze_or_bolt_ends_it_at_once() -> None:
    for sign in ("screamed", "froze", "bolted"):
        finding = the(Field().cue().press(4).sign(sign).out(), "stress-twice")
        assert finding.message == f"{sign.capitalize()} in rep 1: this sign ends it at once."


def test_a_press_after_the_end_is_a_stop_of_its_own() -> None:
    field = Field().cue().press(15).sign("froze").out().rep(1)
    first, second = found(field, "stress-twice")
    assert first.reps == (1,)
    assert second.message == "Level 1 in rep 2 after stimulation was over for the day."


def test_an_earlier_session_of_the_day_counts() -> None:
    before = KNOWN.model_copy(
        update={"at": NOON, "strong": (PastSign(at=NOON.replace(hour=9), sign="yelped"),)}
    )
    assert found(Field().cue().press(4).sign("yelped").out(), "stress-twice", before)
    yesterday = KNOWN.model_copy(
        update={"at": NOON, "strong": (PastSign(at=NOON.replace(day=3), sign="froze"),)}
    )
    assert not found(Field().cue().press(4).sign("yelped").out(), "stress-twice", yesterday)
    ended = before.model_copy(update={"strong": (PastSign(at=NOON.replace(hour=9), sign="froze"),)})
    assert found(Field().rep(1), "stress-twice", ended)
    twice = before.model_copy(update={"strong": before.strong * 2})
    assert found(Field().rep(1), "stress-twice", twice)
    assert not found(Field().rep(1), "stress-twice", before)


def test_a_level_that_went_wrong_before_is_a_caution() -> None:
    past = KNOWN.model_copy(
        update={
            "strong": (PastSign(at=NOON.replace(day=1), sign="yelped", level=5),),
            "transmitter": SMALL.transmitter,
        }
    )
    finding = the(Field(SMALL).rep(3).rep(5), "stress-level-again", past)
    assert found(Field(SMALL).rep(4), "stress-level-again", past)
    assert finding.severity == "caution"
    assert finding.reps == (2,)
    assert finding.message == (
        "Level 5 was used in rep 2; level 5 had a strong sign: yelped on 1 May 2031."
    )
    assert finding.advice == NEVER_AGAIN
    assert not found(Field(SMALL).rep(2).rep(3), "stress-level-again", past)


def test_a_level_that_went_wrong_with_none_a_step_below_bars_them_all() -> None:
    past = KNOWN.model_copy(update={"strong": (PastSign(at=NOON, sign="yelped", level=5),)})
    assert the(Field().rep(1), "stress-level-again", past).advice == (
        "No level is low enough: no stimulation."
    )


def test_so_is_a_level_of_the_same_session_and_any_above_it() -> None:
    field = Field().cue().press(15).sign("yelped").out().rep(5)
    assert not found(field, "stress-level-again")
    assert the(field.rep(6), "stress-level-again").reps == (1, 3)


def test_a_sign_without_a_level_bars_none() -> None:
    assert not found(Field().rep(3).wait(30).rep().sign("yelped").rep(3), "stress-level-again")


def test_levels_of_another_transmitter_bar_none() -> None:
    past = KNOWN.model_copy(
        update={"transmitter": None, "strong": (PastSign(at=NOON, sign="yelped", level=5),)}
    )
    assert not found(Field().rep(5), "stress-level-again", past)


def test_the_lowest_level_that_went_wrong_is_the_one_that_bars() -> None:
    signs = tuple(PastSign(at=NOON, sign="yelped", level=level) for level in (9, 5, 12))
    past = KNOWN.model_copy(update={"strong": signs, "transmitter": SMALL.transmitter})
    finding = the(Field(SMALL).rep(6), "stress-level-again", past)
    assert "; level 5 had a strong sign: yelped" in finding.message
    assert finding.advice == NEVER_AGAIN


def rested(seconds: float, sign: str = "yelped") -> Field:
    return Field().cue().press(20).sign(sign).out().cue().wait(seconds - 6).press(4).out()


def test_a_press_before_a_minute_of_rest_is_a_caution() -> None:
    finding = the(rested(20), "no-rest")
    assert finding.severity == "caution"
    assert finding.evidence == ("e3", "e6")
    assert finding.message == "Level 4 was used in rep 2 about 20 s after the dog yelped."
    assert found(rested(58), "no-rest")
    assert found(Field().cue().press(20).sign("yelped").vibrate(), "no-rest")


@pytest.mark.parametrize("sign", [name for name, kind in signs().items() if kind == "strong"])
def test_each_strong_sign_stands_in_a_sentence_as_what_the_dog_did(sign: str) -> None:
    assert "20 s after the dog " in the(rested(20, sign), "no-rest").message


@pytest.mark.parametrize("seconds", [60.0, 62.0, 90.0])
def test_a_minute_of_rest_is_enough_within_the_narrators_error(seconds: float) -> None:
    assert not found(rested(seconds), "no-rest")


def test_work_without_the_button_or_a_weak_sign_needs_no_minute() -> None:
    assert not found(rested(20, "whined"), "no-rest")
    assert not found(Field().cue().press(20).sign("yelped").out().rep().rep(), "no-rest")
    assert not found(Field().say("here level 20 came yelped"), "no-rest")


def test_how_long_the_rest_is_is_set() -> None:
    assert found(rested(90), "no-rest", settings=Settings(rest_s=120.0))
    assert not found(rested(40), "no-rest", settings=Settings(rest_s=30.0))


@pytest.mark.parametrize("sign", ["cowered", "rolled over", "wet himself", "wet herself"])
def test_a_press_after_such_fear_is_a_caution(sign: str) -> None:
    field = Field().cue().press(20).sign(sign).out().wait(120).rep(4)
    finding = the(field, "fear-went-on")
    assert finding.severity == "caution"
    did = "wet itself" if sign.startswith("wet") else sign
    assert finding.message == f"Level 4 was used in rep 2 after the dog {did} in rep 1 on this day."
    vibrated = Field().cue().press(20).sign(sign).out().wait(120).cue().vibrate().out()
    assert found(vibrated, "fear-went-on")


def test_no_press_after_it_or_another_sign_is_left_alone() -> None:
    assert not found(Field().cue().press(20).sign("cowered").out().rep(), "fear-went-on")
    assert not found(Field().cue().press(20).sign("yelped").out().rep(4), "fear-went-on")
    assert not found(Field().say("here level 20 cowered"), "fear-went-on")


def test_fear_of_an_earlier_session_of_the_day_counts_and_of_the_day_before_not() -> None:
    def after(day: int) -> History:
        past = (PastSign(at=NOON.replace(day=day, hour=9), sign="cowered"),)
        return KNOWN.model_copy(update={"at": NOON, "strong": past})

    finding = the(Field().rep(2), "fear-went-on", after(4))
    assert finding.message == "Level 2 was used in rep 1 after the dog cowered on this day."
    assert not found(Field().rep(2), "fear-went-on", after(3))
    assert not found(Field().rep(), "fear-went-on", after(4))


@pytest.mark.parametrize("sign", ["growling", "snapped", "bit the collar", "bit me"])
def test_going_on_after_a_growl_or_a_bite_is_a_stop(sign: str) -> None:
    field = Field().cue().press(20).sign(sign).out().wait(120).rep()
    assert [one.severity for one in found(field, "stress-twice")] == ["stop", "stop"]
