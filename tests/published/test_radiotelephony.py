"""The opt-in digits are those of radiotelephony, spoken one by one.

Source: ICAO Annex 10, volume II, 5.2.1.4.3.1 (the pronunciation of numbers: ZE-RO, WUN, TOO,
TREE, FOW-er, FIFE, SIX, SEV-en, AIT, NIN-er) and 5.2.1.4.1.1 (each digit spoken separately).
"""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import Pronouncer
from voicelog.model.phrases import named_level

DIGITS = ["zero", "wun", "too", "tree", "fower", "fife", "six", "seven", "ait", "niner"]
PLAIN = Grammar.load()
RADIO = Grammar.load(optional=["radiotelephony"])


def level(grammar: Grammar, words: str) -> int | None:
    phrases = grammar.interpret(f"level {words}")
    return None if phrases is None else named_level(phrases[0])


def test_the_digits_are_spoken_as_annex_10_spells_them() -> None:
    assert [level(RADIO, word) for word in DIGITS] == list(range(10))


def test_numbers_of_two_digits_are_spoken_digit_by_digit() -> None:
    for number in range(10, 100):
        tens, units = divmod(number, 10)
        assert level(RADIO, f"{DIGITS[tens]} {DIGITS[units]}") == number


def test_numbers_as_people_say_them_are_still_heard() -> None:
    assert [level(RADIO, words) for words in ("twenty three", "one hundred", "nine")] == [
        23,
        100,
        9,
    ]


@pytest.mark.parametrize("word", sorted(set(DIGITS) - {"zero", "six", "seven"}))
def test_without_the_opt_in_file_its_words_mean_nothing(word: str) -> None:
    assert level(PLAIN, word) is None


def test_without_the_opt_in_file_digits_one_by_one_mean_nothing() -> None:
    assert level(PLAIN, "two three") is None


def test_with_it_every_note_still_has_one_meaning() -> None:
    for words in ("level two three came", "level three", "tap fower two", "level twenty three"):
        assert len(RADIO.meanings(words)) == 1, words


def test_its_words_can_be_pronounced() -> None:
    say = Pronouncer()
    assert all(say.variants(word) for word in DIGITS)


def test_the_grammars_name_says_that_it_is_in_use() -> None:
    assert RADIO.name.startswith("en+radiotelephony-")
