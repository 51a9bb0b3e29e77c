"""The line about the next session: humble, and never asking for a press."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest
from hypothesis import given

from voicelog.model import Finding, Rep, Session
from voicelog.report.next_session import next_session

from .build import finding, rep, session, tap
from .strategies import finding_lists, sessions

STOP = finding("skin", "stop", "skin red.", "rest until clear")
DEFER = " One session only; you decide."


def test_a_stop_means_no_button() -> None:
    reps = [rep(n, "continuous", (2,)) for n in range(1, 6)]
    assert next_session(session(reps), [STOP]) == (
        "No button next session, or no session, until a person closes it, with a reason: "
        "skin not clear." + DEFER
    )


def test_a_stop_struck_by_voice_decides_and_a_closed_one_does_not() -> None:
    struck = STOP.model_copy(update={"struck": True})
    assert next_session(session([rep(1)]), [struck]).startswith("No button next session")
    assert next_session(session([rep(1)]), [STOP], ()) == (
        "Again without a button: none was used in 1 rep." + DEFER
    )


@pytest.mark.parametrize(
    "reps",
    [
        (rep(1, "continuous", (2,)), rep(2, "continuous", (2,))),
        (rep(1), rep(2, "unknown", outcome="ignored")),
        tuple(rep(n, "continuous", (2,), doubtful=n > 1) for n in range(1, 5)),
        tuple(rep(n, "continuous", (2,), stress=n == 1) for n in range(1, 5)),
    ],
    ids=["two answers", "no answers", "doubtful answers", "stress at the level"],
)
def test_thin_evidence_starts_at_the_lowest_level(reps: Sequence[Rep]) -> None:
    assert next_session(session(reps), []) == (
        "No button first; thin evidence, so never above the lowest level, 1." + DEFER
    )


def test_a_session_without_the_button_stays_without_it_answered_or_not() -> None:
    assert next_session(session([rep(1), rep(2, outcome="ignored"), rep(3, cues=2)]), []) == (
        "Again without a button: none was used in 3 reps." + DEFER
    )


def test_three_answers_set_a_limit_not_a_target() -> None:
    reps = [rep(n, "continuous", (2,)) for n in range(1, 4)]
    assert next_session(session(reps), []) == (
        "No button first, and never above 2 (answered in 3 reps)." + DEFER
    )


def test_taps_and_other_drills_set_no_limit_for_a_recall() -> None:
    twos = [rep(n, "continuous", (2,)) for n in (1, 2)]
    taps = [rep(n, "momentary", (8,)) for n in (3, 4, 5)]
    assert "never above the lowest level" in next_session(session([*twos, *taps]), [])
    mixed = [rep(n, "continuous", (4,), drill="place" if n > 2 else "recall") for n in range(1, 5)]
    assert "never above the lowest level" in next_session(session(mixed), [])


def test_a_doubtful_strong_sign_one_step_up_leaves_the_limit_and_at_it_takes_it_away() -> None:
    reps = [rep(n, "continuous", (2,)) for n in range(1, 4)]

    def with_sign_at(level: int) -> str:
        sign = (("yelped", "strong"),)
        odd = rep(9, "continuous", (level,), "ignored", signs=sign, doubtful=True)
        return next_session(session([*reps, odd]), [])

    assert "never above 2" in with_sign_at(3)
    assert "never above the lowest level" in with_sign_at(2)


def test_where_no_level_is_a_step_below_the_stress_there_is_no_button() -> None:
    stressed = [rep(n, "continuous", (1,), stress=n == 1) for n in range(1, 5)]
    assert next_session(session(stressed), []) == (
        "No button: no level is a step below 1, which went with stress." + DEFER
    )
    large = [rep(n, "continuous", (5,), stress=n == 1) for n in range(1, 5)]
    assert "no level is a step below 5" in next_session(session(large, top=100), [])


def test_nothing_sure_gives_nothing_to_go_on() -> None:
    for reps in ((), (rep(1, doubtful=True),), (tap(1, 2, "ear flick", "noticed"),)):
        assert next_session(session(reps), []) == (
            "Nothing here to go on: as if new, no button first, and never above 1." + DEFER
        )


@given(sessions(most=8), finding_lists())
def test_it_never_names_a_level_but_as_a_limit(work: Session, findings: list[Finding]) -> None:
    quiet = [found.model_copy(update={"message": "quiet"}) for found in findings]
    line = next_session(work, quiet)
    assert line.startswith(("No button", "Again without a button", "Nothing here to go on"))
    assert not re.search(r"\b(press|try|start at|use the|go up)\b", line)
    assert line.endswith(DEFER)
