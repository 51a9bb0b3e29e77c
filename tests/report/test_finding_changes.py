"""Findings before and after a change, incident by incident."""

from __future__ import annotations

from datetime import datetime

from tests.report.build import session, summary
from voicelog.model import Finding
from voicelog.report.changes import SeenSession, changes, changes_elsewhere
from voicelog.report.finding_changes import SessionChange, compared


def one(message: str = "It is so.", **more: object) -> Finding:
    known = {
        "rule": "stress-strong", "severity": "caution", "session": "s", "evidence": ("e1",),
        "message": message, "advice": "Rest.", "basis": "common practice",
    }  # fmt: skip
    return Finding.model_validate({**known, **more})


def codes(before: list[Finding], after: list[Finding]) -> list[str]:
    return [change.code for change in compared(before, after)]


def told(before: list[Finding], after: list[Finding]) -> tuple[str, ...]:
    """What a person is told of findings that became others, in a session that is as it was."""
    work = session()
    was, now = (SeenSession(work, summary(work), tuple(some)) for some in (before, after))
    return changes(was, now)


def test_what_is_as_it_was_is_not_told() -> None:
    assert codes([one(), one(evidence=("e2",))], [one(evidence=("e2",)), one()]) == []


def test_other_words_for_the_same_note_are_no_other_incident() -> None:
    assert codes([one("Yelped at level 5.")], [one("Yelped at level 9.")]) == ["reads"]
    evidence = ("e0", "e1")
    assert codes([one("At 5.")], [one("At 9.", evidence=evidence)]) == ["reads"]


def test_of_several_of_a_rule_each_finds_its_own() -> None:
    before = [one("A.", evidence=("e1",)), one("B.", evidence=("e2",))]
    after = [one("C.", evidence=("e2",)), one("A.", evidence=("e1",))]
    (change,) = compared(before, after)
    assert (change.code, change.before, change.after) == ("reads", before[1], after[0])


def test_a_rule_that_tells_one_thing_of_a_session_still_tells_it() -> None:
    then = one("In rep 1.", rule="ended-failed", evidence=("e1",), reps=(1,))
    now = one("In rep 2.", rule="ended-failed", evidence=("e2",), reps=(2,))
    assert codes([then], [now]) == ["reads"]


def test_what_is_worse_comes_first_and_what_is_gone_last() -> None:
    before = [
        one("Gone.", rule="heat"),
        one("Less.", rule="skin", severity="stop"),
        one("More.", rule="bird"),
        one("Doubt.", rule="gun", on_doubt=True),
        one("Struck.", rule="fit"),
    ]
    after = [
        one("Less.", rule="skin", severity="caution"),
        one("More.", rule="bird", severity="stop"),
        one("Doubt.", rule="gun"),
        one("Struck.", rule="fit", struck=True),
        one("New.", rule="climbed"),
        one("Newer.", rule="creeping", severity="stop"),
    ]
    assert codes(before, after) == ["new", "new", "graver", "sure", "lesser", "void", "gone"]
    assert [change.finding.message for change in compared(before, after)][:2] == ["Newer.", "New."]


def test_a_change_in_another_session_says_which_and_how_many() -> None:
    began = datetime(2026, 4, 26, 7, 30)
    stop = one("The skin was red.", severity="stop", evidence=())
    found = changes_elsewhere(
        [
            SessionChange("s1", "Wren", began, (), (stop,)),
            SessionChange("s2", "Wren", None, (stop, one("A."), one("B.", evidence=("e9",))), ()),
        ]
    )
    assert found == (
        "1 stop now stands in the session of Wren on 26 Apr 2026: The skin was red.",
        "1 stop no longer stands in the session of Wren without a date: The skin was red.",
        "2 cautions no longer stand in the session of Wren without a date: A. And 1 more.",
    )


def test_of_many_other_sessions_the_worst_are_told_and_the_rest_counted() -> None:
    stop, caution = one("Red.", severity="stop"), one("Up.", rule="climbed")
    days = [datetime(2026, 4, day) for day in range(1, 21)]
    many = [SessionChange(f"s{day}", "Wren", day, (caution,), ()) for day in days]
    found = changes_elsewhere([*many, SessionChange("s", "Wren", days[0], (), (stop,))])
    assert found[0] == "1 stop now stands in the session of Wren on 1 Apr 2026: Red."
    assert len(found) == 9
    assert found[-1] == "13 other findings changed in more sessions of the same dogs."


def test_findings_in_other_words_are_told_in_one_sentence() -> None:
    before = [one(f"Up to {n} in rep 1.", evidence=(f"e{n}",)) for n in range(5)]
    after = [one(f"Up to {n + 9} in rep 1.", evidence=(f"e{n}",)) for n in range(5)]
    new = one("The skin was red.", rule="skin", severity="stop", evidence=())
    assert told(before, [*after, new]) == (
        "New, stop: The skin was red.",
        "5 cautions now read otherwise: Up to 9 in rep 1. Up to 10 in rep 1. Up to 11 in rep 1. "
        "And 2 more.",
    )
    assert told(before[:1], after[:1]) == ("Now reads, caution: Up to 9 in rep 1.",)


def test_of_findings_whose_reps_have_other_numbers_only_their_number_is_told() -> None:
    before = [one("At 3 in rep 1."), one("2 times; reps 2, 3 and 14.", evidence=("e2",))]
    after = [one("At 3 in rep 2."), one("2 times; reps 3, 4 and 15.", evidence=("e2",))]
    assert told(before, after) == ("2 findings now name other reps, with nothing else changed.",)
    assert told(before[:1], after[:1]) == (
        "1 finding now names another rep, with nothing else changed.",
    )
    level = [one("At 4 in rep 2."), after[1]]
    assert told(before, level) == (
        "Now reads, caution: At 4 in rep 2.",
        "1 finding now names another rep, with nothing else changed.",
    )
