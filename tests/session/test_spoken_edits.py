"""A spoken edit is bound to what it meant when it was said, and stays bound to it."""

from __future__ import annotations

import pytest

from tests.session.said import GRAMMAR, ROSTER, kept, reps_of, said, session_of, short
from voicelog.model import Action, Entry, Event, Reading, Rep
from voicelog.session.entries import fold
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.session.variants import assemble


def read_by_a_person(utterance: str, words: str) -> Reading:
    return Reading(id=f"p-{utterance}", utterance=utterance, words=words, by="person", who="Anna")


def reps(events: list[Event]) -> tuple[Rep, ...]:
    (session,) = assemble(fold(events, GRAMMAR.interpret), ROSTER, dog="Bracken")
    return tuple(session.reps)


def voided(entries: tuple[Entry, ...]) -> list[str]:
    return [entry.id for entry in entries if entry.voided]


# --- strike that ----------------------------------------------------------------------------


def test_strike_that_voids_the_last_note() -> None:
    assert voided(said("here came", "level 2 came", "strike that")) == ["u001"]


def test_strike_that_said_again_voids_the_one_before() -> None:
    lines = ["here came", "level 2 came", "level 3 came", "strike that", "strike that"]
    assert voided(said(*lines)) == ["u001", "u002"]


def test_strike_that_leaves_edits_and_questions_alone() -> None:
    assert voided(said("here came", "say level", "flag that", "strike that")) == ["u000"]


def test_strike_that_passes_over_what_was_not_heard() -> None:
    assert voided(said("here came", "xgood girl", "strike that")) == ["u000"]


def test_strike_that_with_nothing_before_it_voids_nothing() -> None:
    assert voided(said("strike that", "here came")) == []


def test_a_struck_piece_is_as_if_never_said() -> None:
    assert [short(r) for r in reps_of("here", "level 30", "strike that", "level 3", "came")] == [
        "1 | continuous | 3 | complied | "
    ]
    assert [short(r) for r in reps_of("here", "came", "strike that", "ignored")] == [
        "1 | none |  | ignored | "
    ]


def test_a_struck_condition_no_longer_holds() -> None:
    assert reps_of("drill recall", "drill gun", "strike that", "here came")[0].drill == "recall"


@pytest.mark.parametrize("before", [[], ["drill recall"], ["start session Bracken"]], ids=str)
def test_a_struck_rep_stays_void_and_the_numbers_stay(before: list[str]) -> None:
    lines = [*before, "level 1 came", "strike that", "level 2 came", "level 3 came"]
    assert [short(r) for r in reps_of(*lines)] == [
        "1 | continuous | 1 | complied |  | void",
        "2 | continuous | 2 | complied | ",
        "3 | continuous | 3 | complied | ",
    ]


def test_every_rep_may_be_struck() -> None:
    session = session_of("level 1 came", "level 2 came", "strike that", "strike that")
    assert [rep.void for rep in session.reps] == [True, True]
    assert session.entries == ("u000", "u001", "u002", "u003")


def test_what_was_struck_while_paused_or_in_a_memo_leaves_no_rep() -> None:
    events = kept("here came", "pause log", "level 9 ignored", "resume log", "here came")
    events.append(Action(id="void", action="void", target="u002", who="Anna"))
    assert [rep.void for rep in reps(events)] == [False, False]


def test_what_was_struck_after_the_end_leaves_no_rep() -> None:
    events = kept("here came", "end session", "level 9 ignored")
    events.append(Action(id="void", action="void", target="u002", who="Anna"))
    assert len(reps(events)) == 1


def test_a_strike_struck_by_a_person_takes_nothing_back() -> None:
    events = kept("here came", "strike that")
    events.append(Action(id="void", action="void", target="u001", who="Anna"))
    assert [rep.void for rep in reps(events)] == [False]


def test_strike_that_in_the_breath_of_a_note_strikes_the_words_before_it() -> None:
    lines = ["level 1 came", "level 30 ignored strike that"]
    assert [short(r) for r in reps_of(*lines)] == [
        "1 | continuous | 1 | complied | ",
        "2 | continuous | 30 | ignored |  | void",
    ]


def test_words_after_the_strike_in_the_same_breath_count() -> None:
    assert [short(r) for r in reps_of("here", "level 30 strike that level 3", "came")] == [
        "1 | continuous | 3 | complied | "
    ]
    assert [short(r) for r in reps_of("level 9 came strike that level 2 came")] == [
        "1 | continuous | 9 | complied |  | void",
        "2 | continuous | 2 | complied | ",
    ]


def test_a_person_may_read_a_strike_out_of_a_breath() -> None:
    events = kept("level 1 came", "level 3 came strike that")
    events.append(read_by_a_person("u001", "level 3 came"))
    assert [rep.void for rep in reps(events)] == [False, False]


# --- strike rep N ---------------------------------------------------------------------------


