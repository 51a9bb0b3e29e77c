"""Which words of a reading say whose session it is."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster
from voicelog.recognition.name_verification import (
    other_name_readings,
    rival_readings,
    session_name_spans,
)

GRAMMAR = Grammar.load(
    roster=Roster(
        dogs=(Dog(name="Bracken"), Dog(name="Old Tom"), Dog(name="Wren", cues=("here",))),
        handlers=("Anna", "Robin"),
    )
)


@pytest.mark.parametrize(
    ("words", "spans"),
    [
        ("start session bracken", (range(2, 3),)),
        ("next dog old tom", (range(2, 4),)),
        ("came next dog wren collar fitted", (range(3, 4),)),
        ("wrong dog wren", (range(2, 3),)),
        ("next dog wren start session wren", (range(2, 3), range(5, 6))),
        ("handler anna", (range(1, 2),)),
        ("level three came", ()),
        ("wren here level three", ()),
        ("end session", ()),
    ],
)
def test_the_words_that_name_whose_session_it_is(words: str, spans: tuple[range, ...]) -> None:
    phrases = GRAMMAR.interpret(words)
    assert phrases is not None
    assert session_name_spans(phrases) == spans


@pytest.mark.parametrize(
    ("words", "others"),
    [
        ("next dog old tom", ("next dog bracken", "next dog wren")),
        ("handler anna", ("handler robin",)),
        ("level three came", ()),
        ("good girl", ()),
    ],
)
def test_the_other_names_in_its_place(words: str, others: tuple[str, ...]) -> None:
    assert other_name_readings(GRAMMAR, words) == others


def test_each_name_has_words_that_sound_like_it_for_rivals() -> None:
    words = "next dog wren start session bracken"
    rivals = rival_readings(words, (range(2, 3), range(5, 6)))
    assert {"next dog ben start session bracken", "next dog wren start session bracket"} <= {
        *rivals
    }
    assert words not in rivals
