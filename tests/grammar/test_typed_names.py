"""A name counts where it is typed, and a strange one is found where only a name may stand."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.typed_names import names_are_typed, unknown_name
from voicelog.model import Dog, Roster

DOGS = (Dog(name="Wren"), Dog(name="Old Rose"))
GRAMMAR = Grammar.load(roster=Roster(dogs=DOGS, handlers=("Anna",)))


@pytest.mark.parametrize(
    ("typed", "strange"),
    [
        ("start session fern", "fern"),
        ("level two came start session fern", "fern"),
        ("next dog old tom", "tom"),
        ("handler wren", "wren"),
        ("start session wren", None),
        ("start session", None),
        ("fern here", None),
        ("good girl", None),
        ("", None),
    ],
)
def test_a_strange_name_is_found_where_only_names_may_stand(
    typed: str, strange: str | None
) -> None:
    assert unknown_name(GRAMMAR, typed) == strange


def test_without_names_none_is_strange() -> None:
    assert unknown_name(Grammar.load(), "start session fern") is None


@pytest.mark.parametrize(
    ("typed", "note", "whole"),
    [
        ("strt session Wren", "start session wren", True),
        ("start session old rose", "start session old rose", True),
        ("start session rose", "start session old rose", False),
        ("start session w", "start session wren", False),
        ("wren hear", "start session wren wren here", False),
        ("levle two", "level two", True),
    ],
)
def test_every_name_must_be_typed_as_often_as_it_is_said(
    typed: str, note: str, whole: bool
) -> None:
    assert names_are_typed(GRAMMAR, typed, note) is whole