def test_strike_rep_voids_the_rep_of_that_number() -> None:
    lines = ["level 1 came", "level 2 came", "level 3 came", "strike rep two"]
    assert [rep.void for rep in reps_of(*lines)] == [False, True, False]


def test_strike_rep_with_no_such_rep_voids_nothing() -> None:
    assert [rep.void for rep in reps_of("level 1 came", "strike rep 7")] == [False]


def test_strike_rep_counts_in_the_session_of_the_dog_being_worked() -> None:
    entries = said("start session Bracken", "here came", "next dog Wren", "here came",
                   "strike rep 1")  # fmt: skip
    bracken, wren = assemble(entries, ROSTER)
    assert [bracken.reps[0].void, wren.reps[0].void] == [False, True]


def test_numbers_said_after_a_strike_mean_the_same_reps_as_before() -> None:
    lines = ["level 1 came", "strike that", "level 2 came", "level 3 came", "strike rep 3"]
    assert [rep.void for rep in reps_of(*lines)] == [True, False, True]


# --- correction -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "rep"),
    [
        ("level 2", "2 | continuous | 2 | complied | ear flick"),
        ("tap 2", "2 | momentary | 2 | complied | ear flick"),
        ("no button", "2 | none |  | complied | ear flick"),
        ("ignored", "2 | continuous | 3 | ignored | ear flick"),
        ("came slow head turn", "2 | continuous | 3 | slow | head turn"),
        ("tap 2 ignored nothing", "2 | momentary | 2 | ignored | nothing"),
    ],
)
def test_a_correction_amends_what_it_speaks_of_in_the_last_rep(words: str, rep: str) -> None:
    lines = ["here level 1 came", "here level 3 came ear flick", f"correction {words}"]
    assert [short(r) for r in reps_of(*lines)] == ["1 | continuous | 1 | complied | ", rep]


def test_a_correction_may_amend_a_rep_still_open() -> None:
    assert [short(r) for r in reps_of("here", "level 30", "correction level 3", "came")] == [
        "1 | continuous | 3 | complied | "
    ]


def test_a_corrected_outcome_closes_the_open_rep() -> None:
    assert [short(r) for r in reps_of("level 3", "correction level 2 ignored", "level 3 came")] == [
        "1 | continuous | 2 | ignored | ",
        "2 | continuous | 3 | complied | ",
    ]


def test_a_correction_in_the_breath_of_a_rep_amends_that_rep() -> None:
    assert [short(r) for r in reps_of("level 1 came", "level 30 correction level 3 came")] == [
        "1 | continuous | 1 | complied | ",
        "2 | continuous | 3 | complied | ",
    ]


def test_only_the_words_after_correction_amend() -> None:
    reps = reps_of("level 1 came", "here no button came correction came slow")
    assert [short(r) for r in reps] == [
        "1 | continuous | 1 | complied | ",
        "2 | none |  | slow | ",
    ]


def test_a_breath_goes_on_after_a_correction() -> None:
    entries = said("level 1 came", "correction level 2 next dog Wren", dog="Bracken")
    bracken, wren = assemble(entries, ROSTER, dog="Bracken")
    assert (bracken.reps[0].peak_level, wren.dog.name) == (2, "Wren")


@pytest.mark.parametrize("words", ["thumb off", "dial 9", "committed"])
def test_a_correction_without_words_to_replace_leaves_the_rep(words: str) -> None:
    assert [short(r) for r in reps_of("level 3 came", f"correction {words}")] == [
        "1 | continuous | 3 | complied | "
    ]


def test_a_correction_of_the_cue_keeps_its_time() -> None:
    (rep,) = reps_of("0 here", "3 correction recall pips", "6 came")
    assert (rep.cue, rep.cue_by, rep.cues, rep.latency_s) == ("recall pips", "whistle", 1, 6.0)


def timeline(*lines: str) -> list[tuple[float, str, str, object]]:
    session = session_of(*lines)
    return [(m.at_s, m.kind, m.name, m.value) for m in session.marks]


def test_what_is_corrected_keeps_its_place_and_time_in_the_session() -> None:
    lines = ("0 here", "3 level 30", "4 yelped", "6 came")
    assert timeline(*lines, "20 correction level 3") == [
        (0.0, "cue", "here", "voice"),
        (3.0, "press", "continuous", 3),
        (4.0, "sign", "yelped", "strong"),
        (6.0, "outcome", "complied", "came"),
    ]
    assert timeline(*lines, "20 correction ignored level 3 head turn") == [
        (0.0, "cue", "here", "voice"),
        (3.0, "press", "continuous", 3),
        (4.0, "sign", "head turn", "noticed"),
        (6.0, "outcome", "ignored", "ignored"),
    ]


