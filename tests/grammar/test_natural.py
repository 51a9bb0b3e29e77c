"""What trainers say is understood, asked about or left alone, and never taken for another thing."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.grammar.natural import GRAMMAR, NaturalUtterance, becomes, utterances
from tests.session.said import reps_of, session_of
from voicelog.grammar.ambiguity import ambiguous_words
from voicelog.grammar.confusability import confusable_words
from voicelog.report.facts import session_facts

ALL = tuple(utterances())


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.words)
def test_each_utterance_becomes_what_a_trainer_would_say_it_is(one: NaturalUtterance) -> None:
    assert becomes(one)[0] == one.wanted


def test_there_are_at_least_a_hundred_and_of_every_kind() -> None:
    count = Counter(one.wanted for one in ALL)
    assert count.total() >= 100
    assert set(count) == {"understood", "asked about", "asked, not offered", "left alone"}
    assert len({one.words for one in ALL}) == len(ALL)


@pytest.mark.parametrize("word", ["off", "released", "sit", "loose", "down", "turned", "out"])
def test_a_bare_everyday_word_is_no_note(word: str) -> None:
    assert GRAMMAR.interpret(word) is None


def test_words_that_make_another_note_of_each_other_are_the_few_known_ones() -> None:
    assert {one.notes for one in confusable_words(GRAMMAR, 20)} == {
        ("collar slipped", "collar stripped"),
        ("wet herself", "wet himself"),
        ("collar off", "collar on"),
    }
    assert ambiguous_words(GRAMMAR) == ()


def test_what_the_dog_does_on_game_neither_opens_nor_closes_a_rep() -> None:
    for words in ("pointed", "flushed", "chased", "crept", "delivered", "dropped it"):
        assert reps_of(words) == ()
        (rep,) = reps_of("0 here", f"3 {words}", "6 came")
        assert (rep.outcome, rep.doubtful) == ("complied", False)


def test_the_dial_rolled_back_after_the_outcome_opens_no_rep() -> None:
    (rep,) = reps_of("level three came", "back down to two")
    assert rep.peak_level == 3


def test_first_call_is_of_the_rep_whose_outcome_was_just_said() -> None:
    (rep,) = reps_of("0 here", "3 came", "6 first call")
    assert (rep.cues, rep.doubtful) == (1, False)
    (rep,) = reps_of("0 here", "3 came", "6 called twice")
    assert rep.cues == 2


def test_first_call_takes_no_call_back_that_was_heard() -> None:
    (rep,) = reps_of("0 here", "3 here", "6 came first call")
    assert rep.cues == 2


def test_what_the_dog_did_on_game_is_counted_in_the_facts_of_the_session() -> None:
    session = session_of("here came", "pointed", "flushed", "level two came", "pointed")
    told = {fact.label: fact.value for fact in session_facts(session, "today")}
    assert told["on game"] == "pointed twice, flushed once"
    assert "on game" not in {fact.label for fact in session_facts(session_of("here came"), "today")}
