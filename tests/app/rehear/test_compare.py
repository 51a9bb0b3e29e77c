"""What is new is found, what a person has read stays, and nothing is doubled or lost."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.app.rehear.hearing import GRAMMAR, RECORDING, ROSTER, events_of, heard, reps, said
from voicelog.analysis.reviewed_entries import OutcomeTally
from voicelog.app.intake import RecognizedUtterance
from voicelog.app.rehear import Difference, UtteranceChange, compare
from voicelog.app.rehear.compare import touched
from voicelog.model import Action, Entry, Event, Reading, Utterance
from voicelog.session.entries import fold

FIRST = heard((0, "start session bracken"), (4, "level three came"), (8, "no button came"))


def against(events: tuple[Event, ...], *today: RecognizedUtterance) -> Difference:
    return compare(RECORDING, events, today, GRAMMAR)


def taken(events: tuple[Event, ...], difference: Difference) -> tuple[Event, ...]:
    """The events once all that is new is taken over; those already there are passed over."""
    known = {event.id for event in events}
    new = [event for change in difference.changes for event in change.events]
    new.sort(key=lambda event: isinstance(event, Action))
    return (*events, *(event for event in new if event.id not in known))


def readings(events: tuple[Event, ...]) -> list[tuple[float, str, str]]:
    entries = fold(events, GRAMMAR.interpret)
    return [(entry.start_s, entry.status, entry.reading) for entry in entries]


def shown(change: UtteranceChange) -> tuple[list[str], list[str]]:
    """Both sides of a change, in short."""
    before, after = (
        [f"{said.start_s:g} {said.status} {said.words}" for said in side]
        for side in (change.before, change.after)
    )
    return before, after


def person(words: str, start_s: float = 4.0, name: str = "p1") -> Reading:
    utterance = said(start_s, "")[0].id
    return Reading(id=name, utterance=utterance, words=words, by="person", who="Anna")


def action(do: str, target: str, **more: Any) -> Action:
    return Action.model_validate({"id": f"a-{do}", "action": do, "target": target, **more})


# --- the same utterances


def test_the_same_hearing_changes_nothing() -> None:
    assert against(events_of(*FIRST), *FIRST) == Difference(recording=RECORDING.id, roster=ROSTER)


def test_another_verdict_on_the_same_utterance_is_taken_over() -> None:
    events = events_of(FIRST[0], said(4, "level free came", "doubtful"), FIRST[2])
    difference = against(events, *FIRST)
    assert [shown(change) for change in difference.new] == [
        (["4 doubtful level free came"], ["4 accepted level three came"])
    ]
    after = taken(events, difference)
    assert reps(after) == reps(events_of(*FIRST))
    assert against(after, *FIRST).changes == ()


def test_an_utterance_that_starts_and_ends_nearly_the_same_is_the_same() -> None:
    events = events_of(*FIRST)
    today = [FIRST[0], said(4.2, "level four came", end_s=5.9), FIRST[2]]
    difference = against(events, *today)
    assert [shown(change) for change in difference.new] == [
        (["4 accepted level three came"], ["4 accepted level four came"])
    ]
    assert len(fold(taken(events, difference), GRAMMAR.interpret)) == 3


def test_other_alternatives_are_taken_over_though_nobody_sees_a_difference() -> None:
    events = events_of(said(4, "level three came", "doubtful"))
    difference = against(
        events, said(4, "level three came", "doubtful", alternatives=("level two came",))
    )
    assert difference.new == ()
    (entry,) = fold(taken(events, difference), GRAMMAR.interpret)
    assert entry.alternatives == ("level two came",)


def test_a_hair_of_confidence_is_no_change() -> None:
    events = events_of(said(4, "level three came", confidence=0.900))
    assert against(events, said(4, "level three came", confidence=0.905)).changes == ()


def test_a_verdict_may_come_back() -> None:
    """There and back again: the last hearing holds, though its verdict was there before."""
    one, other = said(4, "level three came"), said(4, "level two came", who="quick 2")
    events = events_of(one)
    for today in (other, one, other, one):
        events = taken(events, against(events, today))
        assert readings(events) == [(4.0, "accepted", today[2].words)]


# --- what a person has read


def test_what_a_person_has_read_is_never_changed() -> None:
    events = (*events_of(*FIRST), person("level two came"))
    difference = against(events, FIRST[0], said(4, "level nine came"), FIRST[2])
    assert difference.new == ()
    assert [shown(change) for change in difference.stays] == [
        (["4 accepted level two came"], ["4 accepted level nine came"])
    ]
    assert taken(events, difference) == events


def test_where_today_agrees_with_the_person_there_is_nothing_to_see() -> None:
    events = (*events_of(*FIRST), person("level two came"))
    difference = against(events, FIRST[0], said(4, "level two came"), FIRST[2])
    assert difference.changes == ()
    assert (difference.before, difference.after) == (OutcomeTally(wrong=1), OutcomeTally(right=1))


@pytest.mark.parametrize("do", ["confirm", "void", "move", "flag"])
def test_what_a_person_has_acted_on_is_never_changed(do: str) -> None:
    events = events_of(*FIRST)
    events = (*events, action(do, FIRST[1][0].id, value="Bracken" if do == "move" else None))
    assert against(events, FIRST[0], said(4, "level nine came"), FIRST[2]).new == ()


def test_what_a_person_has_let_go_of_is_free_again() -> None:
    events = events_of(*FIRST)
    events = (*events, person("level two came"), action("undo", "p1"))
    assert len(against(events, FIRST[0], said(4, "level nine came"), FIRST[2]).new) == 1


def test_a_clock_set_by_a_person_reads_no_entry() -> None:
    events = (*events_of(*FIRST), action("clock", FIRST[1][0].id, value="2026-04-18T07:00"))
    assert touched(events) == frozenset()


def test_a_note_put_in_by_a_person_is_not_doubled() -> None:
    put_in = Utterance(id="by-hand", recording=RECORDING.id, start_s=12.0, end_s=13.0)
    read = Reading(id="p1", utterance="by-hand", words="level two came", by="person", who="Anna")
    events = (*events_of(*FIRST), put_in, read)
    difference = against(events, *FIRST, said(11.8, "level two came", end_s=13.5))
    assert difference.new == ()
    assert taken(events, difference) == events
    assert (difference.before, difference.after) == (OutcomeTally(missed=1), OutcomeTally(right=1))


# --- sound that falls apart otherwise


def test_two_utterances_heard_as_one_make_way_for_it() -> None:
    events = events_of(said(4, "level", "rejected", end_s=5), said(6, "free", "rejected", end_s=7))
    difference = against(events, said(4, "level three", end_s=7))
    assert [shown(change) for change in difference.new] == [
        (["4 rejected level", "6 rejected free"], ["4 accepted level three"])
    ]
    after = taken(events, difference)
    assert readings(after) == [(4.0, "accepted", "level three")]
    assert fold(after, GRAMMAR.interpret)[0].end_s == 7.0
    assert against(after, said(4, "level three", end_s=7)).changes == ()


def test_one_utterance_heard_as_two_makes_way_for_them() -> None:
    events = events_of(said(4, "level three came", "doubtful", end_s=9))
    today = said(4, "level three", end_s=5), said(7, "came", end_s=9)
    after = taken(events, against(events, *today))
    assert readings(after) == [(4.0, "accepted", "level three"), (7.0, "accepted", "came")]
    assert reps(after) == reps(events_of(*today))


def test_what_made_way_may_come_back() -> None:
    whole = (said(4, "level three came", end_s=9),)
    parts = said(4, "level three", end_s=5), said(7, "came", end_s=9)
    events = events_of(*whole)
    for today in (parts, whole, parts, whole):
        events = taken(events, against(events, *today))
        assert readings(events) == [
            (heard[0].start_s, "accepted", heard[2].words) for heard in today
        ]


def test_nothing_is_cut_or_joined_with_what_a_person_has_read() -> None:
    events = events_of(said(4, "level", "rejected", end_s=5), said(6, "came", end_s=7))
    events = (*events, person("level three"))
    difference = against(events, said(4, "level three came", end_s=7))
    assert difference.new == ()
    assert len(difference.stays) == 1
    assert readings(taken(events, difference)) == [
        (4.0, "accepted", "level three"),
        (6.0, "accepted", "came"),
    ]


def test_sound_that_was_no_note_and_is_none_is_left_as_it_was() -> None:
    events = events_of(said(4, "", "rejected", end_s=9, confidence=0.0))
    today = [said(at, "", "rejected", confidence=0.0) for at in (4, 7)]
    assert against(events, *today).changes == ()


def test_a_note_that_is_not_found_again_is_no_longer_one() -> None:
    events = events_of(*FIRST)
    difference = against(events, FIRST[0], FIRST[2])
    assert [shown(change) for change in difference.new] == [
        (["4 accepted level three came"], ["4 rejected "])
    ]
    after = taken(events, difference)
    assert reps(after) == reps(events_of(FIRST[0], FIRST[2]))
    assert against(after, FIRST[0], FIRST[2]).changes == ()
    assert readings(taken(after, against(after, *FIRST))) == readings(events)


def test_where_the_sound_was_deleted_nothing_is_taken_away() -> None:
    events = events_of(*FIRST)
    today = (FIRST[0], FIRST[2])
    assert compare(RECORDING, events, today, GRAMMAR, lambda one: one.start_s == 4).changes == ()


def test_a_new_note_where_nothing_was_heard_is_added() -> None:
    events = events_of(FIRST[0], FIRST[2])
    after = taken(events, against(events, *FIRST))
    assert reps(after) == reps(events_of(*FIRST))


# --- spoken edits


def test_strike_that_aims_at_what_is_heard_before_it_now() -> None:
    first = [*FIRST[:2], said(8, "", "rejected"), said(12, "strike that")]
    today = [*FIRST, said(12, "strike that")]
    events = events_of(*first)
    difference = against(events, *today)
    assert [shown(change) for change in difference.new] == [
        (
            ["12 accepted strike that", "4 accepted level three came"],
            ["12 accepted strike that", "8 accepted no button came"],
        ),
        (["8 rejected "], ["8 accepted no button came"]),
    ]
    after = taken(events, difference)
    assert reps(after) == reps(events_of(*today))
    assert against(after, *today).changes == ()
    back = taken(after, against(after, *first))
    assert reps(back) == reps(events)


def test_a_strike_with_nothing_left_before_it_strikes_nothing() -> None:
    events = events_of(said(4, "level three came"), said(8, "strike that"))
    today = said(4, "good girl", "rejected"), said(8, "strike that")
    after = taken(events, against(events, *today))
    assert reps(after) == reps(events_of(*today))
    both = taken(after, against(after, said(4, "level three came"), said(8, "strike that")))
    assert reps(both) == reps(events)


def test_a_strike_of_what_a_person_has_read_stays() -> None:
    events = events_of(*FIRST[:2], said(8, "", "rejected"), said(12, "strike that"))
    events = (*events, person("level two came"))
    after = taken(events, against(events, *FIRST, said(12, "strike that")))
    struck = [e.start_s for e in fold(after, GRAMMAR.interpret) if e.voided]
    assert struck == [4.0]


def test_a_strike_of_what_a_person_has_read_is_not_heard_away() -> None:
    events = (*events_of(*FIRST[:2], said(8, "strike that")), action("confirm", FIRST[1][0].id))
    after = taken(events, against(events, *FIRST[:2], said(8, "", "rejected")))
    assert [e.start_s for e in fold(after, GRAMMAR.interpret) if e.voided] == [4.0]


def test_a_strike_that_a_person_took_back_stays_taken_back() -> None:
    events = events_of(*FIRST[:2], said(8, "", "rejected"), said(12, "strike that"))
    strike = next(event for event in events if isinstance(event, Action))
    events = (*events, action("undo", strike.id))
    after = taken(events, against(events, *FIRST, said(12, "strike that")))
    assert not any(entry.voided for entry in fold(after, GRAMMAR.interpret))


# --- how it does


@pytest.mark.parametrize(
    ("read", "today", "outcome"),
    [
        ("level two came", said(4, "level two came"), OutcomeTally(right=1)),
        ("level two came", said(4, "came level two"), OutcomeTally(wrong=1)),
        ("level 2 came", said(4, "level two came"), OutcomeTally(right=1)),
        ("level two came", said(4, "level two came", "doubtful"), OutcomeTally(offered=1)),
        (
            "level two came",
            said(4, "level ten came", "doubtful", alternatives=("level two came",)),
            OutcomeTally(offered=1),
        ),
        ("level two came", said(4, "level ten came", "doubtful"), OutcomeTally(asked=1)),
        ("level two came", said(4, "level two came", "rejected"), OutcomeTally(missed=1)),
        ("level two came", said(20, "level two came"), OutcomeTally(missed=1)),
        ("", said(4, "", "rejected"), OutcomeTally(right=1)),
        ("", said(4, "level two came"), OutcomeTally(wrong=1)),
        ("", said(4, "level two came", "doubtful"), OutcomeTally(asked=1)),
    ],
)
def test_the_outcomes(read: str, today: RecognizedUtterance, outcome: OutcomeTally) -> None:
    events = (*events_of(said(4, "level five came")), person(read))
    difference = against(events, today)
    assert difference.before == OutcomeTally(wrong=1)
    assert difference.after == outcome
    assert (difference.before + difference.after).read == 2


def test_what_nobody_has_read_has_no_score() -> None:
    assert against(events_of(*FIRST), *FIRST[1:]).after == OutcomeTally()


# --- any hearing after any other

WORDS = (
    *("", "start session bracken", "level three came", "level three", "came", "neck twitch"),
    *("no button came", "here", "ignored", "strike that", "correction level two", "strike rep one"),
    *("tap two", "yelped", "end session", "up to five", "line help", "collar fitted"),
)


@st.composite
def hearings(draw: st.DrawFn) -> list[RecognizedUtterance]:
    """What some listener may have made of half a minute; utterances lie apart, and start and
    end on half seconds, so that two are the same only where they are equal."""
    at, found = 0.0, list[RecognizedUtterance]()
    while len(found) < 8 and at < 30:
        at += draw(st.sampled_from((0.5, 1.0, 3.0)))
        end_s = at + draw(st.sampled_from((0.5, 1.0, 2.0, 5.0)))
        words = draw(st.sampled_from(WORDS))
        status = (
            draw(st.sampled_from(("accepted", "accepted", "doubtful"))) if words else "rejected"
        )
        sure = draw(st.sampled_from((0.0, 0.9)))
        found.append(said(at, words, status, end_s=end_s, confidence=sure))
        at = end_s
    return found


@settings(max_examples=60)
@given(hearings())
def test_any_hearing_again_changes_nothing(once: list[RecognizedUtterance]) -> None:
    assert against(events_of(*once), *once).changes == ()


@settings(max_examples=60)
@given(hearings(), hearings())
def test_taken_over_it_is_as_if_it_had_been_heard_so_at_once(
    once: list[RecognizedUtterance], today: list[RecognizedUtterance]
) -> None:
    events = events_of(*once)
    after = taken(events, against(events, *today))
    assert reps(after) == reps(events_of(*today))
    assert notes(after) == notes(events_of(*today))
    assert against(after, *today).changes == ()


def notes(events: tuple[Event, ...]) -> list[tuple[float, str, str]]:
    return [one for one in readings(events) if one[1] != "rejected"]


def as_read(entries: tuple[Entry, ...], ids: set[str]) -> list[Entry]:
    return [entry for entry in entries if entry.id in ids]


@settings(max_examples=60)
@given(hearings(), hearings(), st.data())
def test_no_hearing_changes_what_a_person_has_had_a_hand_in(
    once: list[RecognizedUtterance], today: list[RecognizedUtterance], data: st.DataObject
) -> None:
    events = events_of(*once)
    chosen = data.draw(st.sets(st.sampled_from([one[0].id for one in once])))
    for number, utterance in enumerate(sorted(chosen)):
        words = data.draw(st.sampled_from(WORDS))
        by_hand: Event = (
            Reading(id=f"p{number}", utterance=utterance, words=words, by="person", who="Anna")
            if data.draw(st.booleans())
            else Action(id=f"p{number}", action="confirm", target=utterance)
        )
        events = (*events, by_hand)
    after = taken(events, against(events, *today))
    before_entries, after_entries = (fold(e, GRAMMAR.interpret) for e in (events, after))
    assert as_read(after_entries, chosen) == as_read(before_entries, chosen)
    assert not doubled(after_entries, chosen)


def doubled(entries: tuple[Entry, ...], chosen: set[str]) -> bool:
    """Whether a machine's new note lies on what a person has read."""
    read = [entry for entry in entries if entry.id in chosen]
    return any(
        min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
        > 0.5 * min(one.end_s - one.start_s, other.end_s - other.start_s)
        for one in read
        for other in entries
        if other.id not in chosen
    )
