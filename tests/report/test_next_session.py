"""The line about the next session: humble, and never asking for a press."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from hypothesis import given

from tests.analysis.dogs import good, stopped
from voicelog.analysis.open_matters import OpenMatter, as_left, open_matters
from voicelog.analysis.plan import plan
from voicelog.analysis.session_digest import digest_session
from voicelog.analysis.session_matters import session_matters
from voicelog.model import Finding, Session
from voicelog.report import next_session as report
from voicelog.report.wording.reasons import one_line
from voicelog.safety.settings import Thresholds

from .build import finding, rep, session, tap
from .strategies import finding_lists, sessions

STOP = finding("skin", "stop", "skin red.", "rest until clear")
DEFER = " From this session alone; you decide."


def next_session(
    work: Session, findings: Sequence[Finding], matters: Sequence[OpenMatter] | None = None
) -> str:
    """The line from this session alone."""
    if matters is None:
        matters = open_matters(session_matters(work, findings))
    return report.next_session(work, matters)


def test_a_stop_means_no_button() -> None:
    reps = [rep(n, "continuous", (2,)) for n in range(1, 6)]
    assert next_session(session(reps), [STOP]) == (
        "No button next session, or no session, until a person closes it, with a reason: "
        "skin not said to be clear before the collar." + DEFER
    )


def test_the_stop_of_this_session_comes_before_a_newer_one() -> None:
    red, fitted = stopped(good(1)._replace(skin="red")), stopped(good(2), "skin")
    matters = as_left((red, fitted))
    lines = [
        report.next_session(session([rep(1)], id=one.session), matters) for one in (red, fitted)
    ]
    assert "skin red on 2 Mar 2031, and 1 more" in lines[0]
    assert (
        "skin not said to be clear before the collar on 3 Mar 2031 (red on 2 Mar 2031), and 1 more"
    ) in lines[1]


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


def test_the_one_limit_in_it_is_the_plans() -> None:
    for stress in (False, True):
        work = session([rep(n, "continuous", (4,), stress=stress) for n in range(1, 5)])
        assert next_session(work, []) == (
            "No button next session: one session is too little to name a limit." + DEFER
        )
        planned = plan((), work.dog, Thresholds()).model_copy(update={"start": 3, "most": 3})
        assert report.next_session(work, (), planned) == (
            "Distraction none, without the button. If the button is used (continuous): never above "
            "3 (too few reps). You decide."
        )


def test_where_the_plan_has_no_button_there_is_none() -> None:
    work = session(
        [
            rep(1, "continuous", (4,), signs=(("yelped", "strong"),)),
            rep(2, "continuous", (1,)),
        ]
    )
    planned = plan((digest_session(work),), work.dog, Thresholds())
    assert report.next_session(work, (), planned) == (
        "Distraction none, no button. The session of a day not known went badly for the dog "
        "(yelped), and no easy one has been since: first one without the button, with 3 or more "
        "calls that it answers at once. You decide."
    )
    assert report.next_session(work, ()) == (
        "No button next session: the session went badly for the dog (yelped)." + DEFER
    )


def test_the_line_is_the_plans_and_says_why_there_is_no_session() -> None:
    red = stopped(good(1)._replace(skin="red"))
    work, matters = session([rep(1)], id=red.session), as_left([red])
    today = plan([red], work.dog, Thresholds(), red.day, matters=matters)
    assert report.next_session(work, matters, today) == (
        "No session today. A stop of today stands (red or sore skin). Open until a person "
        "closes it, with a reason: skin red on 2 Mar 2031. You decide."
    )
    later = plan([red], work.dog, Thresholds(), date(2031, 3, 5), matters=matters)
    line = report.next_session(work, matters, later)
    assert line.startswith("Distraction none, no button: a stop is open. The skin was red on 2 Mar")
    assert one_line(later) in line.lower()


def test_nothing_sure_gives_nothing_to_go_on() -> None:
    for reps in ((), (rep(1, doubtful=True),), (tap(1, 2, "ear flick", "noticed"),)):
        assert next_session(session(reps), []) == (
            "Nothing here to go on: work without the button." + DEFER
        )


@given(sessions(most=8), finding_lists())
def test_it_never_names_a_level_but_as_a_limit(work: Session, findings: list[Finding]) -> None:
    quiet = [found.model_copy(update={"message": "quiet"}) for found in findings]
    line = next_session(work, quiet)
    assert line.startswith(("No button", "Again without a button", "Nothing here to go on"))
    assert not re.search(r"\b(press|try|start at|use the|go up)\b", line)
    assert line.endswith(DEFER)
