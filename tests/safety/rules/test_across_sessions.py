"""creeping, stress-rising, step-skipped and button-not-falling."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from tests.safety.build import Field
from voicelog.model import Dog, Finding, Transmitter
from voicelog.safety import Settings, check, history_of

UNIT = Dog(name="Juno", transmitter=Transmitter(top=10))
FIRST = datetime(2031, 3, 1, 9, 0)
SETTINGS = Settings()


def work(
    levels: Sequence[int | None], distraction: str = "none", yelps: int = 0, dog: Dog = UNIT
) -> Field:
    """A session of recalls: None without the button, else answered at the level."""
    field = Field(dog).fit().drill("recall").distraction(distraction)
    for number, level in enumerate(levels):
        if level is None:
            field.say("here no button came").wait(30)
        elif number < yelps:
            field.say(f"here level {level} came whined lip lick").wait(30)
        else:
            field.say(f"here level {level} came").wait(30)
    return field


def across(*fields: Field, rule: str, settings: Settings = SETTINGS) -> list[Finding]:
    """The findings of one rule in the last of these sessions, one a day."""
    past = [(FIRST + timedelta(days=day), field.session()) for day, field in enumerate(fields[:-1])]
    history = history_of(past, FIRST + timedelta(days=len(past)))
    session_variants = fields[-1].findings(history, settings)
    return [finding for finding in session_variants if finding.rule == rule]


# --- creeping --------------------------------------------------------------------------


def test_a_level_that_never_fell_and_rose_creeps() -> None:
    (finding,) = across(*(work([n, n, None]) for n in (2, 2, 3, 3)), rule="creeping")
    assert finding.severity == "caution"
    assert finding.message == (
        "The level answered creeps in recall, distraction none: 2, 2, 3, 3 in the last 4 sessions."
    )
    assert finding.reps == (1, 2)


def test_a_level_that_fell_once_does_not_creep() -> None:
    assert not across(*(work([n, n]) for n in (2, 3, 2, 3)), rule="creeping")


def test_three_sessions_are_too_few_to_creep() -> None:
    assert not across(*(work([n, n]) for n in (2, 3, 4)), rule="creeping")


def test_levels_of_another_transmitter_or_distraction_do_not_creep() -> None:
    other = UNIT.model_copy(update={"transmitter": Transmitter(top=12)})
    old = [work([n, n], dog=other) for n in (1, 2, 2)]
    assert not across(*old, work([3, 3]), rule="creeping")
    assert not across(work([2]), work([2]), work([2]), work([4], "low"), rule="creeping")


def test_doubtful_reps_do_not_hide_that_a_level_creeps() -> None:
    last = work([4, 4])
    last.say("?here level 1 came").say("?here level 1 came").say("?here level 1 came")
    (finding,) = across(work([2]), work([2]), work([3]), last, rule="creeping")
    assert not finding.on_doubt


def test_the_number_of_sessions_and_steps_can_be_set_and_is_named() -> None:
    fields = [work([n, n]) for n in (2, 2, 3)]
    (finding,) = across(*fields, rule="creeping", settings=Settings(creep_sessions=3))
    assert "threshold creep_sessions set to 3 (default 4)" in finding.basis


# --- stress-rising ---------------------------------------------------------------------


def test_stress_in_more_and_more_reps_is_a_caution() -> None:
    fields = [work([2, 2, 2, 2], yelps=n) for n in (0, 1, 1, 2)]
    (finding,) = across(*fields, rule="stress-rising")
    assert finding.message == (
        "Stress in more and more reps: 0 of 4, 1 of 4, 1 of 4, 2 of 4 in the last 4 sessions."
    )
    assert finding.reps == (1, 2)


def test_stress_that_eased_once_is_not_rising() -> None:
    fields = [work([2, 2, 2, 2], yelps=n) for n in (0, 2, 1, 2)]
    assert not across(*fields, rule="stress-rising")


def test_a_single_rep_with_stress_is_not_rising() -> None:
    fields = [work([2, 2, 2, 2], yelps=n) for n in (0, 0, 0, 1)]
    assert not across(*fields, rule="stress-rising")


# --- step-skipped ----------------------------------------------------------------------


def test_a_level_where_the_step_below_was_not_worked_is_a_caution() -> None:
    (finding,) = across(work([None] * 6), work([2], "medium"), rule="step-skipped")
    assert finding.message == (
        "Level 2 at medium distraction in rep 1; before, 0 reps at low are on record."
    )
    assert finding.advice == "Work low first, without the button, until it is easy."
    assert finding.evidence == ("e3", "e4")


def test_five_reps_on_the_step_below_are_enough_and_four_are_not() -> None:
    for reps, few in ((5, False), (4, True)):
        fields = (work([None] * reps, "low"), work([2], "medium"))
        assert bool(across(*fields, rule="step-skipped")) is few


def test_the_first_step_and_work_without_the_button_are_free() -> None:
    assert not across(work([None] * 6), work([2], "low"), rule="step-skipped")
    assert not across(work([None] * 6), work([None], "high"), rule="step-skipped")


def test_a_dog_of_which_no_distraction_was_ever_said_is_not_judged() -> None:
    plain = Field(UNIT).fit().say("here level 2 came")
    assert not across(plain, work([2], "high"), rule="step-skipped")


# --- button-not-falling ----------------------------------------------------------------

OFTEN = [2, 2, 2, None, None, None, None, None, None, None]


def test_a_button_needed_as_often_as_before_is_a_caution() -> None:
    (finding,) = across(*(work(OFTEN) for _ in range(4)), rule="button-not-falling")
    assert finding.message == (
        "The button is not needed less in recall, distraction none: 3 of 10, 3 of 10, 3 of 10, "
        "3 of 10 in the last 4 sessions."
    )
    assert finding.reps == (1, 2, 3)


def test_a_button_needed_less_than_at_first_is_falling() -> None:
    fields = [work([2, *OFTEN]), work(OFTEN), work(OFTEN), work(OFTEN)]
    assert not across(*fields, rule="button-not-falling")


def test_two_in_ten_are_no_ground() -> None:
    assert not across(*(work([*OFTEN[1:], None]) for _ in range(4)), rule="button-not-falling")


def test_a_session_without_the_button_hears_none_of_them() -> None:
    fields = [work([n, n, n], yelps=n - 2) for n in (2, 3, 4)]
    for rule in ("creeping", "stress-rising", "step-skipped", "button-not-falling"):
        assert not across(*fields, work([None] * 5), rule=rule)
    for one in check(work([None] * 5).session(), history_of([], None), SETTINGS):
        assert one.rule not in ("creeping", "stress-rising", "button-not-falling")
