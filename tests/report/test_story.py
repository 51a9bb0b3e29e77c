"""The story on top of every paper: three sentences at most, the same one everywhere."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import FIRST, UNIT, good, rep, session_digest, stopped
from tests.analysis.hostile_histories import hostile_history
from tests.analysis.test_call_trend import EIGHTEEN, climbing
from voicelog.analysis.kennel import kennel
from voicelog.analysis.overview import overview
from voicelog.analysis.session_digest import SessionDigest
from voicelog.model import Dog
from voicelog.report import kennel_paper, owner_report, paper_text, progress_paper
from voicelog.report.session_plot_data import strip_figure
from voicelog.report.wording.story import story_words
from voicelog.safety.settings import Settings

JUNO = Dog(name="Juno", transmitter=UNIT)
RULES = Settings()


def on(day: int) -> date:
    return (FIRST + timedelta(days=day)).date()


def story_of(sessions: Sequence[SessionDigest], day: int = 33) -> tuple[str, ...]:
    found = overview(sessions, JUNO, RULES, on(day))
    return story_words(found.story, found.plan)


def test_eighteen_sessions_of_progress_are_told_in_three_sentences() -> None:
    assert story_of(EIGHTEEN) == (
        "From 31 Mar 2031 to 2 Apr 2031 it came 20 of 30 times at high, unaided 20 (95% interval "
        "37% to 87%).",
        "Better over 18 sessions, all distractions taken together: unaided at high about 51% in "
        "its first session there, 81% in its last (95% interval 22 to 37 more of 100 calls).",
        "Nothing is open.",
    )
    text = paper_text.render(progress_paper.build(EIGHTEEN, JUNO, RULES, on(33)))
    assert text.index("IN SHORT") < text.index("BASED ON")
    assert "a trend needs" not in text


@pytest.mark.parametrize(
    ("sessions", "change"),
    [
        (climbing([9, 8, 6, 5, 3], [9, 7, 6, 4, 4]), "Worse over 10 sessions"),
        (
            climbing([2, 3, 2, 3], [5, 4, 5, 5], [7, 8, 7, 7], [9, 9, 9, 9]),
            "Better over 16 sessions, although the distraction rose from none to high: unaided "
            "about 19% in the first session, 92% in the last (at least",
        ),
        (
            climbing([9, 7, 9], [6, 8, 6], [5, 7, 5]),
            "Whether that changed cannot be told from 9 sessions, in which the distraction went "
            "from none to medium: at medium anything from",
        ),
        ([good(0)], "Whether that changed cannot be told yet: 10 calls; 30 are needed."),
        ([good(n, 10) for n in range(6)], "60 of 60 calls were answered unaided: nearly all"),
    ],
)
def test_a_change_and_the_lack_of_one_are_told(
    sessions: Sequence[SessionDigest], change: str
) -> None:
    assert change in story_of(sessions)[1]


def test_too_few_and_long_ago_are_said() -> None:
    assert story_of([]) == (
        "No rep in drill recall with a call and an outcome is on record yet.",
        "Nothing is open.",
    )
    few = story_of([good(0, 2, 3)], 1)[0]
    assert few == "Too few recalls on 1 Mar 2031 to say how it goes: 3 at none, 2 unaided."
    assert story_of([good(0)], 70)[0].startswith("10 weeks ago it came 9 of 10 times at none")


def test_what_is_open_is_counted() -> None:
    stops = [stopped(good(day), "heat") for day in (0, 1)]
    told = "Stop: too hot for work on 2 Mar 2031: open (1 more open)."
    assert story_of(stops, 3)[-1] == told


def test_the_row_of_the_kennel_and_the_owner_tell_the_same() -> None:
    found = kennel({"Juno": EIGHTEEN}, [JUNO], {"": RULES}, on(33))
    text = paper_text.render(kennel_paper.build(found, {"Juno": EIGHTEEN}, RULES))
    assert (
        "came 20 of 30 at high, unaided 20. Better over 18 sessions; nothing open. Last 2 Apr 2031"
    ) in re.sub(r"\s+", " ", text)
    owner = owner_report.build(EIGHTEEN, JUNO, RULES, on(33))
    assert owner.in_short == (
        "In its last weeks Juno came after one call 20 times of 30 with a lot going on, 20 of "
        "them without the collar's button.",
        "It has become better: of ten calls with a lot going on it answered about 5 without the "
        "collar's button at first, about 8 lately.",
        "Nothing is left open.",
    )


def said_nothing(drill: str | None, distraction: str | None) -> SessionDigest:
    """A bad day after a good one: all calls ignored, and a word missing."""
    calls = [rep(n, outcome="ignored", drill=drill, distraction=distraction) for n in range(1, 4)]
    return session_digest(calls, day=2)


@pytest.mark.parametrize(("drill", "distraction"), [(None, "none"), ("recall", None), (None, None)])
def test_a_bad_day_is_not_lost_by_a_word_that_nobody_said(
    drill: str | None, distraction: str | None
) -> None:
    sessions = [good(0), good(1), said_nothing(drill, distraction)]
    left = "; left out: 3 calls, came to 0, drill or distraction not said, the last on 3 Mar 2031."
    assert story_of(sessions, 3)[0].endswith(left)
    found = kennel({"Juno": sessions}, [JUNO], {"": RULES}, on(3))
    text = paper_text.render(kennel_paper.build(found, {"Juno": sessions}, RULES))
    assert left in re.sub(r"\s+", " ", text)
    owner = owner_report.build(sessions, JUNO, RULES, on(3))
    assert (
        "Not counted: 3 calls for which nobody said what was going on; it came to none of them."
        in (owner.in_short[0])
    )
    assert "left out" not in story_of(sessions[:2], 3)[0]


@pytest.mark.parametrize(
    ("drill", "told"),
    [
        (None, "no call with its drill said (3 without)"),
        ("stop", "no call in this drill (3 in others)"),
    ],
)
def test_no_call_in_the_kennel_is_none_at_all(drill: str | None, told: str) -> None:
    sessions = [good(0), said_nothing(drill, "none"), session_digest(day=3)]
    found = kennel({"Juno": sessions}, [JUNO], {"": RULES}, on(3))
    figure = strip_figure(found, {"Juno": sessions})
    assert figure is not None
    assert [one.unaided for one in figure.rows[0].points][1:] == [told, "no call"]


@given(st.integers(0, 100_000))
@settings(max_examples=40, deadline=None)
def test_a_story_is_three_sentences_at_most_and_the_same_on_every_paper(seed: int) -> None:
    dog, sessions, today = hostile_history(seed)
    day = today or FIRST.date()
    found = overview(sessions, dog, RULES, day)
    told = story_words(found.story, found.plan)
    assert 2 <= len(told) <= 3
    row = kennel({"Juno": sessions}, [dog], {"": RULES}, day).dogs[0]
    assert row.story == found.story
    assert len(owner_report.build(sessions, dog, RULES, day).in_short) <= 3
