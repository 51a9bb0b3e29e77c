"""Other accents: eSpeak NG's phonemes as phones of the dictionary."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronounce import PHONES
from voicelog.hearing.accents import ACCENTS, can_say_accents, phones_of, variants


@pytest.mark.parametrize(
    ("ipa", "phones"),
    [
        ("skrˈatʃɪn", "S K R AE CH IH N"),
        ("hˈiə", "HH IY AH"),
        ("lˈəʊdɪd", "L OW D IH D"),
        ("θˈɜːtɪ", "TH ER T IH"),
        ("", None),
        ("x!", None),
    ],
)
def test_phonemes_become_phones(ipa: str, phones: str | None) -> None:
    assert phones_of(ipa) == phones


@pytest.mark.parametrize("accent", ACCENTS)
def test_every_word_of_the_grammar_can_be_said_in_every_accent(accent: str) -> None:
    if not can_say_accents():
        pytest.skip("espeakng-loader is not installed; pip install 'voicelog[voice]'")
    words = Grammar.load().vocabulary
    said = variants(accent, words)
    assert set(said) == set(words)
    used = {phone for ways in said.values() for way in ways for phone in way.split()}
    assert used <= set(PHONES)
