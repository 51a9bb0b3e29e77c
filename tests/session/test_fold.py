"""Events fold into entries: a person's newest reading wins, and undo takes anything back."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from tests.session.said import GRAMMAR
from voicelog.model import Action, Entry, Event, FieldEvent, Reading, Utterance, Verdict
from voicelog.session.entries import fold, recording_start

HEARD = Utterance(id="u", recording="r", start_s=4.0, end_s=5.5)


def verdict(words: str, status: str = "accepted", **more: Any) -> Verdict:
    more = {"id": "v", "utterance": "u", "confidence": 0.75, "judge": "j 1"} | more
    return Verdict.model_validate({"words": words, "status": status} | more)


def person(words: str, name: str = "p1", who: str = "Anna") -> Reading:
    return Reading(id=name, utterance="u", words=words, by="person", who=who)


def listener(words: str, name: str = "l1") -> Reading:
    return Reading(id=name, utterance="u", words=words, by="listener", who="quick 1")


def action(do: str, target: str = "u", name: str = "a1", **more: Any) -> Action:
    return Action.model_validate({"id": name, "action": do, "target": target, **more})


def only(*events: Event) -> Entry:
    (entry,) = fold(events, GRAMMAR.interpret)
    return entry


def test_the_verdict_is_the_reading_until_a_person_reads() -> None:
    entry = only(HEARD, listener("level tree"), verdict("level three", "doubtful",
                 alternatives=("level two",)))  # fmt: skip
    assert entry == Entry(
        id="u",
        recording="r",
        start_s=4.0,
        end_s=5.5,
        heard="level tree",
        reading="level three",
        status="doubtful",
        confidence=0.75,
        alternatives=("level two",),
        phrases=GRAMMAR.interpret("level three") or (),
    )


def test_a_persons_reading_is_accepted_and_sure() -> None:
    entry = only(HEARD, verdict("level three", "doubtful"), person("level two", who="Joe"))
    assert (entry.reading, entry.status, entry.confidence) == ("level two", "accepted", 1.0)
    assert (entry.by, entry.who) == ("person", "Joe")


def test_a_persons_newest_reading_wins() -> None:
    entry = only(HEARD, verdict("level three"), person("level two"), person("level one", "p2"))
    assert entry.reading == "level one"


def test_a_later_verdict_never_overrules_a_person() -> None:
    entry = only(HEARD, verdict("level three"), person("level two"),
                 listener("level nine", "l2"), verdict("level nine", id="v2"))  # fmt: skip
    assert (entry.reading, entry.by) == ("level two", "person")


def test_a_later_verdict_overrules_an_earlier_one() -> None:
    entry = only(HEARD, verdict("level three"), verdict("level nine", "doubtful", id="v2"))
    assert (entry.reading, entry.status) == ("level nine", "doubtful")


def test_confirming_accepts_the_reading_as_it_stands() -> None:
    entry = only(HEARD, verdict("level three", "doubtful"), action("confirm", who="Anna"))
    assert (entry.reading, entry.status, entry.by) == ("level three", "accepted", "person")


def test_a_confirmed_reading_is_not_judged_again() -> None:
    """ "An upgrade never re-judges what a person has read": nor what a person has confirmed."""
    entry = only(HEARD, verdict("level three", "doubtful"), action("confirm"),
                 verdict("level nine", "doubtful", id="v2"))  # fmt: skip
    assert (entry.reading, entry.status) == ("level three", "accepted")


def test_what_has_no_verdict_is_not_yet_said() -> None:
    entry = only(HEARD, listener("level three"))
    assert (entry.status, entry.reading, entry.heard) == ("rejected", "", "level three")


def test_words_outside_the_grammar_mean_nothing_and_are_kept() -> None:
    entry = only(HEARD, verdict("good girl come on then", "rejected"))
    assert (entry.reading, entry.phrases) == ("good girl come on then", ())


def test_void_voids_and_leaves_the_words() -> None:
    entry = only(HEARD, verdict("level three"), action("void"))
    assert (entry.voided, entry.reading) == (True, "level three")


def test_move_names_the_dog() -> None:
    assert only(HEARD, verdict("here"), action("move", value="Wren")).dog == "Wren"


@pytest.mark.parametrize(
    "done",
    [
        person("level two"),
        action("void", name="p1"),
        action("confirm", name="p1"),
        action("move", name="p1", value="Wren"),
    ],
    ids=lambda event: getattr(event, "action", "reading"),
)
def test_undo_takes_back_as_if_never_done_and_undo_of_undo_restores(done: Event) -> None:
    before = (HEARD, verdict("level three", "doubtful"))
    undo, redo = action("undo", "p1", "undo"), action("undo", "undo", "redo")
    assert only(*before, done) != only(*before)
    assert only(*before, done, undo) == only(*before)
    assert only(*before, done, undo, redo) == only(*before, done)


def test_undoing_the_newest_reading_brings_back_the_one_before() -> None:
    entry = only(HEARD, verdict("level three"), person("level two"), person("level one", "p2"),
                 action("undo", "p2"))  # fmt: skip
    assert entry.reading == "level two"


def test_undoing_a_spoken_strike_takes_the_strike_back() -> None:
    events: list[Event] = [
        HEARD,
        verdict("level three"),
        Utterance(id="s", recording="r", start_s=8, end_s=9),
        verdict("strike that", id="vs", utterance="s"),
        action("void", "u", "strike", cause="s", by="listener"),
    ]
    assert [entry.voided for entry in fold(events, GRAMMAR.interpret)] == [True, False]
    events.append(action("undo", "strike", "undo"))
    assert [entry.voided for entry in fold(events, GRAMMAR.interpret)] == [False, False]


@pytest.mark.parametrize("read", ["drill recall", "good girl"])
def test_a_strike_that_a_person_reads_as_something_else_strikes_nothing(read: str) -> None:
    events: list[Event] = [
        HEARD,
        verdict("level three"),
        Utterance(id="s", recording="r", start_s=8, end_s=9),
        verdict("strike that", id="vs", utterance="s"),
        action("void", "u", "strike", cause="s", by="listener"),
        Reading(id="p", utterance="s", words=read, by="person", who="Anna"),
    ]
    assert [entry.voided for entry in fold(events, GRAMMAR.interpret)] == [False, False]


@pytest.mark.parametrize(
    "event",
    [
        Reading(id="x", utterance="elsewhere", words="came", by="person", who="Anna"),
        Verdict(id="x", utterance="elsewhere", status="accepted", words="came", confidence=1,
                judge="j"),
        Action(id="x", action="void", target="elsewhere"),
        Action(id="x", action="undo", target="elsewhere"),
        FieldEvent(id="x", recording="r", at_s=3.0, what="tone"),
    ],
    ids=lambda event: event.event,
)  # fmt: skip
def test_events_about_what_is_not_here_change_nothing(event: Event) -> None:
    assert only(event, HEARD, verdict("here")) == only(HEARD, verdict("here"))


def test_an_utterance_told_twice_is_one_entry() -> None:
    assert only(HEARD, HEARD, verdict("here")).id == "u"


def test_entries_come_in_order_of_their_start() -> None:
    late = Utterance(id="a", recording="r", start_s=9, end_s=10)
    assert [entry.id for entry in fold([late, HEARD], GRAMMAR.interpret)] == ["u", "a"]


def test_a_reading_committed_before_its_utterance_is_merged_is_kept() -> None:
    """Two laptops merge in any order of utterances and readings."""
    assert only(person("level two"), HEARD).reading == "level two"


def test_nothing_folds_into_nothing() -> None:
    assert fold((), GRAMMAR.interpret) == ()


def test_a_confirmation_holds_to_the_words_that_it_saw() -> None:
    """Two logs joined may put another verdict before it: what a person saw is what counts."""
    entry = only(HEARD, verdict("level three"), verdict("level nine", id="v2"),
                 action("confirm", value="level three"))  # fmt: skip
    assert (entry.reading, entry.status, entry.by) == ("level three", "accepted", "person")


def test_a_persons_own_reading_outweighs_a_confirmation() -> None:
    entry = only(HEARD, verdict("level three"), person("level two"),
                 action("confirm", value="level three"))  # fmt: skip
    assert entry.reading == "level two"


def test_an_entry_that_a_person_added_can_be_taken_back_and_brought_back() -> None:
    added: list[Event] = [HEARD, person("level two")]
    assert only(*added).reading == "level two"
    added.append(action("undo", "u", "undo"))
    assert fold(added, GRAMMAR.interpret) == ()
    added.append(action("undo", "undo", "redo"))
    assert only(*added).reading == "level two"


@pytest.mark.parametrize("heard", [listener("level two"), verdict("level two", "rejected")])
def test_what_was_heard_cannot_be_taken_back(heard: Event) -> None:
    assert fold([HEARD, heard, action("undo", "u")], GRAMMAR.interpret) != ()


def test_the_clock_is_as_a_person_last_set_it() -> None:
    known = datetime(2026, 4, 18, 7, 30)
    events: list[Event] = [HEARD]
    assert recording_start(events, known) == known
    events.append(action("clock", name="c1", value="2026-04-17T07:30:00+01:00"))
    assert recording_start(events, None) == datetime.fromisoformat("2026-04-17T07:30:00+01:00")
    events.append(action("clock", name="c2", value="2026-04-16T07:30:00"))
    assert recording_start(events, known) == datetime(2026, 4, 16, 7, 30)
    events.append(action("undo", "c2", "undo"))
    events.append(action("undo", "c1", "undo2"))
    assert recording_start(events, known) == known


def test_setting_the_clock_changes_no_entry() -> None:
    before = only(HEARD, verdict("level three"))
    clock = action("clock", value="2026-04-17T07:30")
    assert only(HEARD, verdict("level three"), clock) == before


def test_an_utterance_heard_as_others_makes_way_for_them() -> None:
    gone = verdict("", "rejected", id="v2", confidence=0.0, replaced_by=("u2", "u3"))
    other = Utterance(id="u2", recording="r", start_s=4.0, end_s=4.6)
    entries = fold((HEARD, verdict("level three"), other, gone), GRAMMAR.interpret)
    assert [entry.id for entry in entries] == ["u2"]


def test_an_utterance_that_a_person_has_read_makes_way_for_nothing() -> None:
    gone = verdict("", "rejected", id="v2", confidence=0.0, replaced_by=("u2",))
    assert only(HEARD, verdict("level three"), person("level two"), gone).reading == "level two"
    entry = only(HEARD, verdict("level three"), action("confirm"), gone)
    assert (entry.reading, entry.by) == ("level three", "person")


def test_a_later_verdict_brings_an_utterance_back() -> None:
    gone = verdict("", "rejected", id="v2", confidence=0.0, replaced_by=("u2",))
    assert only(HEARD, verdict("level three"), gone, verdict("level two", id="v3")).reading == (
        "level two"
    )
