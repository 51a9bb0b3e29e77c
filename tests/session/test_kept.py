"""What is kept of a session and gone on with comes to the same as all of it walked anew."""

from __future__ import annotations

import operator
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import fields, replace
from itertools import cycle
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.session.said import GRAMMAR, ROSTER, kept
from tests.strategies import PIECE, lines
from voicelog.model import Action, Entry, Event, Reading, Roster, Utterance, Verdict
from voicelog.safety.check import FindingsWalk, findings
from voicelog.safety.history import History
from voicelog.safety.settings import Settings
from voicelog.session.entries import EntriesWalk, fold
from voicelog.session.kept_states import KeptStates
from voicelog.session.recording_builder import SessionsWalk, _RecordingBuilder
from voicelog.session.rep_builder import Press, RepBuilder
from voicelog.session.variants import VariantsWalk, session_variants

LINES = lines(PIECE, ("", "", "", "?", "x"), most=24)
AGAIN = ("here level 4 came", "came", "snapped", "strike that", "next dog wren", "wren here came")


@st.composite
def grown(draw: st.DrawFn) -> list[Event]:
    """Events as they come in a session: what is said, and among it late verdicts, readings, voids,
    confirmations, moves to another dog and undos of any utterance so far."""
    said = kept(*draw(LINES), dog="Bracken")
    events: list[Event] = []
    for event in said:
        events.append(event)
        heard = [one.utterance for one in events if isinstance(one, Verdict)]
        if heard and draw(st.integers(0, 5)) == 0:
            utterance = draw(st.sampled_from(heard))
            events.append(draw(_late(f"late{len(events)}", utterance, tuple(events))))
    return events


def _late(name: str, utterance: str, events: Sequence[Event]) -> st.SearchStrategy[Event]:
    done = [one.id for one in events if isinstance(one, Action | Reading)] or [utterance]
    words, actions = st.sampled_from(AGAIN), st.sampled_from(["void", "confirm", "move"])
    return st.one_of(
        st.builds(
            Verdict,
            id=st.just(name),
            utterance=st.just(utterance),
            status=st.sampled_from(["accepted", "doubtful", "rejected"]),
            words=words,
            confidence=st.just(0.7),
            judge=st.just("late"),
        ),
        st.builds(
            Reading, id=st.just(name), utterance=st.just(utterance), words=words,
            by=st.just("person"), who=st.just("Anna"),
        ),
        st.builds(
            lambda action: Action(
                id=name, action=action, target=utterance, by="person",
                value="Wren" if action == "move" else None,
            ),
            actions,
        ),
        st.builds(
            lambda target: Action(id=name, action="undo", target=target, by="person"),
            st.sampled_from(done),
        ),
    )  # fmt: skip


@settings(max_examples=10)
@given(grown())
def test_the_kept_walk_is_the_whole_one(events: list[Event]) -> None:
    entries_walk = EntriesWalk(GRAMMAR.interpret)
    variants_walk = VariantsWalk(ROSTER, dog="Bracken")
    even_walk = VariantsWalk(ROSTER, dog="Bracken", even=2)
    for many in range(1, len(events) + 1):
        if not isinstance(events[many - 1], Action | Verdict | Reading):
            continue
        entries = entries_walk.entries(events[:many])
        whole = fold(events[:many], GRAMMAR.interpret)
        assert entries == whole
        anew = session_variants(whole, ROSTER, dog="Bracken")
        assert variants_walk.variants(entries) == anew
        assert even_walk.variants(entries) == anew


@st.composite
def corrected(draw: st.DrawFn) -> list[list[Event]]:
    """The events of an evening: all that was said, then one correction more each time, of any
    utterance: read otherwise, voided, moved, undone, or put in between."""
    events = kept(*draw(LINES), dog="Bracken")
    states = [list(events)]
    for number in range(draw(st.integers(1, 6))):
        heard = [one.utterance for one in events if isinstance(one, Verdict)]
        if draw(st.integers(0, 3)) == 0:
            start_s = draw(st.sampled_from(range(len(heard)))) * 3.0 + 1.5
            name = f"put{number}"
            events.append(Utterance(id=name, recording="r", start_s=start_s, end_s=start_s + 1))
            events.append(
                Reading(
                    id=f"{name}.r", utterance=name, words=draw(st.sampled_from(AGAIN)),
                    by="person", who="Anna",
                )
            )  # fmt: skip
        else:
            utterance = draw(st.sampled_from(heard))
            events.append(draw(_late(f"late{number}", utterance, tuple(events))))
        states.append(list(events))
    return states


@settings(max_examples=8)
@given(corrected())
def test_what_followed_a_correction_before_is_what_follows_it_whole(
    states: list[list[Event]],
) -> None:
    entries_walk = EntriesWalk(GRAMMAR.interpret)
    walks = [VariantsWalk(ROSTER, dog="Bracken", even=even) for even in (1, 3)]
    found = defaultdict[str, FindingsWalk](lambda: FindingsWalk(even=5))
    for wore, events in zip(cycle([(), ("Bracken",)]), states, strict=False):
        anew = session_variants(fold(events, GRAMMAR.interpret), ROSTER, dog="Bracken", wore=wore)
        for walk in walks:
            assert walk.variants(entries_walk.entries(events), wore) == anew
        for one in walks[-1].variants(entries_walk.entries(events), wore):
            worlds = one.sure, one.with_doubtful, one.uncorrected, History(), Settings()
            assert found[one.with_doubtful.id].findings(*worlds) == findings(*worlds)


