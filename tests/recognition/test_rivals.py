"""What is not expected is not taken for what is: levels beyond the range, dogs nobody wrote down.

The speech is real, made by flite; both listeners hear it, and the quick one alone.
"""

from __future__ import annotations

from functools import cache

import pytest

from tests.recognition.speaking import laid, say
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Roster
from voicelog.recognition.recognize import Recognizers, recognize
from voicelog.recognition.recognizers import RecognizerChoice, make_recognizers

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Wren"), Dog(name="Fern"))))
TO_20 = RecognitionContext(top_level=20)


@cache
def recognizers(wanted: RecognizerChoice) -> Recognizers:
    return make_recognizers(GRAMMAR, TO_20, wanted)


def verdict(words: str, voice: str, wanted: RecognizerChoice) -> tuple[str, tuple[str, ...]]:
    """The status of the one utterance, and every reading it offers."""
    sound = laid([(0.8, say(words, voice, edge_s=0.1))])
    [(_, _, found)] = recognize([sound], recognizers(wanted), GRAMMAR, TO_20, "0123456789abcdef")
    return found.status, (found.words, *found.alternatives)


VOICES = ("flite:slt", "flite:rms")


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("level", ["thirty", "forty", "fifty", "ninety"])
def test_a_level_beyond_the_range_is_to_be_checked_with_itself_on_offer(
    level: str, voice: str
) -> None:
    said = f"level {level} came"
    status, offered = verdict(said, voice, "both")
    assert status == "doubtful"
    assert said in offered


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("level", ["thirty", "forty", "ninety"])
def test_the_quick_listener_alone_is_not_sure_of_another_level_either(
    level: str, voice: str
) -> None:
    assert verdict(f"level {level} came", voice, "quick")[0] != "accepted"


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("name", ["ben", "max", "floss"])
@pytest.mark.parametrize("wanted", ["both", "quick"])
def test_a_dog_that_is_not_on_the_roster_is_never_taken_for_one_that_is(
    name: str, voice: str, wanted: RecognizerChoice
) -> None:
    status, offered = verdict(f"start session {name}", voice, wanted)
    assert status != "accepted"
    if wanted == "both":
        assert status == "doubtful"
        assert {"start session wren", "start session fern"} <= {*offered}


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("words", ["level thirteen came", "level nine came"])
def test_what_is_expected_is_sure_as_before(words: str, voice: str) -> None:
    assert verdict(words, voice, "both")[:1] == ("accepted",)


def test_a_name_on_the_roster_is_sure_where_nothing_lies_nearer() -> None:
    """After other words, by one voice of VOICES, it is to check: there another lies nearer."""
    for voice in VOICES:
        assert verdict("start session wren", voice, "both")[0] == "accepted"
    status, offered = verdict("next dog wren", "flite:rms", "both")
    assert (status, offered[0]) == ("doubtful", "next dog wren")
