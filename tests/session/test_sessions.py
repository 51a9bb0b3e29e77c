"""Conditions hold until changed; a session is one dog's; what is silent stays silent."""

from __future__ import annotations

import pytest

from tests.session.said import ROSTER, reps_of, said, session_of, short
from voicelog.model import Session
from voicelog.session.variants import assemble


def sessions_of(*lines: str, dog: str | None = "Bracken") -> tuple[Session, ...]:
    return assemble(said(*lines, dog=dog), ROSTER, dog=dog)


# --- conditions -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "name", "value", "unit"),
    [
        ("drill steady", "drill", "steady", None),
        ("distraction medium", "distraction", "medium", None),
        ("distraction high gunfire", "distraction_source", "gunfire", None),
        ("distance 20 metres", "distance", "20", "metres"),
        ("distance 30 yards", "distance", "30", "yards"),
        ("location woods", "location", "woods", None),
        ("temperature 21", "temperature", "21", "C"),
        ("temperature minus 3", "temperature", "-3", "C"),
        ("ceiling 12", "ceiling", "12", None),
        ("shot 80 yards", "shot", "80", "yards"),
        ("handler Joe", "handler", "Joe", None),
        ("collar fitted", "collar", "fitted", None),
        ("collar number 4", "collar_number", "4", None),
        ("test failed", "test", "failed", None),
        ("fit check two fingers", "fit", "2", None),
        ("skin red", "skin", "red", None),
        ("coat wet", "coat", "wet", None),
        ("line trailing", "line", "trailing", None),
    ],
)
def test_what_is_said_of_the_work_is_a_condition(
    words: str, name: str, value: str, unit: str | None
) -> None:
    held = {c.name: (c.value, c.unit, c.at_s) for c in session_of(f"5 {words}").conditions}
    assert held[name] == (value, unit, 5.0)


def test_the_unit_of_temperature_comes_from_the_settings() -> None:
    (session,) = assemble(said("temperature 70"), ROSTER, dog="Bracken", temperature_unit="F")
    assert [(c.value, c.unit) for c in session.conditions] == [("70", "F")]


def test_conditions_hold_until_changed() -> None:
    reps = reps_of(
        "drill recall", "distraction low birds", "distance 20 metres", "here came",
        "here came", "distraction high", "here came", "drill stop",
        "distance 30 yards", "here came",
    )  # fmt: skip
    assert [(r.drill, r.distraction, r.distance, r.distance_unit) for r in reps] == [
        ("recall", "low", 20, "metres"),
        ("recall", "low", 20, "metres"),
        ("recall", "high", 20, "metres"),
        ("stop", "high", 30, "yards"),
    ]


def test_a_condition_said_in_the_breath_of_a_rep_holds_for_it() -> None:
    assert reps_of("distraction low here came")[0].distraction == "low"


def test_the_distance_of_a_shot_is_not_the_distance_of_the_dog() -> None:
    assert reps_of("shot 80 metres", "here came")[0].distance is None


# --- dogs -----------------------------------------------------------------------------------


def test_next_dog_keeps_place_weather_and_handler_and_wipes_the_rest() -> None:
    _, wren = sessions_of(
        "start session Bracken", "handler Anna", "location woods", "temperature 12",
        "drill recall", "distraction low", "distance 20 metres", "ceiling 9", "collar fitted",
        "line trailing", "coat wet", "next dog Wren", "here came",
    )  # fmt: skip
    assert {c.name: c.value for c in wren.conditions} == {
        "handler": "Anna",
        "location": "woods",
        "temperature": "12",
    }
    (rep,) = wren.reps
    assert (rep.drill, rep.distraction, rep.distance, rep.mode) == (None, None, None, "none")