def test_a_press_added_by_correction_comes_after_the_cue_and_before_the_outcome() -> None:
    lines = ("0 here", "3 came", "20 correction level 3")
    assert [(at, kind) for at, kind, _, _ in timeline(*lines)] == [
        (0.0, "cue"),
        (0.0, "press"),
        (3.0, "outcome"),
    ]


def test_a_sign_goes_with_the_corrected_level_at_its_own_time() -> None:
    (rep,) = reps_of("0 here", "3 level 30", "4 yelped", "6 came", "20 correction level 3")
    assert [(m.at_s, m.level) for m in rep.sign_marks] == [(4.0, 3)]
    (rep,) = reps_of("0 level 3", "4 yelped", "6 came", "20 correction head turn")
    assert [(m.at_s, m.sign, m.level) for m in rep.sign_marks] == [(4.0, "head turn", 3)]


def test_a_correction_of_the_count_keeps_the_cue() -> None:
    (rep,) = reps_of("here came", "correction called twice")
    assert (rep.cue, rep.cues) == ("here", 2)


def test_a_notch_after_a_correction_goes_on_from_the_corrected_level() -> None:
    assert [m.level for m in reps_of("level 30", "correction level 3", "notch up")[0].levels] == [
        3,
        4,
    ]


def test_a_correction_names_its_entry_in_the_rep() -> None:
    assert "u001" in reps_of("level 3 came", "correction level 2")[0].entries


def test_a_correction_without_a_rep_changes_nothing() -> None:
    assert reps_of("drill recall", "correction level 3 came") == ()


def test_a_correction_said_in_doubt_corrects_nothing_and_doubts_the_rep() -> None:
    assert [short(r) for r in reps_of("level 3 came", "?correction level 2")] == [
        "1 | continuous | 3 | complied |  | doubtful"
    ]


# --- flag -----------------------------------------------------------------------------------


def test_flag_that_marks_the_last_note_and_changes_nothing() -> None:
    session = session_of("here came", "level 2 came", "flag that")
    assert session.flagged == ("u001",)
    assert [rep.void or rep.doubtful for rep in session.reps] == [False, False]


def test_flag_that_in_the_breath_of_a_note_flags_that_note() -> None:
    assert session_of("here came", "level 2 came flag that").flagged == ("u001",)


# --- bound, once ----------------------------------------------------------------------------


def test_a_strike_stays_where_it_was_when_an_earlier_note_is_read_anew() -> None:
    events = kept("level 1 came", "xgood girl", "level 3 came", "strike that")
    before = reps(events)
    events.append(read_by_a_person("u001", "level 2 came"))
    assert [(rep.peak_level, rep.void) for rep in before] == [(1, False), (3, True)]
    assert [(rep.peak_level, rep.void) for rep in reps(events)] == [
        (1, False),
        (2, False),
        (3, True),
    ]


def test_strike_rep_stays_with_its_rep_when_the_numbers_move() -> None:
    events = kept("level 1 came", "level 2 came", "level 3 came", "strike rep 2")
    events.append(read_by_a_person("u000", "drill recall"))
    assert [(rep.number, rep.peak_level, rep.void) for rep in reps(events)] == [
        (1, 2, True),
        (2, 3, False),
    ]


def test_a_correction_stays_with_its_rep_when_one_is_found_after_it() -> None:
    events = kept("level 1 came", "xgood girl", "correction ignored", "level 3 came")
    events.append(read_by_a_person("u001", "level 2 came"))
    assert [(rep.peak_level, rep.outcome) for rep in reps(events)] == [
        (1, "ignored"),
        (2, "complied"),
        (3, "complied"),
    ]


def test_a_person_reads_the_words_of_a_correction_anew_and_its_aim_stays() -> None:
    events = kept("level 1 came", "level 2 came", "correction level 3")
    events.append(read_by_a_person("u002", "correction level 4"))
    assert [rep.peak_level for rep in reps(events)] == [1, 4]


@pytest.mark.parametrize("line", ["?strike that", "xstrike that", "strike"])
def test_only_an_accepted_edit_asks_for_an_action(line: str) -> None:
    entries = said("here came", line if line != "strike" else "xstrike")
    assert resolve_spoken_edit(entries[-1], entries[:-1], ROSTER, dog="Bracken") is None


def test_the_same_edit_asks_for_the_same_action() -> None:
    before, strike = said("here came"), said("strike that", dog="Bracken")[0]
    strike = strike.model_copy(update={"id": "u001"})
    first = resolve_spoken_edit(strike, before, ROSTER)
    assert first is not None
    assert (first.action, first.target, first.cause) == ("void", "u000", "u001")
    assert resolve_spoken_edit(strike, before, ROSTER) == first


def test_a_corrected_outcome_has_the_place_of_the_last_that_was_said() -> None:
    """The rep came to its end with it: what the dog answered is the press before."""
    session = session_of("here ignored level 6 came", "correction came")
    assert [one.name for one in session.marks if one.kind in ("press", "outcome")] == [
        "continuous",
        "complied",
    ]
