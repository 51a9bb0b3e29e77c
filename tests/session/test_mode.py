"""The mode of a rep is what was said, else the dog's default, else what follows of no word."""

from __future__ import annotations

import pytest

from tests.session.said import ROSTER, reps_of, said
from voicelog.model import Dog, Roster
from voicelog.session.variants import assemble

TAPPED = Roster(dogs=(Dog(name="Bracken", default_mode="momentary"),))


@pytest.mark.parametrize(
    ("words", "mode"),
    [
        ("level 3 came", "continuous"),
        ("level 3 momentary came", "momentary"),
        ("level 3 continuous came", "continuous"),
        ("tap 3 came", "momentary"),
        ("vibrate came", "vibrate"),
        ("tone came", "tone"),
        ("no button came", "none"),
    ],
)
def test_mode_is_as_said(words: str, mode: str) -> None:
    assert reps_of(words)[0].mode == mode


@pytest.mark.parametrize(
    ("words", "mode"),
    [
        ("level 3 came", "momentary"),
        ("level 3 continuous came", "continuous"),
        ("tap 3 came", "momentary"),
    ],
)
def test_level_alone_is_the_dogs_default_mode(words: str, mode: str) -> None:
    assert reps_of(words, roster=TAPPED)[0].mode == mode


def test_without_a_word_of_the_button_and_no_collar_fitted_the_mode_is_none() -> None:
    assert reps_of("here came")[0].mode == "none"


@pytest.mark.parametrize("fitting", ["collar fitted", "fit check two fingers", "contact solid"])
def test_without_a_word_of_the_button_and_a_collar_on_the_mode_is_unknown(fitting: str) -> None:
    assert reps_of(fitting, "here came")[0].mode == "unknown"


def test_no_button_with_the_collar_on_is_none() -> None:
    assert reps_of("collar fitted", "here no button came")[0].mode == "none"


def test_a_collar_that_was_pressed_is_on_whatever_was_said_of_it() -> None:
    assert [rep.mode for rep in reps_of("level 2 came", "here came")] == ["continuous", "unknown"]


def test_a_press_tells_that_the_collar_was_on_before_where_nothing_was_said_of_it() -> None:
    assert [rep.mode for rep in reps_of("here came", "level 2 came")] == ["unknown", "continuous"]


@pytest.mark.parametrize("told", ["collar fitted", "fit check two fingers"])
def test_a_collar_put_on_between_two_calls_was_not_on_in_the_first(told: str) -> None:
    modes = [rep.mode for rep in reps_of("here came", told, "level 2 came")]
    assert modes == ["none", "continuous"]


def test_a_stripped_collar_presses_no_more() -> None:
    assert reps_of("collar fitted", "collar stripped", "here came")[0].mode == "none"


def test_a_collar_stripped_in_the_breath_after_the_rep_was_on_in_it() -> None:
    assert reps_of("collar fitted", "here came collar stripped")[0].mode == "unknown"


def test_a_new_dog_wears_no_collar_until_it_is_said() -> None:
    entries = said("start session Bracken", "collar fitted", "next dog Wren", "here came")
    _, wren = assemble(entries, ROSTER)
    assert wren.reps[0].mode == "none"


def test_a_rep_warmed_up_on_vibrate_and_pressed_is_of_the_level() -> None:
    rep = reps_of("here", "vibrate", "level 2", "came")[0]
    assert (rep.mode, rep.peak_level) == ("continuous", 2)
