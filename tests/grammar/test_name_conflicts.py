"""A name or cue that sounds like something else said is pointed out when it is entered."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.name_conflicts import dog_name_conflicts, handler_name_conflicts
from voicelog.grammar.pronunciation import NoPronunciationError, Pronouncer
from voicelog.grammar.suggested_names import SUGGESTED_NAMES
from voicelog.model import Dog, Roster

GRAMMAR = Grammar.load()
NOBODY = Roster()


def against(dog: Dog, roster: Roster = NOBODY) -> list[str]:
    return [one.other for one in dog_name_conflicts(dog, roster, GRAMMAR)]


def test_it_says_how_soon_one_is_heard_as_the_other_the_soonest_first() -> None:
    found = dog_name_conflicts(Dog(name="Bird", cues=("fore",)), NOBODY, GRAMMAR)
    assert [(one.role, one.said, one.other, one.how) for one in found[:3]] == [
        ("dog", "Bird", "bird", "same"),
        ("dog", "Bird", "birds", "sometimes"),
        ("cue", "fore", "four", "same"),
    ]
    (tree, *_) = dog_name_conflicts(Dog(name="Tree"), NOBODY, GRAMMAR)
    assert (tree.other, tree.how) == ("three", "easily")


@pytest.mark.parametrize("dog", [Dog(name="Tree"), Dog(name="Bracken", cues=("hup", "come"))])
def test_what_is_offered_is_like_nothing_that_she_says(dog: Dog) -> None:
    first = dog_name_conflicts(dog, NOBODY, GRAMMAR)
    offered = {word for one in first for word in one.better}
    assert len(offered) >= 3
    roster = Roster(dogs=(Dog(name="Wren", cues=("home",)),), handlers=("Bruno", "Toffy"))
    again = {word for one in dog_name_conflicts(dog, roster, GRAMMAR) for word in one.better}
    assert {"Bruno", "Toffee", "home"} & offered
    assert not {"Bruno", "Toffee", "home"} & again
    assert again
    for word in again:
        cue = dog.cues != ("here",)
        tried = Dog(name=dog.name, cues=(word,)) if cue else Dog(name=word)
        others = (one for one in dog_name_conflicts(tried, roster, GRAMMAR) if one.said == word)
        assert not list(others)


def test_what_is_offered_stands_in_the_pronouncing_dictionary() -> None:
    say = Pronouncer()
    words = {word for some in SUGGESTED_NAMES.values() for one in some for word in one.split()}
    assert {say.origin(word) for word in words} == {"dictionary"}


def test_a_name_is_held_against_cues_too_and_a_cue_against_names() -> None:
    roster = Roster(dogs=(Dog(name="Wren", cues=("tansey",)),))
    assert against(Dog(name="Tansy"), roster) == ["tansey"]
    assert against(Dog(name="Bracken", cues=("renn",)), roster) == ["wren"]
    assert against(Dog(name="Bracken", cues=("gather", "gatherer"))) == ["gatherer", "gather"]


@pytest.mark.parametrize(
    ("name", "like"),
    [("Bird", "bird"), ("Fore", "four"), ("Tap", "tap"), ("Knight", "night"), ("Tree", "three")],
)
def test_a_name_that_is_or_sounds_like_a_word_is_pointed_out(name: str, like: str) -> None:
    found = against(Dog(name=name))
    assert (like in found) is (like in GRAMMAR.vocabulary)


@pytest.mark.parametrize("name", ["Bracken", "Wren", "Juno", "Tansy"])
def test_a_name_like_nothing_is_left_alone(name: str) -> None:
    assert against(Dog(name=name)) == []


def test_a_cue_that_sounds_like_a_word_is_pointed_out() -> None:
    found = dog_name_conflicts(Dog(name="Bracken", cues=("here", "hup")), NOBODY, GRAMMAR)
    assert [(one.role, one.other, one.how) for one in found] == [("cue", "up", "easily")]


def test_here_is_everybodys_cue() -> None:
    assert against(Dog(name="Bracken", cues=("here",))) == []


def test_two_dogs_of_like_names_are_pointed_out() -> None:
    roster = Roster(dogs=(Dog(name="Wren"), Dog(name="Bracken")))
    assert against(Dog(name="Ren"), roster) == ["wren"]


def test_a_dogs_own_older_profile_is_no_clash() -> None:
    roster = Roster(dogs=(Dog(name="Wren"),))
    assert against(Dog(name="WREN"), roster) == []


@pytest.mark.parametrize("name", ["R2", "--", "犬"])
def test_a_name_that_cannot_be_spoken_is_refused(name: str) -> None:
    with pytest.raises(NoPronunciationError):
        dog_name_conflicts(Dog(name=name), NOBODY, GRAMMAR)


def test_a_handler_that_sounds_like_another_or_a_dog_is_pointed_out() -> None:
    roster = Roster(dogs=(Dog(name="Wren"),), handlers=("Anna", "Jo3"))
    (one,) = handler_name_conflicts("Hanna", roster, GRAMMAR)
    assert (one.said, one.other, one.how) == ("Hanna", "anna", "easily")
    assert [one.other for one in handler_name_conflicts("Ren", roster, GRAMMAR)] == ["wren"]
    assert handler_name_conflicts("ANNA", roster, GRAMMAR) == ()


def test_a_handler_that_cannot_be_pronounced_is_refused() -> None:
    with pytest.raises(NoPronunciationError, match=r"^The word 'jo3' cannot be pronounced"):
        handler_name_conflicts("Jo3", NOBODY, GRAMMAR)


def test_no_recall_word_is_offered_in_place_of_a_cue_that_may_stop_the_dog() -> None:
    found = dog_name_conflicts(Dog(name="Bracken", cues=("here", "hup", "come")), NOBODY, GRAMMAR)
    better = {one.said: one.better for one in found}
    assert better["hup"] == ()
    assert better["come"] != ()
