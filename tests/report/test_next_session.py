"""The line about the next session: humble, and never asking for a press."""

from __future__ import annotations

import re

from hypothesis import given

from voicelog.model import Finding, Session
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


def test_a_session_without_the_button_stays_without_it_answered_or_not() -> None:
    assert next_session(session([rep(1), rep(2, outcome="ignored"), rep(3, cues=2)]), []) == (
        "Again without a button: none was used in 3 reps." + DEFER
    )


def test_it_names_no_level_since_it_knows_one_session_only() -> None:
    for stress in (False, True):
        reps = [rep(n, "continuous", (4,), stress=stress) for n in range(1, 5)]
        assert next_session(session(reps), []) == (
            "No button first; the plan, which knows all sessions, has what never to pass." + DEFER
        )


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
            "Nothing here to go on: as if new, no button first." + DEFER
        )


@given(sessions(most=8), finding_lists())
def test_it_never_names_a_level_but_as_a_limit(work: Session, findings: list[Finding]) -> None:
    quiet = [found.model_copy(update={"message": "quiet"}) for found in findings]
    line = next_session(work, quiet)
    assert line.startswith(("No button", "Again without a button", "Nothing here to go on"))
    assert not re.search(r"\b(press|try|start at|use the|go up)\b", line)
    assert line.endswith(DEFER)
