"""Times are the narrator's: between words of separate utterances, and never guessed."""

from __future__ import annotations

import pytest

from tests.session.said import reps_of


def test_turned_and_latency_run_from_the_first_cue() -> None:
    (rep,) = reps_of("0 here", "2 here", "3.5 committed", "7 came")
    assert (rep.turned_s, rep.latency_s) == (3.5, 7.0)


@pytest.mark.parametrize("turned", ["committed", "on his way", "on her way"])
def test_every_word_for_turning_counts(turned: str) -> None:
    assert reps_of("0 here", f"3 {turned}", "7 came")[0].turned_s == 3.0


def test_one_breath_has_no_times_inside() -> None:
    (rep,) = reps_of("here level 2 committed thumb off came")
    assert (rep.turned_s, rep.latency_s, rep.stimulus_s) == (None, None, None)


def test_without_a_cue_there_is_nothing_to_time_from() -> None:
    (rep,) = reps_of("0 level 2", "3 committed", "5 came")
    assert (rep.turned_s, rep.latency_s) == (None, None)


@pytest.mark.parametrize("failed", ["ignored", "peeled off", "broke", "line help"])
def test_a_dog_that_did_not_come_by_itself_has_no_latency(failed: str) -> None:
    assert reps_of("0 here", f"6 {failed}")[0].latency_s is None


@pytest.mark.parametrize("word", ["came", "came slow", "came partway"])
def test_a_dog_that_came_has_a_latency(word: str) -> None:
    assert reps_of("0 here", f"6 {word}")[0].latency_s == 6.0


def test_times_run_from_the_start_of_the_words() -> None:
    assert reps_of("10.25 here", "14.75 came")[0].latency_s == 4.5


@pytest.mark.parametrize(
    ("lines", "stimulus_s"),
    [
        (["0 here", "1 level 2", "3.5 thumb off", "5 came"], 2.5),
        (["0 here", "1 level 2", "3.5 button off", "5 came"], 2.5),
        (["0 here", "1 level 2", "4 level 3", "5 came"], 3.0),
        (["0 here", "1 vibrate", "2 level 2", "5 came"], 1.0),
        (["0 here", "1 level 2", "5 came"], None),
        (["0 here", "1 level 2", "3 came", "5 thumb off"], 4.0),
        (["0 here", "1 tap 2", "2 thumb off", "5 came"], None),
        (["0 here", "1 level 2", "3 dial 3", "5 came"], None),
        (["0 here", "2 no button", "5 came"], None),
    ],
    ids=str,
)
def test_stimulus_time_needs_thumb_off_or_a_new_stimulus(
    lines: list[str], stimulus_s: float | None
) -> None:
    assert reps_of(*lines)[0].stimulus_s == stimulus_s


def test_a_rep_runs_from_its_first_word_to_its_last() -> None:
    (rep,) = reps_of("10 here", "12 level 2", "15 came")
    assert (rep.start_s, rep.end_s) == (10.0, 16.0)
