"""Words that are too alike, or sounded out, are found, and better ones proposed."""

from __future__ import annotations

import pytest

from voicelog.grammar.confusability import (
    DerivedPronunciation,
    confusable_names,
    confusable_words,
    derived,
    phrases_without_word,
    safer_words,
)
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.pronunciation import sound_similarity
from voicelog.grammar.suggested_names import SUGGESTED_NAMES, NameRole
from voicelog.model import Dog, Roster

PLAIN = Grammar.load()


def with_names(
    *dogs: str, cues: tuple[str, ...] = ("here",), handlers: tuple[str, ...] = ()
) -> Grammar:
    roster = Roster(dogs=tuple(Dog(name=name, cues=cues) for name in dogs), handlers=handlers)
    return Grammar.load(roster=roster)


def pairs(grammar: Grammar) -> list[tuple[str, str]]:
    return [(one.said, one.other) for one in confusable_names(grammar)]


# --- names and cues


@pytest.mark.parametrize("name", ["Bracken", "Tansy", "Juno"])
def test_a_name_like_nothing_is_left_alone(name: str) -> None:
    assert confusable_names(with_names(name)) == ()


def test_two_dogs_of_like_names_make_a_note_of_each_other() -> None:
    (one,) = confusable_names(with_names("Wren", "Ren"))
    assert (one.said, one.role, one.other, one.likeness) == ("wren", "dog", "ren", 1.0)
    assert one.notes == ("wren here", "ren here")
    assert len(one.better) == 3


def test_a_name_that_is_a_word_of_the_grammar_is_found() -> None:
    assert ("bird", "bird") in pairs(with_names("Bird"))
    assert ("line", "line") in pairs(with_names("Line"))


def test_a_cue_that_another_word_may_be_taken_for_is_found() -> None:
    word, one = confusable_names(with_names("Bracken", cues=("here", "come")))
    assert (word.other, word.notes) == ("come", None)  # of "did not come"
    assert (one.said, one.role, one.other) == ("come", "cue", "came")
    assert one.notes == ("come", "came")


def test_a_cue_that_only_sounds_alike_makes_no_other_note() -> None:
    (one,) = confusable_names(with_names("Bracken", cues=("hup",)))
    assert (one.said, one.other, one.notes) == ("hup", "up", None)


def test_everybodys_cue_is_not_found_fault_with() -> None:
    assert confusable_names(with_names("Bracken", cues=("here",))) == ()


def test_handlers_are_checked_too() -> None:
    assert pairs(with_names("Bracken", handlers=("Anna", "Hanna"))) == [("anna", "hanna")]


def test_a_name_that_has_no_sound_hides_nothing() -> None:
    grammar = with_names("Wren", "Ren", handlers=("Jo3",))
    assert pairs(grammar) == [("wren", "ren")]
    assert DerivedPronunciation("jo3", None, None) in derived(grammar)


# --- what is proposed


@pytest.mark.parametrize("role", ["dog", "handler", "cue"])
def test_what_is_proposed_sounds_like_nothing_else(role: NameRole) -> None:
    grammar = with_names("Bracken", "Wren", cues=("here", "hup"), handlers=("Anna",))
    taken = [*grammar.vocabulary]
    proposed = safer_words(grammar, role, "come")
    assert len(proposed) == 3
    assert all(sound_similarity(normalize(one), word) < 0.6 for one in proposed for word in taken)


def test_a_name_of_the_same_letter_comes_first() -> None:
    assert safer_words(PLAIN, "dog", "wren")[0].startswith("W")
    assert safer_words(PLAIN, "dog", "bird")[0].startswith("B")


def test_the_candidates_are_plain_words_once_each() -> None:
    for words in SUGGESTED_NAMES.values():
        assert len(set(words)) == len(words)
        assert all(normalize(word) for word in words)


# --- words of the grammar


def test_numbers_that_make_another_level_are_found_within_the_range() -> None:
    notes = {one.notes for one in confusable_words(PLAIN, 100)}
    assert ("level fifteen", "level fifty") in notes
    assert ("collar slipped", "collar stripped") in notes
    low = {one.notes for one in confusable_words(PLAIN, 20)}
    assert ("level fifteen", "level fifty") not in low
    assert ("collar slipped", "collar stripped") in low


def test_words_that_never_stand_in_each_others_place_are_left_alone() -> None:
    found = {frozenset((one.said, one.other)) for one in confusable_words(PLAIN, 100)}
    assert frozenset(("neck", "next")) not in found
    assert frozenset(("yard", "yards")) not in found


def test_each_pair_is_two_notes_of_different_meaning() -> None:
    for one in confusable_words(PLAIN, 100):
        assert one.notes is not None
        meant, mistaken = map(PLAIN.interpret, one.notes)
        assert meant
        assert mistaken
        assert meant != mistaken


def test_no_note_is_offered_that_another_pair_makes_doubtful() -> None:
    found = confusable_words(PLAIN, 20)
    (off,) = (one for one in found if one.notes == ("collar off", "collar on"))
    assert "collar stripped" not in off.better  # beside "collar slipped"
    doubtful = {word for one in found for word in (one.said, one.other)}
    for one in found:
        assert one.notes is not None
        kept = set(one.notes[0].split()) - {one.said}
        for note in one.better:
            assert not (set(note.split()) - kept) & doubtful


def test_another_way_to_say_the_same_is_known() -> None:
    assert phrases_without_word(PLAIN, "came") == ("all in", "arrived", "complied")
    assert phrases_without_word(PLAIN, "yelped") == ("cried out",)
    assert phrases_without_word(PLAIN, "squealed") == ()
    assert phrases_without_word(PLAIN, "no-such-word") == ()


# --- pronounced


def test_words_of_the_dictionary_and_their_kin_are_told_apart() -> None:
    found = {one.word: one.origin for one in derived(with_names("Zkorvo"))}
    assert found["zkorvo"] == "letters"
    assert found["whined"] == "inflection"
    assert "level" not in found
