"""A breath that calls another dog is not this dog's, until a person says whose it is."""

from __future__ import annotations

import pytest

from tests.session.said import GRAMMAR, ROSTER, kept, reps_of, said, short
from voicelog.app.derive import Derivation, derive
from voicelog.app.dogs_named import dogs_named
from voicelog.app.review.review_queue import review_queue
from voicelog.grammar.strange_names import StrangeBegin
from voicelog.model import Action, Dog, Event, Reading, Roster, Session
from voicelog.model.adding import AddedFile, HeardFile, NamedDog
from voicelog.report.added_words import added_words
from voicelog.report.summary import summarise
from voicelog.session.entries import fold
from voicelog.session.variants import (
    VariantsWalk,
    assemble,
    session_variants,
    with_other_dog_doubt,
)
from voicelog.store.records import Recording

START = "0 start session Bracken"
CALLED = "10 wren here level nine came"


def seen(*lines: str, roster: Roster = ROSTER) -> tuple[list[str], list[str], Session]:
    """The statuses of the entries, the reps in one line each, and the last session."""
    entries = said(*lines, roster=roster)
    sessions = assemble(entries, roster)
    statuses: list[str] = [entry.status for entry in with_other_dog_doubt(entries, sessions)]
    return statuses, [short(rep) for session in sessions for rep in session.reps], sessions[-1]


def test_a_breath_that_names_another_dog_is_to_be_checked() -> None:
    statuses, reps, session = seen(START, CALLED)
    assert statuses == ["accepted", "doubtful"]
    assert reps == ["1 | continuous | 9 | complied |  | doubtful"]
    assert session.others == {"u001": ("Wren",)}


def test_a_cue_that_only_other_dogs_have_calls_them() -> None:
    roster = Roster(
        dogs=(Dog(name="Bracken"), *(Dog(name=n, cues=("gather",)) for n in ("Fern", "Wren")))
    )
    _, reps, session = seen(START, "10 gather level nine came", roster=roster)
    assert reps == ["1 | continuous | 9 | complied |  | doubtful"]
    assert session.others == {"u001": ("Fern", "Wren")}


@pytest.mark.parametrize(
    "line", ["10 bracken here level nine came", "10 here level nine came", "10 level nine came"]
)
def test_a_breath_of_this_dog_is_sure(line: str) -> None:
    statuses, reps, session = seen(START, line)
    assert statuses[1] == "accepted"
    assert "doubtful" not in reps[0]
    assert not session.others


@pytest.mark.parametrize(
    "lines",
    [
        ["10 wren here", "11.8 level nine came"],
        ["10 level nine came", "11.8 wren here"],
        ["10 wren here", "11.8 level nine", "13.6 came"],
        ["10 wren here", "11.8 distance 20 metres", "13.6 level nine came"],
        ["10 wren here", "11.8 xwhat she said then", "13.6 level nine came"],
        ["10 xwren", "11.8 here level nine came"],
    ],
    ids=str,
)
def test_a_breath_may_be_cut_into_utterances(lines: list[str]) -> None:
    statuses, reps, session = seen(START, *lines)
    assert len(reps) == 1
    assert reps[0].endswith("| doubtful")
    told = [n for n, line in enumerate(lines, 1) if "xw" not in line and "came" in line]
    assert all(statuses[n] == "doubtful" for n in told)
    assert set(session.others.values()) == {("Wren",)}


@pytest.mark.parametrize(
    "lines",
    [
        ["10 wren heel", "15 level nine came"],
        ["10 wren heel", "11.8 bracken here level nine came"],
        ["10 bracken here level nine came", "11.8 wren heel"],
    ],
    ids=str,
)
def test_another_breath_is_sure(lines: list[str]) -> None:
    statuses, reps, _ = seen(START, *lines)
    assert sorted(statuses) == ["accepted", "accepted", "doubtful"]
    assert len(reps) == 1
    assert "doubtful" not in reps[0]


@pytest.mark.parametrize("begun", ["start session Wren", "next dog Wren"])
def test_a_switch_of_dogs_in_the_breath_is_no_doubt(begun: str) -> None:
    statuses, reps, session = seen(START, f"10 level two came {begun} wren here level nine came")
    assert statuses == ["accepted", "accepted"]
    assert len(reps) == 2
    assert not any("doubtful" in rep for rep in reps)
    assert session.dog.name == "Wren"


def test_wrong_dog_makes_the_named_one_this_dog() -> None:
    statuses, reps, session = seen(START, CALLED, "20 wrong dog Wren")
    assert statuses == ["accepted"] * 3
    assert reps == ["1 | continuous | 9 | complied | "]
    assert session.dog.name == "Wren"


def test_with_no_dog_named_none_is_another() -> None:
    assert seen("10 wren here level nine came")[0] == ["accepted"]


@pytest.mark.parametrize("lines", [["5 pause log", CALLED], ["5 memo", CALLED]], ids=str)
def test_what_the_log_does_not_take_down_is_not_asked_about(lines: list[str]) -> None:
    statuses, reps, session = seen(START, *lines)
    assert (statuses, reps, session.others) == (["accepted"] * 3, [], {})


def test_a_finding_that_the_breath_would_raise_is_raised_on_doubt() -> None:
    events = kept("0 start session Bracken", "5 ceiling 5", CALLED)
    derived = derive(Recording(id="r", sha256="0" * 64, roster=ROSTER), events, GRAMMAR)
    found = {finding.rule: finding for finding in derived.line.findings}
    assert found["over-ceiling"].on_doubt
    assert [entry.status for entry in derived.line.entries] == ["accepted", "accepted", "doubtful"]
    assert [entry.status for entry in derived.entries] == ["accepted", "accepted", "doubtful"]


