"""The one value behind every paper."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from tests.session.said import session_of
from voicelog import __version__
from voicelog.analysis.rep_questions import rep_questions
from voicelog.report import html, markdown
from voicelog.report.facts import Fact, collar_off, session_facts
from voicelog.report.finding_groups import finding_groups
from voicelog.report.notices import Notice, told
from voicelog.report.summary import FOOTER, Summary
from voicelog.report.summary_rows import reps_note
from voicelog.report.text import render

from .build import (
    condition,
    entry,
    equipment,
    finding,
    full,
    full_findings,
    full_session,
    rep,
    session,
    summary,
)


def facts(of: Summary) -> dict[str, str]:
    return {fact.label: fact.value for fact in of.facts}


def test_findings_come_stop_first_and_those_on_void_entries_after_live() -> None:
    live = finding("skin", "stop", "skin sore", "collar off, see a vet")
    notices = summary(full_session(), (*full_findings(), live)).notices
    assert [(notice.severity, notice.struck) for notice in notices] == [
        ("stop", False),
        ("stop", True),
        ("caution", False),
        ("caution", False),
        ("remark", False),
    ]


def test_a_notice_names_reps_basis_doubt_and_void() -> None:
    notices = full().notices
    assert notices[0].message == "Void: level 9 is above the ceiling 5."
    assert notices[0].tail == (
        "Rep 12 is void; common practice; based on a void entry, kept on record."
    )
    assert notices[2].tail == (
        "Reps 8, 9 and 12; rep 12 is void; common practice; based on an entry to check."
    )


def test_a_finding_on_a_rep_with_a_question_says_that_the_rep_is_to_check() -> None:
    """Each of its words is sure, so the finding is on no entry to check."""
    work = session([rep(1), rep(2, doubtful=True)])
    step = finding("step-big", "caution", "up from 6 to 9 in rep 2", "rest", reps=(1, 2))
    stop = finding("stage", "stop", "level 6 in rep 2", "rest", reps=(2,))
    made = summary(work, [stop, step])
    assert [one.line for one in finding_groups(made.notices)] == [
        "Level 6 in rep 2. Rep 2 is to check.",
        "Up from 6 to 9 in rep 2. Rep 2 is to check.",
    ]
    assert made.notices[0].tail.startswith("Rep 2 is to check; ")
    text = " ".join(render(made).split())
    assert "Level 6 in rep 2. (rep 2 is to check; common practice)" in text
    assert "(reps 1 and 2; rep 2 is to check; common practice)" in text


def test_a_finding_on_reps_of_which_one_is_void_says_so_on_every_face() -> None:
    work = session([rep(1), rep(2, void=True), rep(3)])
    twice = [
        finding("stress-strong", "caution", f"yelped in rep {number}", "rest", reps=(number,))
        for number in (1, 2)
    ]
    both = finding("stress-twice", "stop", "strong sign number 2", "rest", reps=(1, 2))
    made = summary(work, [*twice, both])
    assert [one.line for one in finding_groups(made.notices)] == [
        "Strong sign number 2. Rep 2 is void.",
        "Yelped in rep 1. 2 times in all: reps 1 and 2. Rep 2 is void.",
    ]
    text = " ".join(render(made).split())
    assert "Strong sign number 2. (reps 1 and 2; rep 2 is void; common practice)" in text
    assert "Yelped in rep 1. (2 times; reps 1 and 2; rep 2 is void; common practice)" in text
    live = session([rep(1), rep(2), rep(3)])
    assert "rep 2 is void" not in render(summary(live, [*twice, both]))


def test_only_this_sessions_findings_are_taken() -> None:
    other = finding("skin", "stop", "skin red", "rest", session="s2")
    assert summary(session([rep(1)]), [other]).notices == ()


def test_sound_outside_every_session_is_counted_where_it_is_read() -> None:
    before = entry("e0", 0, "", "rejected").model_copy(update={"session": None})
    made = summary(session([rep(1)]), [], [before, entry("e1", 20, "", "rejected")])
    assert "2 sounds not understood" in made.check_note


def test_facts_read_in_order_and_say_what_was_not_said() -> None:
    made = summary(session([rep(1, "vibrate")]))
    assert list(facts(made)) == [
        "dog", "date", "drill", "line", "distraction", "weather", "handler", "collar",
        "minutes", "worn",
    ]  # fmt: skip
    assert facts(made) == {
        "dog": "Bramble",
        "date": "Tue 24 Nov 2026, 16:05",
        "drill": "recall",
        "line": "not said",
        "distraction": "not said",
        "weather": "not said",
        "handler": "not said",
        "collar": "not said",
        "minutes": "10",
        "worn": "not said",
    }


def test_no_collar_means_no_equipment_rows() -> None:
    made = summary(session([rep(1)], conditions=[condition("location", "yard")]))
    assert not {"collar", "worn", "line"} & set(facts(made))
    assert made.off == ()
    assert made.levels == ()


def test_the_line_alone_is_not_a_collar() -> None:
    made = summary(session([rep(1)], marks=[equipment(3, "line", "loose")]))
    assert facts(made)["line"] == "loose"
    assert "collar" not in facts(made)


def test_worn_minutes_need_both_words() -> None:
    def worn(*marks: tuple[float, str]) -> str:
        made = summary(session(marks=[equipment(at, "collar", how) for at, how in marks]))
        return facts(made)["worn"]

    assert worn((0, "fitted"), (300, "stripped")) == "5 min"
    assert worn((0, "fitted"), (60, "stripped"), (120, "fitted"), (240, "stripped")) == "3 min"
    assert worn((300, "stripped")) == "not said"
    assert worn((0, "fitted"), (0, "stripped")) == "not known"
    assert worn((60, "fitted"), (60, "stripped")) == "not known"
    assert worn((60, "fitted"), (80, "stripped")) == "less than 1 min"
    assert worn((61, "fitted")) == "not said (fitted at 1:01, nothing said of taking it off)"


def test_the_date_counts_from_the_sessions_start_and_may_be_unknown() -> None:
    late = session([rep(1)], start_s=3600.0, end_s=4200.0)
    assert facts(summary(late, started_at=datetime(2026, 1, 3, 23, 30)))["date"] == (
        "Sun 4 Jan 2026, 0:30"
    )
    assert facts(summary(late, started_at=None))["date"] == "not known"


def test_skin_and_collar_off_are_told_in_order() -> None:
    marks = [
        equipment(10, "skin", "clear"),
        equipment(500, "skin", "red"),
        equipment(510, "collar", "stripped"),
    ]
    assert summary(session(marks=marks)).off == (
        Fact(label="skin", value="clear at 0:10, then red at 8:20"),
        Fact(label="collar off", value="at 8:30"),
    )


def test_three_entries_to_check_not_counted() -> None:
    entries = [entry(f"e{n}", n, "came", "doubtful") for n in range(3)]
    made = summary(session([rep(1)]), (), entries)
    assert made.check_note == "3 entries to check, counted only once confirmed or corrected."
    assert [note.word for note in made.to_check] == ["check"] * 3


def test_an_entry_that_may_be_another_dogs_says_so() -> None:
    one = session([rep(1)]).model_copy(update={"others": {"e0": ("Fern", "Wren")}})
    made = summary(one, (), [entry("e0", 0, "here came", "doubtful")])
    assert [note.words for note in made.to_check] == [
        '"here came": said in one breath with a call of Fern or Wren, in Bramble\'s session'
    ]


def test_a_session_without_reps_is_told_honestly() -> None:
    made = summary(session())
    assert made.counts == ("No reps in this session.",)
    assert made.reps_note == (
        "No reps were heard in this session, so there is nothing to draw or to count."
    )


def test_names_lose_what_could_rewrite_a_line() -> None:
    made = summary(session([rep(1)], name="Br\x1b[31mam\u202eble\n"))
    assert made.dog == "Br[31mamble"


def test_another_dogs_session_is_refused_as_last_time() -> None:
    with pytest.raises(ValueError, match="previous session is Thistle's, not Bramble's"):
        summary(session(), previous=session(name="Thistle"))


def test_last_time_on_another_transmitter_is_said_not_compared() -> None:
    now, before = session([rep(1, "continuous", (2,))]), session(top=100)
    assert summary(now, previous=before).levels_note == (
        "Last time was on another transmitter: no comparison possible."
    )
    assert summary(now).levels_note == "No earlier session to compare it with."


def test_the_footer_carries_both_versions() -> None:
    assert f"voicelog {__version__}, format 1" == FOOTER
    assert full().footer == FOOTER


def test_a_fact_that_stands_on_an_entry_to_check_is_marked_and_no_other() -> None:
    told = session_of("collar on", "contact solid", "?test good", "drill recall", "?drill place")
    doubted = {"u002", "u004"}
    shown = {one.label: one.value for one in session_facts(told, "today", doubted)}
    assert shown["collar"] == "contact solid, test good (check)"
    assert shown["drill"] == "recall, then place (check)"
    assert shown["handler"] == "not said"
    assert "(check)" not in "".join(one.value for one in session_facts(told, "today"))


def test_red_skin_to_check_is_marked_and_red_skin_said_for_sure_is_not() -> None:
    told = session_of("collar on", "5 skin red", "7 ?skin red", "9 ?skin sore")
    (skin, _) = collar_off(told, {"u002", "u003"})
    assert skin.value == "red at 0:05, then red at 0:07 (check), then sore at 0:09 (check)"


def test_a_rep_that_waits_for_an_entry_beside_it_says_so() -> None:
    """The growl is of the first rep where the doubtful one was none; both readings stand."""
    told = session_of("0 here level 3 came ear flick", "2 ?here tone came", "4 growling")
    first, second = told.reps
    assert (first.doubts, second.doubts) == (("words",), ("words",))
    assert rep_questions(told) == ()
    assert "Rep 1 waits for an entry to check beside it." in reps_note(told, {"u001"})
    assert "waits" not in reps_note(told, {"u000", "u001"})


def test_a_rule_that_says_two_things_is_told_in_two_sentences_and_counts_only_what_is_alike() -> (
    None
):
    def notice(message: str, *reps: int) -> Notice:
        return Notice(
            rule="skin", severity="stop", struck=False, on_doubt=False, reps=reps,
            message=message, advice="Collar off.", basis="common practice", tail="",
        )  # fmt: skip

    red, used = (
        notice("The skin is red."),
        notice("It was not clear, and level 1 was used in rep 6.", 6),
    )
    again = notice("It was not clear, and level 2 was used in rep 7.", 7)
    (one,) = told([red, used])
    assert one.message == f"{red.message} {used.message} (common practice)"
    (more,) = told([red, used, again])
    assert more.message == f"{red.message} {used.message} (3 times; reps 6 and 7; common practice)"


def test_a_session_typed_without_times_shows_none_in_any_layout() -> None:
    at_0: dict[str, Any] = {"start_s": 0.0, "end_s": 0.0}
    reps = [rep(1, "momentary", (2,), **at_0), rep(2, **at_0)]
    marks = (
        equipment(0.0, "skin", "red"),
        equipment(0.0, "collar", "slipped"),
        equipment(0.0, "collar", "stripped"),
    )
    typed = session(reps).model_copy(update={"start_s": 0.0, "end_s": 0.0, "marks": marks})
    unsure = entry("e1", 0, "yelped", "doubtful").model_copy(update={"end_s": 0.0})
    made = summary(typed, entries=[unsure])
    for paper in (render(made), render(made, plain=True), markdown.render(made), html.render(made)):
        assert "0:00" not in paper
        assert "skin" in paper.casefold()
    assert facts(made)["collar"] == "slipped"
    assert {fact.label: fact.value for fact in made.off} == {"skin": "red", "collar off": "said"}


def test_how_the_collar_sits_is_told_in_order_and_a_drill_that_came_back_is_told_again() -> None:
    told = session_of(
        "0 collar on",
        "5 fit check two fingers",
        "10 coat wet",
        "20 drill recall",
        "60 fit check one finger",
        "88 fit check one finger",
        "90 drill find level",
        "95 level 2 nothing",
        "120 drill recall",
    )
    shown = {one.label: one.value for one in session_facts(told, "today")}
    assert shown["collar"] == "fit 2 fingers, then 1 finger at 1:00, coat wet"
    assert shown["drill"] == "recall, then find level, then recall"


def test_the_note_on_times_tells_of_reps_that_were_timed_and_did_not_come() -> None:
    failed = "0 here level 3", "3 ignored"
    assert reps_note(session_of(*failed)) == (
        "1 rep was timed, and did not end with the dog coming: progress counts such times too."
    )
    both = reps_note(session_of(*failed, "60 here level 3", "63 came"))
    assert both == (
        "Times in seconds, by ear (about 1 s either way); 1 of 2 timed. 1 more was timed, and did "
        "not end with the dog coming: progress counts such times too."
    )
    assert reps_note(session_of("here level 3 came")).startswith("No rep was timed")
