"""Readings that hardly differ by ear are named, and no others."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import PIECE
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model import Dog, Roster

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", cues=("here",)),)))
COMER = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", cues=("come", "hup")),)))

PAIRS = (
    *(("thirteen", "thirty"), ("fourteen", "forty"), ("fifteen", "fifty"), ("sixteen", "sixty")),
    *(("seventeen", "seventy"), ("eighteen", "eighty"), ("nineteen", "ninety")),
)


@pytest.mark.parametrize(("teen", "ten"), PAIRS)
@pytest.mark.parametrize("phrase", ["level {}", "tap {}", "up to {} came", "dial {}"])
def test_a_teen_and_its_ten_are_twins_of_each_other(phrase: str, teen: str, ten: str) -> None:
    assert sound_alike_readings(GRAMMAR, phrase.format(teen)) == (phrase.format(ten),)
    assert sound_alike_readings(GRAMMAR, phrase.format(ten)) == (phrase.format(teen),)


@pytest.mark.parametrize(
    "words",
    [
        *("level three", "level nine", "level five", "tap twelve", "level twenty"),
        *("level seven", "level six", "level eight", "level one hundred"),
        *("came", "no button", "neck twitch", "start session bracken", "strike that"),
    ],
)
def test_words_that_differ_well_by_ear_have_no_twin(words: str) -> None:
    assert sound_alike_readings(GRAMMAR, words) == ()


def test_a_ten_with_a_digit_after_it_is_no_teen() -> None:
    assert sound_alike_readings(GRAMMAR, "level fifty two") == ()


def test_a_level_above_the_top_is_no_twin() -> None:
    assert sound_alike_readings(GRAMMAR, "level fifteen", top_level=49) == ()
    assert sound_alike_readings(GRAMMAR, "level fifteen", top_level=50) == ("level fifty",)
    assert sound_alike_readings(GRAMMAR, "ceiling thirteen", top_level=20) == ()
    assert sound_alike_readings(GRAMMAR, "level fifty", top_level=20) == ("level fifteen",)


def test_the_top_level_narrows_levels_only() -> None:
    assert sound_alike_readings(GRAMMAR, "distance fifteen metres", top_level=20) == (
        "distance fifty metres",
    )
    assert sound_alike_readings(GRAMMAR, "shot eighty yards", top_level=20) == (
        "shot eighteen yards",
    )


def test_each_word_is_replaced_by_itself_in_the_order_they_were_said() -> None:
    assert sound_alike_readings(GRAMMAR, "level fifteen distance thirty metres") == (
        "level fifty distance thirty metres",
        "level fifteen distance thirteen metres",
    )


def test_where_come_is_a_cue_came_has_a_twin() -> None:
    assert sound_alike_readings(COMER, "came") == ("come",)
    assert sound_alike_readings(COMER, "come no button came") == (
        "came no button came",
        "come no button come",
    )
    # "bracken came" is no note: only a cue goes with a name.
    assert sound_alike_readings(COMER, "bracken come no button came") == (
        "bracken come no button come",
    )
    assert sound_alike_readings(GRAMMAR, "bracken here no button came") == ()


def test_only_readings_of_the_grammar_are_twins() -> None:
    # "hup" and "up" sound alike, but "hup to three" and a lone "up" are no notes.
    assert sound_alike_readings(COMER, "hup") == ()
    assert sound_alike_readings(COMER, "up to three") == ()


@pytest.mark.parametrize("words", ["", "good girl come on then", "level"])
def test_words_that_are_no_note_have_no_twin(words: str) -> None:
    assert sound_alike_readings(COMER, words) == ()


@pytest.mark.parametrize("grammar", [GRAMMAR, COMER], ids=["here", "come"])
@given(pieces=st.lists(PIECE, min_size=1, max_size=4), top=st.none() | st.integers(0, 100))
def test_twins_are_notes_one_word_apart_and_know_each_other(
    grammar: Grammar, pieces: list[str], top: int | None
) -> None:
    words = grammar.verbalize(" ".join(pieces))
    found = sound_alike_readings(grammar, words, top)
    assert len(set(found)) == len(found)
    assert words not in found
    assert set(found) <= set(sound_alike_readings(grammar, words))
    for other in found:
        phrases = grammar.interpret(other)
        assert phrases is not None
        assert top is None or all(int(phrase.slots.get("level", 0)) <= top for phrase in phrases)
        changed = [a != b for a, b in zip(words.split(), other.split(), strict=True)]
        assert sum(changed) == 1
        if grammar.interpret(words) is not None:
            assert words in sound_alike_readings(grammar, other)