def test_what_follows_a_correction_is_not_walked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    taken: list[str] = []
    take = _RecordingBuilder.take

    def counted(self: _RecordingBuilder, entry: Entry) -> None:
        taken.append(entry.id)
        take(self, entry)

    monkeypatch.setattr(_RecordingBuilder, "take", counted)
    lines = ["here level 3 came", "here level 2 came", "strike that"] * 25
    before = fold(kept("start session bracken", *lines), GRAMMAR.interpret)
    walk = SessionsWalk(ROSTER, even=8)
    walk.sessions(before)
    for place in (10, 61, 34, 7):  # each time the whole of it is there to take over from
        taken.clear()
        entry = before[place].model_copy(update={"reading": "here level 4 came"})
        entry = entry.model_copy(update={"phrases": GRAMMAR.interpret(entry.reading) or ()})
        before = (*before[:place], entry, *before[place + 1 :])
        (walked,) = walk.sessions(before)
        assert len(taken) <= 32, (place, len(taken))
        assert (walked,) == SessionsWalk(ROSTER).sessions(before)


def test_findings_after_a_correction_that_come_out_as_they_were_are_the_same_objects() -> None:
    lines = ["here level 3 yelped came", "here level 2 ignored"] * 12
    entries = fold(kept("start session bracken", *lines), GRAMMAR.interpret)
    walk, found = VariantsWalk(ROSTER, even=4), FindingsWalk(even=4)
    told = []
    for reading in ("here level 2 ignored", "here level 9 ignored"):
        entry = entries[4].model_copy(
            update={"reading": reading, "phrases": GRAMMAR.interpret(reading) or ()}
        )
        (one,) = walk.variants((*entries[:4], entry, *entries[5:]))
        worlds = one.sure, one.with_doubtful, one.uncorrected, History(), Settings()
        told.append(found.findings(*worlds))
        assert told[-1] == findings(*worlds)
    known = {id(one) for one in told[0]}
    made = [one for one in told[1] if id(one) not in known]
    assert len(made) < len(told[1]) / 3


@pytest.mark.parametrize("wore", [(), ("Bracken",)])
def test_reps_that_come_out_as_they_were_are_the_same_objects(wore: tuple[str, ...]) -> None:
    said = ["start session bracken", "?here level 2 came"] + ["here level 3 came"] * 20
    before = fold(kept(*said), GRAMMAR.interpret)
    bracken = ROSTER.dogs[0].model_copy(update={"ceiling": None if wore else 5})
    walk = VariantsWalk(Roster(dogs=(bracken,)), even=4)
    first = walk.variants(before, wore)[0].with_doubtful
    after = (before[0], before[1].model_copy(update={"status": "accepted"}), *before[2:])
    then = walk.variants(after, wore)[0].with_doubtful
    assert then.dog.has_collar is not bool(wore)
    assert [one.number for one in then.reps] == list(range(1, 22))
    assert all(map(operator.is_, then.reps[1:], first.reps[1:]))
    assert all(map(operator.is_, then.marks, first.marks))


def test_what_is_settled_is_not_walked_again() -> None:
    walked: list[int] = []
    states = KeptStates[list[int]](list, list)

    def walk(*items: int) -> None:
        state = states.resume(items)
        walked.extend(items[len(state) :])
        state.extend(items[len(state) :])
        states.keep(state, items)

    for many in range(1, 201):
        walk(*range(many))
    assert walked == list(range(200))
    walked.clear()
    walk(*range(197), -1)  # an item near the end is another one
    assert len(walked) <= 16
    walked.clear()
    walk(0, -1)
    assert walked == [0, -1]


def test_an_even_walk_goes_on_from_before_any_change() -> None:
    walked: list[int] = []
    states = KeptStates[list[int]](list, list, even=4)

    def walk(*items: int) -> None:
        walked.clear()
        state = states.resume(items)
        for item in items[len(state) :]:
            states.keep_on_the_way(state, items[: len(state)])
            walked.append(item)
            state.append(item)
        assert tuple(state) == items
        states.keep(state, items)

    walk(*range(100))
    walk(*range(50), -1, *range(51, 100))
    assert len(walked) == 52
    walk(*range(1000))  # of more than so many states, every second one stays
    walk(*range(500), -1)
    assert len(walked) <= 500 - 480 + 33


def test_a_rep_is_known_by_all_that_was_told_of_it() -> None:
    rep = RepBuilder(number=1, id="e.1", start_s=0.0, end_s=1.0, collar_on=None)
    for one in fields(RepBuilder):
        beside = ("number", "last_cue_s", "shares_with", "left_at")
        if one.name in beside:  # of no weight for the rep
            continue
        value = getattr(rep, one.name)
        other: Any = {"other": None} if isinstance(value, dict) else "other"
        if isinstance(value, list):
            other = [Press(0.0, "e", "vibrate", None)] if one.name == "presses" else ["other"]
        told = replace(rep, **{one.name: other}).all_told()
        assert told != rep.all_told(), one.name
