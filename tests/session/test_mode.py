"""The mode of a rep is what was said, else the dog's default, else what follows of no word."""

from __future__ import annotations

import pytest

from tests.session.said import ROSTER, reps_of, said
from voicelog.model import Dog, Roster, Transmitter
from voicelog.session.variants import assemble, session_variants

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


COLLARED = Roster(dogs=(Dog(name="Bracken", transmitter=Transmitter(top=20)), Dog(name="Wren")))


def modes(*lines: str, roster: Roster = ROSTER) -> list[str]:
    return [rep.mode for rep in reps_of(*lines, roster=roster)]


def test_without_a_word_of_the_button_and_no_collar_in_the_profile_the_mode_is_none() -> None:
    assert modes("here came") == ["none"]


@pytest.mark.parametrize(
    "profile", [{"transmitter": Transmitter(top=20)}, {"collar_number": 4}, {"ceiling": 6}]
)
def test_a_profile_with_a_collar_leaves_the_mode_unknown_until_it_is_said(
    profile: dict[str, object],
) -> None:
    roster = Roster(dogs=(Dog.model_validate({"name": "Bracken", **profile}),))
    assert modes("here came", "no button here came", roster=roster) == ["unknown", "none"]


@pytest.mark.parametrize("words", ["no collar", "without collar", "without a collar"])
def test_no_collar_said_once_holds_until_one_is_told_of(words: str) -> None:
    told = ("here came", words, "here came", "here came", "collar fitted", "here came")
    assert modes(*told, roster=COLLARED) == ["unknown", "none", "none", "unknown"]


@pytest.mark.parametrize("words", ["here came no collar", "no collar here came"])
def test_no_collar_holds_for_all_of_its_breath(words: str) -> None:
    assert modes(words, roster=COLLARED) == ["none"]


def test_no_collar_said_before_any_dog_is_said_of_the_first_alone() -> None:
    entries = said("no collar", "start session Bracken", "here came", "next dog Bracken",
                   "here came", roster=COLLARED)  # fmt: skip
    first, second = assemble(entries, COLLARED)
    assert (first.reps[0].mode, second.reps[0].mode) == ("none", "unknown")


@pytest.mark.parametrize("told", ["no collar", "collar off"])
def test_a_press_after_that_leaves_the_calls_between_unknown(told: str) -> None:
    lines = ("here came no button", told, "here came", "level 2 came", "here came")
    assert modes(*lines, roster=COLLARED) == ["none", "unknown", "continuous", "unknown"]
    assert modes(*lines) == ["none", "unknown", "continuous", "unknown"]


@pytest.mark.parametrize("told", ["collar stripped", "collar slipped", "collar turned"])
def test_what_comes_off_was_on_before(told: str) -> None:
    assert modes("here came", told)[0] == "unknown"


@pytest.mark.parametrize("told", ["collar number 4", "ceiling 6", "dial 3"])
def test_what_tells_of_a_collar_leaves_the_mode_unknown_unless_it_was_said_to_be_off(
    told: str,
) -> None:
    assert modes(told, "here came") == ["unknown"]
    assert modes("no collar", told, "here came") == ["none"]


def test_a_doubtful_no_collar_makes_no_sure_rep() -> None:
    (rep,) = reps_of("?no collar", "here came", roster=COLLARED)
    assert (rep.mode, rep.doubtful) == ("none", True)


def test_wrong_dog_goes_by_the_profile_of_the_right_one() -> None:
    told = ("start session Wren", "here came", "wrong dog Bracken", "here came")
    assert modes(*told, roster=COLLARED) == ["unknown", "unknown"]


def test_a_collar_worn_earlier_that_day_is_not_forgotten() -> None:
    entries = said("start session Bracken", "collar fitted", "next dog Wren", "here came",
                   "next dog Bracken", "here came")  # fmt: skip
    _, wren, bracken = assemble(entries, ROSTER)
    assert (wren.reps[0].mode, bracken.reps[0].mode) == ("none", "unknown")
    (before,) = session_variants(said("here came"), ROSTER, dog="Wren", wore=["Wren"])
    assert before.with_doubtful.reps[0].mode == "unknown"


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


def test_a_ladder_goes_on_in_its_mode_in_the_next_call() -> None:
    reps = reps_of("here nick 3 came", "here bumped up to 5 came", "here level 5 came")
    assert [rep.mode for rep in reps] == ["momentary", "momentary", "continuous"]
