"""too-young, warmup-missing, start-high."""

from datetime import date, datetime

from tests.safety.ask import KNOWN, found, the
from tests.safety.build import Field
from voicelog.model import Dog, Transmitter
from voicelog.safety import History

NEW = History()
NOON = datetime(2031, 5, 4, 12, 0)


def born(day: date) -> Field:
    return Field(Dog(name="Juno", born=day))


def test_stimulation_under_six_months_is_a_stop() -> None:
    at = KNOWN.model_copy(update={"at": NOON})
    finding = the(born(date(2030, 11, 5)).rep(2), "too-young", at)
    assert finding.severity == "stop"
    assert finding.message == "Level 2 was used in rep 1 on a dog of 5 months."
    assert not found(born(date(2030, 11, 4)).rep(2), "too-young", at)


def test_work_without_stimulation_is_free_at_any_age() -> None:
    at = KNOWN.model_copy(update={"at": NOON})
    assert not found(born(date(2031, 1, 1)).rep().cue().vibrate().out(), "too-young", at)


def test_an_age_that_is_not_known_is_not_guessed() -> None:
    assert not found(born(date(2031, 1, 1)).rep(2), "too-young", KNOWN)
    assert not found(Field().rep(2), "too-young", KNOWN.model_copy(update={"at": NOON}))


def test_a_first_stimulation_with_no_vibration_before_it_is_a_caution() -> None:
    finding = the(Field().rep().rep(1), "warmup-missing", NEW)
    assert finding.severity == "caution"
    assert (
        finding.message == "First stimulation session, and no vibrate rep before level 1 in rep 2."
    )


def test_a_vibration_before_it_here_or_in_an_earlier_session_is_a_warm_up() -> None:
    assert not found(Field().cue().vibrate().out().rep(1), "warmup-missing", NEW)
    assert not found(Field().rep(1), "warmup-missing", History(sessions=1, vibrated=True))
    assert found(Field().rep(1).cue().vibrate().out(), "warmup-missing", NEW)


def test_a_dog_that_cannot_bear_vibration_is_let_off() -> None:
    assert not found(Field().rep(1), "warmup-missing", History(strong_to_vibrate=True))


def test_a_transmitter_without_vibration_needs_none() -> None:
    plain = Dog(name="Juno", transmitter=Transmitter(modes=("continuous",)))
    assert not found(Field(plain).rep(1), "warmup-missing", NEW)


def test_a_dog_used_to_stimulation_needs_no_warm_up() -> None:
    assert not found(Field().rep(1), "warmup-missing", KNOWN)


def test_a_new_dog_starts_at_the_lowest_level() -> None:
    finding = the(Field().rep(2), "start-high", NEW)
    assert finding.severity == "caution"
    assert finding.message == "Started at level 2 in rep 1; the lowest level is 1."
    assert not found(Field().rep(1).rep(2), "start-high", NEW)


def test_a_new_dog_starts_without_much_distraction() -> None:
    finding = the(Field().distraction("medium").rep(1), "start-high", NEW)
    assert (
        finding.message == "First stimulation of a dog new to it, at medium distraction in rep 1."
    )
    assert finding.evidence == ("e1", "e3")
    assert not found(Field().distraction("low").rep(1), "start-high", NEW)


def test_a_known_dog_starts_at_most_a_step_above_the_level_it_answered() -> None:
    # It answered 3; where no top is given a step up is one level.
    assert found(Field().rep(5), "start-high", KNOWN)
    assert not found(Field().rep(4), "start-high", KNOWN)
    assert not found(Field().distraction("high").rep(4), "start-high", KNOWN)


def test_only_the_first_press_starts() -> None:
    assert not found(Field().rep(3).rep(8).rep(13), "start-high", KNOWN)


def test_levels_of_another_transmitter_do_not_count() -> None:
    other = Dog(name="Juno", transmitter=Transmitter(top=50))
    assert found(Field(other).rep(3), "start-high", KNOWN)
    assert not found(Field(other).rep(1), "start-high", KNOWN)


def test_at_a_new_distraction_the_nearest_easier_one_counts() -> None:
    past = KNOWN.model_copy(update={"answered": {"none": 2, "low": 9}})
    assert not found(Field().distraction("high").rep(10), "start-high", past)
    assert found(Field().distraction("high").rep(11), "start-high", past)
    assert found(Field().distraction("none").rep(8), "start-high", past)
    assert found(Field().rep(8), "start-high", past)
