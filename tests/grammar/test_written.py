"""What is said and what a person would write of it mean the same."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.strategies import notes
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.written import beginning, example, holds_note, spoken, written
from voicelog.model import Dog, Phrase, Roster

ROSTER = Roster(
    dogs=(Dog(name="Bracken", cues=("here", "hup")), Dog(name="Wren", cues=("kom",))),
    handlers=("Anna",),
)
GRAMMAR = Grammar.load(roster=ROSTER)


def meaning(words: str) -> list[object]:
    return [(phrase.kind, dict(phrase.slots)) for phrase in GRAMMAR.interpret(words) or ()]


def said_over_and_over(words: str) -> bool:
    """Whether the whole says one thing three times: a listener that does is in a loop."""
    parts = words.split()
    return any(
        parts == (parts[:length] * len(parts))[: len(parts)]
        for length in range(1, len(parts) // 3 + 1)
    )


@given(notes(GRAMMAR))
def test_any_note_written_down_and_spoken_again_means_the_same(note: tuple[Phrase, ...]) -> None:
    words = GRAMMAR.speak(note)
    assume(not said_over_and_over(words))
    back = spoken(GRAMMAR, written(GRAMMAR, words))
    assert back, written(GRAMMAR, words)
    assert meaning(back[0]) == meaning(words)


@given(notes(GRAMMAR), st.sampled_from([str.upper, str.lower, str.title]))
def test_capitals_and_stops_mean_nothing(note: tuple[Phrase, ...], dressed: object) -> None:
    words = GRAMMAR.speak(note)
    assume(not said_over_and_over(words))
    text = dressed(written(GRAMMAR, words)).replace(".", "!")  # type: ignore[operator]
    assert spoken(GRAMMAR, text) == spoken(GRAMMAR, written(GRAMMAR, words))


@given(st.text(max_size=60) | st.lists(st.sampled_from(GRAMMAR.vocabulary)).map(" ".join))
def test_whatever_is_written_only_notes_are_spoken(text: str) -> None:
    found = spoken(GRAMMAR, text)
    assert all(GRAMMAR.interpret(one) for one in found)
    assert len(set(found)) == len(found)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("here level seven came", "Here, level 7, came."),
        ("start session bracken", "Start session bracken."),
        ("level twenty five ignored", "Level 25, ignored."),
        ("distance twenty metres", "Distance 20 metres."),
        ("level one hundred", "Level 100."),
        ("came", "Came."),
        ("good girl come on then", "Good girl come on then."),
        ("", "."),
    ],
)
def test_a_note_is_written_as_a_person_would(words: str, text: str) -> None:
    assert written(GRAMMAR, words) == text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Here, level 7, came.", "here level seven came"),
        ("Hear. Level seven, came!", "here level seven came"),
        ("level for came", "level four came"),
        ("Level ate, ignored", "level eight ignored"),
        ("Level won, came.", "level one came"),
        ("Ren, kom", "wren kom"),
        ("level 3came", "level three came"),
        ("Neck-twitch", "neck twitch"),
        ("Distance 20 meters.", "distance twenty metres"),
        ("nobutton", "no button"),
        ("NO BUTTON", "no button"),
    ],
)
def test_a_text_is_taken_for_the_note_that_it_sounds_like(text: str, words: str) -> None:
    assert meaning(spoken(GRAMMAR, text)[0]) == meaning(words) != []


@pytest.mark.parametrize(
    "text",
    ["", ".", "Good girl, come on then.", "Level", "Level 20 5", "Level -3", "...", "Level 3.5"],
)
def test_what_is_no_note_is_none(text: str) -> None:
    assert spoken(GRAMMAR, text) == ()


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("Good boy, easy now. Level 3, came.", True),
        ("Look at him go! Neck twitch.", True),
        ("Hear, hear.", True),
        ("I know what it is, it's King Lear.", False),
        ("Once they have been transformed.", False),
        ("Neck and neck.", False),
        ("", False),
    ],
)
def test_a_note_may_stand_among_other_words(text: str, held: bool) -> None:
    assert holds_note(GRAMMAR, text) is held


@given(notes(GRAMMAR), st.sampled_from(["", "Good lad. ", "Off you go then, "]))
def test_a_note_written_down_is_held_whatever_stands_before_it(
    note: tuple[Phrase, ...], before: str
) -> None:
    assert holds_note(GRAMMAR, before + written(GRAMMAR, GRAMMAR.speak(note)))


@pytest.mark.parametrize(
    "text",
    [
        "Level 3. " * 3,
        "Level 3. " * 20,
        "Level 3. " * 5 + "Level",
        "level three level three level three",
    ],
)
def test_what_is_written_over_and_over_was_said_once(text: str) -> None:
    assert spoken(GRAMMAR, text) == ("level three",)


def test_what_is_written_twice_was_said_twice() -> None:
    assert spoken(GRAMMAR, "Here, here.") == ("here here",)
    assert spoken(GRAMMAR, "Here, level 3. Here, level 3.") == (
        "here level three here level three",
    )


def test_what_leads_a_listener_on_is_made_of_notes_and_names_on_the_roster() -> None:
    for lead in (example(GRAMMAR), beginning(GRAMMAR)):
        assert lead.startswith("Bracken, Wren.")
        for note in lead.split(". ")[1:]:
            assert spoken(GRAMMAR, note), note
    assert len(beginning(GRAMMAR)) < len(example(GRAMMAR))


def test_with_nobody_on_the_roster_no_name_leads_on() -> None:
    nobody = Grammar.load()
    assert all(spoken(nobody, note) for note in example(nobody).split(". "))
    assert not beginning(nobody)


def test_a_roster_of_many_does_not_fill_the_lead() -> None:
    many = Roster(dogs=tuple(Dog(name=f"Dog{letter}") for letter in "abcdefghijklmnopqrst"))
    assert beginning(Grammar.load(roster=many)).count("Dog") == 8