def test_several_dogs_in_one_recording_have_their_own_sessions_and_numbers() -> None:
    sessions = sessions_of(
        "0 start session Bracken", "here came", "here ignored", "20 next dog Wren", "here came",
        "30 end session", "60 start session Bracken", "here came", "90 end session",
    )  # fmt: skip
    assert [(s.dog.name, s.start_s, s.end_s) for s in sessions] == [
        ("Bracken", 0.0, 7.0),
        ("Wren", 20.0, 31.0),
        ("Bracken", 60.0, 91.0),
    ]
    assert [[(rep.number, rep.dog) for rep in s.reps] for s in sessions] == [
        [(1, "Bracken"), (2, "Bracken")],
        [(1, "Wren")],
        [(1, "Bracken")],
    ]
    assert len({s.id for s in sessions}) == 3


def test_the_next_dog_and_the_end_close_the_open_rep_without_an_outcome() -> None:
    first, second = sessions_of("here", "next dog Wren", "here", "end session", "came")
    assert [short(r) for r in first.reps + second.reps] == ["1 | none |  | None | "] * 2


def test_after_the_end_nothing_is_logged_until_a_session_starts() -> None:
    (session,) = sessions_of("here came", "end session", "here came", "level 3", "yelped")
    assert len(session.reps) == 1
    assert session.entries == ("u000", "u001")


def test_wrong_dog_renames_the_session_and_keeps_its_reps() -> None:
    (session,) = sessions_of("start session Bracken", "here came", "wrong dog Wren", "heel came")
    assert (session.dog.name, [r.dog for r in session.reps]) == ("Wren", ["Wren", "Wren"])


def test_the_profile_is_copied_into_the_session() -> None:
    assert session_of("start session Wren", "here").dog == ROSTER.dog("Wren")


def test_without_a_spoken_start_the_dog_of_the_recording_is_worked() -> None:
    assert session_of("here came", dog="Wren").dog.name == "Wren"


def test_what_was_said_before_the_first_dog_was_named_is_said_of_it() -> None:
    (session,) = sessions_of("collar fitted", "drill recall", "start session Wren", "here came",
                             dog=None)  # fmt: skip
    assert (session.dog.name, session.start_s) == ("Wren", 0.0)
    assert (session.reps[0].drill, session.reps[0].mode) == ("recall", "unknown")


def test_nothing_said_makes_no_session() -> None:
    assert assemble((), ROSTER, dog="Bracken") == ()


# --- pauses and memos -----------------------------------------------------------------------


def test_nothing_is_logged_while_the_log_is_paused() -> None:
    session = session_of("here came", "pause log", "here ignored", "drill gun", "yelped",
                         "resume log", "here came")  # fmt: skip
    assert [rep.outcome for rep in session.reps] == ["complied", "complied"]
    assert session.condition("drill") is None
    assert not [mark for mark in session.marks if mark.kind == "sign"]


def test_a_pause_keeps_the_paused_entries_in_the_session_unplaced() -> None:
    session = session_of("here came", "pause log", "here ignored", "resume log")
    assert "u002" in session.entries
    assert "u002" not in session.placed


def test_a_new_session_ends_a_pause() -> None:
    _, wren = sessions_of("here came", "pause log", "next dog Wren", "here came")
    assert len(wren.reps) == 1


def test_a_memo_makes_nothing_until_its_end() -> None:
    session = session_of("memo", "here level 9 ignored", "yelped", "end memo", "here came")
    assert [rep.outcome for rep in session.reps] == ["complied"]
    assert not [mark for mark in session.marks if mark.kind == "sign"]


def test_a_memo_in_one_breath_ends_in_it() -> None:
    assert len(reps_of("memo yelped end memo here came")) == 1


def test_a_memo_whose_end_was_not_heard_does_not_swallow_the_day() -> None:
    assert len(reps_of("0 memo", "300 here came")) == 1


def test_questions_and_answers_make_nothing() -> None:
    session = session_of("say level", "affirm", "negative", "roger", "say again", "say count")
    assert not session.reps
    assert not session.conditions
    assert not session.marks