def _after(*deeds: Event, lines: tuple[str, ...] = (START, CALLED)) -> tuple[list[str], list[str]]:
    entries = fold([*kept(*lines), *deeds], GRAMMAR.interpret)
    sessions = assemble(entries, ROSTER)
    statuses: list[str] = [entry.status for entry in with_other_dog_doubt(entries, sessions)]
    return statuses, [f"{s.dog.name} {short(rep)}" for s in sessions for rep in s.reps]


def _moved(entry: str, dog: str) -> Action:
    return Action(id=f"a-{entry}-{dog}", action="move", target=entry, value=dog)


def test_that_the_words_are_right_does_not_say_whose_they_are() -> None:
    confirmed = Action(id="a1", action="confirm", target="u001")
    assert _after(confirmed)[0] == ["accepted", "doubtful"]
    retyped = Reading(
        id="r1", utterance="u001", words="wren heel level nine came", by="person", who="Anna"
    )
    assert _after(retyped) == (
        ["accepted", "doubtful"],
        ["Bracken 1 | continuous | 9 | complied |  | doubtful"],
    )


def test_words_mended_by_a_person_are_this_dogs() -> None:
    mended = Reading(id="r1", utterance="u001", words="level nine came", by="person", who="Anna")
    assert _after(mended) == (["accepted"] * 2, ["Bracken 1 | continuous | 9 | complied | "])


def test_a_move_settles_it() -> None:
    assert _after(_moved("u001", "Bracken")) == (
        ["accepted"] * 2,
        ["Bracken 1 | continuous | 9 | complied | "],
    )
    lines = ("0 start session Wren", "5 next dog Bracken", CALLED)
    assert _after(_moved("u002", "Wren"), lines=lines) == (
        ["accepted"] * 3,
        ["Wren 1 | continuous | 9 | complied | "],
    )


def test_a_call_that_was_moved_away_leaves_its_neighbours_in_doubt() -> None:
    lines = ("0 start session Wren", "5 next dog Bracken", "10 wren here", "11.5 level nine came")
    statuses, reps = _after(_moved("u002", "Wren"), lines=lines)
    assert statuses == ["accepted", "accepted", "accepted", "doubtful"]
    assert "Bracken 1 | continuous | 9 | complied |  | doubtful" in reps


def test_a_struck_call_was_never_made() -> None:
    lines = (START, "10 wren here", "11.5 level nine came")
    void = Action(id="a1", action="void", target="u001")
    assert _after(void, lines=lines) == (
        ["accepted"] * 3,
        ["Bracken 1 | continuous | 9 | complied | "],
    )


def test_the_other_worlds_take_it_in_doubt_too() -> None:
    (world,) = session_variants(said(START, CALLED), ROSTER)
    assert [rep.peak_level for rep in world.with_doubtful.reps] == [9]
    assert [rep for session in world.sure for rep in session.reps] == []


def test_a_call_with_nothing_else_opens_no_rep() -> None:
    assert reps_of("start session Bracken", "Wren here") == ()


def test_what_follows_a_name_that_is_not_known_is_no_known_dogs() -> None:
    stranger: StrangeBegin = "start"
    told = ["start session bracken", "collar fitted", "here no button came"]
    lines = [*told, "xstart session fern", "here no button came", "start session wren", "here came"]
    entries = [one.model_copy(update={"heard": one.reading}) for one in said(*lines)]
    walk = VariantsWalk(
        ROSTER, by_stranger=lambda words: stranger if words.endswith("fern") else None
    )
    found = [one.with_doubtful for one in walk.variants(entries)]
    assert [(one.dog.name, len(one.reps)) for one in found] == [
        ("Bracken", 1),
        ("", 1),
        ("Wren", 1),
    ]
    assert found[1].condition("collar") is None


def test_nothing_counts_after_a_name_that_may_be_of_no_dog_on_the_roster() -> None:
    """A dog that was given with the recording is no more than that: another one was named."""
    lines = ("start session wren", "here level two came", "yelped")
    heard = kept(*lines, dog="Wren")
    recording = Recording(id="r", dog="Wren", roster=ROSTER, duration_s=20)

    def derived(**changed: object) -> tuple[Derivation, tuple[NamedDog, ...]]:
        begun = [e.model_copy(update=changed) if e.id == "v000" else e for e in heard]
        return derive(recording, begun, GRAMMAR), dogs_named(begun, GRAMMAR, "Wren")

    now, named = derived()
    assert (named, [rep.doubtful for rep in now.line.reps]) == ((), [False])
    assert [one.on_doubt for one in now.matters] == [False]

    # to check, but as near to her name as to any other: whoever chose the dog is believed
    now, named = derived(status="doubtful", confidence=0.9)
    assert (named, [rep.doubtful for rep in now.line.reps]) == ((), [False])
    assert [(one.dog, one.on_doubt) for one in now.matters] == [("Wren", False)]

    now, named = derived(status="doubtful", confidence=0.5, stranger="B R AE K AH N")
    assert named == (NamedDog(0.0, "Wren", "bracken"),)
    assert [rep.doubtful for rep in now.line.reps] == [True]
    assert [(one.dog, one.on_doubt) for one in now.matters] == [("Wren", True)]
    (session,) = now.sessions
    made = summarise(session, now.line.findings, now.line.entries, None)
    assert made.facts[0].value == "Wren (check)"
    words = "whether this session is Wren's; no rep after it counts until then"
    assert words in made.to_check[0].words
    (first, *_) = review_queue(now.entries, (), GRAMMAR.interpret, session)
    assert (first.entry, words in first.why) == ("u000", True)
    added = added_words(AddedFile(HeardFile(2, 1, 0, None, dated=True, named=named)))
    assert "it sounded like 'bracken' and is taken for Wren" in added
