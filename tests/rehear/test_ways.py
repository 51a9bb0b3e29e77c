"""Another way to say a word: found, weighed, and kept beside what a voice has."""

from __future__ import annotations

import pytest

from voicelog.grammar.pronounce import Pronouncer, UnspeakableError
from voicelog.hearing.accents import can_say_accents
from voicelog.hearing.voice import Voice
from voicelog.rehear.difference import Score
from voicelog.rehear.ways import GAIN, NoWayError, Trial, Way, spelled, toward, with_way

WAY = Way(word="nine", phones="N OY N")
ACCENTED = pytest.mark.skipif(not can_say_accents(), reason="accents need voicelog[voice]")


def test_a_spelling_by_ear_becomes_phones() -> None:
    assert spelled("nine", "noin") == WAY


def test_the_usual_way_and_what_no_letters_spell_are_refused() -> None:
    with pytest.raises(NoWayError, match="'nine' is the usual one"):
        spelled("nine", "nine")
    with pytest.raises(UnspeakableError):
        spelled("nine", "9")


@ACCENTED
def test_of_the_accents_the_way_nearest_to_what_was_heard_is_taken() -> None:
    usual = {" ".join(way) for way in Pronouncer().variants("five")}
    assert toward("five", "fife").phones not in usual
    assert toward("nine", "five") == toward("nine", "five")


def test_without_accents_it_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.rehear.ways.can_say_accents", lambda: False)
    with pytest.raises(NoWayError, match="--try nine --like"):
        toward("nine", "five")


@pytest.mark.parametrize(
    ("after", "gains"),
    [
        (Score(right=10 + GAIN), True),
        (Score(right=9 + GAIN), False),
        (Score(right=20, wrong=1), False),
    ],
)
def test_a_gain_is_more_right_and_no_more_wrong(after: Score, gains: bool) -> None:
    assert Trial(way=WAY, before=Score(right=10), after=after).gains is gains


def test_a_way_joins_what_the_voice_has_as_a_new_fit() -> None:
    kept = Voice(handler="Anna", number=2, speed=1.1, variants={"nine": ("N AY AH N",)})
    got = with_way(kept, WAY, "Anna", [kept, Voice(handler="Bo", number=9)])
    assert got.variants == {"nine": ("N AY AH N", "N OY N")}
    assert (got.handler, got.speed, got.number) == ("Anna", 1.1, 3)
    assert with_way(got, WAY, "Anna", [kept]).variants == got.variants


def test_without_a_voice_one_begins() -> None:
    got = with_way(None, WAY, "Anna")
    assert (got.handler, got.number, got.plain) == ("Anna", 1, False)
