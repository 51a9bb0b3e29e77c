"""A near miss is offered, talk is not bent into notes, and a note is its own repair."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import notes
from voicelog.grammar.fuzzy_match import MOST, FuzzyMatch, difference, fuzzy_matches
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Phrase, Roster

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"))))


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("levle three came", "level three came"),
        ("level thre came", "level three came"),
        ("level three gaem", "level three came"),
        ("leaval three came", "level three came"),
        ("neck twich", "neck twitch"),
        ("levels five", "level five"),
        ("level five ear flicks", "level five ear flick"),
        ("so no button came", "no button came"),
        ("here uh level nine ignored", "here level nine ignored"),
        ("level three line hlep", "level three line help"),
        ("bracken hear", "bracken here"),
        ("no button kame", "no button came"),
    ],
)
def test_a_near_miss_is_offered(heard: str, meant: str) -> None:
    assert GRAMMAR.interpret(heard) is None
    assert meant in [repair.words for repair in fuzzy_matches(GRAMMAR, heard)]


@pytest.mark.parametrize(
    "typed",
    ["level three game", "level tree came", "neck switch", "level three line yelp", "came good"],
)
def test_a_word_of_english_is_meant_as_it_stands_and_none_is_put_in(typed: str) -> None:
    said = set(GRAMMAR.verbalize(typed).split())
    assert all(said.issuperset(one.words.split()) for one in fuzzy_matches(GRAMMAR, typed))


@pytest.mark.parametrize(
    "talk",
    [
        "",
        "good girl come on then",
        "what a lovely morning it is",
        "put the kettle on would you",
        "can you open the gate please",
        "we should go home soon before it rains",
        "who is that over there by the fence",
        "zebra",
        "일단계",
    ],
)
def test_talk_is_not_bent_into_a_note(talk: str) -> None:
    assert fuzzy_matches(GRAMMAR, talk) == ()


@given(notes(GRAMMAR))
def test_a_note_is_its_own_repair_at_no_cost(phrases: tuple[Phrase, ...]) -> None:
    words = GRAMMAR.speak(phrases)
    assert fuzzy_matches(GRAMMAR, words) == (FuzzyMatch(words, 0.0),)


def test_digits_are_read_before_anything_is_mended() -> None:
    assert fuzzy_matches(GRAMMAR, "Level 3, came.") == (FuzzyMatch("level three came", 0.0),)


@settings(max_examples=60)
@given(notes(GRAMMAR), st.data())
def test_what_is_offered_is_a_note_nearest_first(
    phrases: tuple[Phrase, ...], data: st.DataObject
) -> None:
    words = GRAMMAR.speak(phrases).split()
    place = data.draw(st.integers(0, len(words) - 1))
    odd = data.draw(st.sampled_from(["", "uh", "free", "game", "hear", "xylophone"]))
    words[place : place + data.draw(st.integers(0, 1))] = [odd] if odd else []
    found = fuzzy_matches(GRAMMAR, " ".join(words), limit=5)
    assert len(found) <= 5
    for repair in found:
        assert GRAMMAR.interpret(repair.words) is not None
        assert 0 <= repair.cost <= MOST
    assert [repair.cost for repair in found] == sorted(repair.cost for repair in found)
    assert len({repair.words for repair in found}) == len(found)


@settings(max_examples=60)
@given(st.text(max_size=30))
def test_no_text_raises(text: str) -> None:
    for repair in fuzzy_matches(GRAMMAR, text):
        assert GRAMMAR.interpret(repair.words) is not None


@pytest.mark.parametrize("limit", [1, 2])
def test_no_more_is_offered_than_asked_for(limit: int) -> None:
    assert len(fuzzy_matches(GRAMMAR, "level free game", limit=limit)) <= limit


@pytest.mark.parametrize("typed", ["level free came", "level too", "stim 4", "level 4 xy"])
def test_letters_are_no_sounds_and_no_number_is_put_in(typed: str) -> None:
    numbers = {"three", "two", "forty", "fourteen", "eight", "eighteen"}
    for one in fuzzy_matches(GRAMMAR, typed):
        assert numbers.isdisjoint(one.words.split()), one


def test_words_differ_by_their_letters() -> None:
    assert difference("level", "level") == 0.0
    assert difference("two", "too") == pytest.approx(1 / 3)
    assert difference("here", "hear") == 0.5


def test_words_that_share_nothing_are_far_apart() -> None:
    assert difference("ignored", "tap") > 0.5


@pytest.mark.parametrize("typed", ["start session fern", "start session bracked", "next dog ren"])
def test_a_name_is_never_mended(typed: str) -> None:
    assert fuzzy_matches(GRAMMAR, typed) == ()


def test_the_rest_is_mended_around_a_name() -> None:
    assert fuzzy_matches(GRAMMAR, "strt session wren")[0].words == "start session wren"
