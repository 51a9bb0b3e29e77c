"""A name that the roster does not have is found where a note is one with a name in its place."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.strange_names import begun_by_stranger, strange_word
from voicelog.model import Dog, Roster

ROSTER = Roster(dogs=(Dog(name="Wren"), Dog(name="Old Rose")), handlers=("Anna",))
GRAMMAR = Grammar.load(roster=ROSTER)
NOBODY = Grammar.load()


@pytest.mark.parametrize(
    ("typed", "strange"),
    [
        ("start session Fern", ("fern", "dog", "start")),
        ("ss fern", ("fern", "dog", "start")),
        ("start session fern went well today", ("fern", "dog", "start")),
        ("SS Big Tom, collar on", ("big tom", "dog", "start")),
        ("next dog old tom", ("old tom", "dog", "start")),
        ("wrong dog bob", ("bob", "dog", "wrong dog")),
        ("handler bob", ("bob", "handler", "handler")),
        ("handler wren", ("wren", "handler", "handler")),
        ("bob here nb c", ("bob", "dog", None)),
        ("hup nb c", ("hup", "cue", None)),
        ("wren heel l3 c", ("heel", "cue", None)),
    ],
)
def test_a_name_is_found_and_what_it_is_the_name_of(
    typed: str, strange: tuple[str, str, str | None]
) -> None:
    assert strange_word(GRAMMAR, typed) == strange
    assert begun_by_stranger(GRAMMAR, typed) == strange[2]


@pytest.mark.parametrize(
    "typed",
    [
        "start session wren",
        "ss wren",
        "here nb c",
        "came in nicely",
        "then nb c",  # everyday talk before a note
        "skin l3 c",  # the first half of another note
        "hup",  # nothing more is told of the call
        "good girl",
        "",
        "bob here nb c " * 40,
    ],
)
def test_no_name_is_found_in_a_note_or_in_talk(typed: str) -> None:
    assert strange_word(GRAMMAR, typed) is None
    assert begun_by_stranger(GRAMMAR, typed) is None


def test_without_any_names_each_is_strange() -> None:
    assert strange_word(NOBODY, "start session wren") == ("wren", "dog", "start")
    assert strange_word(NOBODY, "handler anna") == ("anna", "handler", "handler")
