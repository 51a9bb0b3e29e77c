"""A name or cue that sounds like something else said is pointed out when it is entered."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.name_conflicts import dog_name_conflicts, handler_name_conflicts
from voicelog.grammar.pronunciation import NoPronunciationError
from voicelog.model import Dog, Roster

GRAMMAR = Grammar.load()
NOBODY = Roster()


def against(dog: Dog, roster: Roster = NOBODY) -> list[str]:
    return [sentence.split("'")[3] for sentence in dog_name_conflicts(dog, roster, GRAMMAR)]


def test_the_sentence_names_both_and_says_what_to_do() -> None:
    assert dog_name_conflicts(Dog(name="Bird"), NOBODY, GRAMMAR)[0] == (
        "The name 'Bird' sounds like 'bird', which may be said too; "
        "choose another, or say it with care and check it in the evening."
    )


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
    assert [sentence[:33] for sentence in found] == ["The cue 'hup' sounds like 'up', w"]


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
    assert handler_name_conflicts("Hanna", roster, GRAMMAR) == (
        "The name 'Hanna' sounds like 'anna', which may be said too; "
        "choose another, or say it with care and check it in the evening.",
    )
    assert [one.split("'")[3] for one in handler_name_conflicts("Ren", roster, GRAMMAR)] == ["wren"]
    assert handler_name_conflicts("ANNA", roster, GRAMMAR) == ()


def test_a_handler_that_cannot_be_pronounced_is_refused() -> None:
    with pytest.raises(NoPronunciationError, match=r"^The word 'jo3' cannot be pronounced"):
        handler_name_conflicts("Jo3", NOBODY, GRAMMAR)
