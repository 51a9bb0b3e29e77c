"""A voice is fitted only where that gains, judged by lines that had no part in it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.hearing.speaking import say
from voicelog.grammar.grammar import Grammar
from voicelog.hearing.fit import GRADES, USUAL, Asked, Setting, Tried, choose, fit, settings
from voicelog.hearing.listener import RATE, Sound
from voicelog.hearing.posteriors import PLACES, Posteriors
from voicelog.hearing.segmenter import segments
from voicelog.hearing.sphinx import SphinxListener, played
from voicelog.hearing.voice import Voice, voice_at, voice_heard

OTHER = Setting(speed=1.1)
LINES = tuple(f"line {number}" for number in range(30))
SURE, OFFERED, MISSED = Tried("sure", -0.01), Tried("offered", -1.0), Tried("missed", -5.0)
WRONG = Tried("wrong", -4.0)
TRIED = st.builds(Tried, st.sampled_from(GRADES), st.floats(-20, 0) | st.just(-math.inf))


def test_a_setting_that_hears_more_lines_is_kept() -> None:
    usual = [MISSED] * 6 + [SURE] * 24
    found = choose(LINES, {USUAL: usual, OTHER: [SURE] * 30})
    assert (found.setting, found.better, found.worse) == (OTHER, 6, 0)


def test_a_gain_of_two_lines_is_luck() -> None:
    found = choose(LINES, {USUAL: [MISSED] * 2 + [SURE] * 28, OTHER: [SURE] * 30})
    assert not found.gains


def test_a_new_wrong_reading_is_not_bought_with_any_gain() -> None:
    usual = [MISSED] * 10 + [SURE] * 20
    found = choose(LINES, {USUAL: usual, OTHER: [WRONG] + [SURE] * 29})
    assert not found.gains
    assert "wrong" in found.after


def test_a_line_is_not_judged_by_a_choice_that_it_made_itself() -> None:
    """Only the lines of one fold gain, so without them the other setting is not chosen."""
    usual = [MISSED if place % 5 == 0 else SURE for place in range(30)]
    other = [SURE if place % 5 == 0 else OFFERED for place in range(30)]
    found = choose(LINES, {USUAL: usual, OTHER: other})
    assert found.after[::5] == ("missed",) * 6
    assert not found.gains


@given(st.lists(TRIED, min_size=30, max_size=30), st.lists(TRIED, min_size=30, max_size=30))
def test_what_is_kept_is_better_by_lines_and_never_wrong_more_often(
    usual: list[Tried], other: list[Tried]
) -> None:
    found = choose(LINES, {USUAL: usual, OTHER: other})
    assert found.before == tuple(one.grade for one in usual)
    if found.gains:
        assert found.better - found.worse >= 3
        assert found.after.count("wrong") <= found.before.count("wrong")


def test_the_usual_way_is_tried_first_and_each_setting_once() -> None:
    every = settings()
    assert every[0] == USUAL
    assert len(set(every)) == len(every)


def test_a_voice_that_changes_nothing_hears_and_is_named_as_nobody_in_particular() -> None:
    grammar = Grammar.load()
    sound = say("level three came")
    usual = SphinxListener(grammar)
    same = SphinxListener(grammar, voice=Voice(handler="Anna"))
    assert same.name == usual.name
    assert same.hear(sound) == usual.hear(sound)
    assert played(sound, 1.0) is sound


def test_a_fitted_voice_is_in_the_name_and_its_words_keep_their_places() -> None:
    grammar = Grammar.load()
    sound = say("level three came")
    usual = SphinxListener(grammar).hear(sound)
    fitted = SphinxListener(grammar, voice=Voice(handler="Anna", number=2, speed=1.1))
    assert fitted.name.endswith(" en-us voice anna 2")
    heard = fitted.hear(sound)
    assert heard.words == usual.words == "level three came"
    for a, b in zip(heard.times, usual.times, strict=True):
        assert abs(a.start_s - b.start_s) < 0.12


def test_a_word_said_otherwise_is_heard_once_that_is_known() -> None:
    """ "Came" said as "kime": with that pronunciation beside the usual one it fits better."""
    grammar = Grammar.load()
    sound = say("level three kime")
    voice = Voice(handler="Anna", accent="Australian", variants={"came": ("K AY M", "K EY M")})
    usual = SphinxListener(grammar).match(sound, "level three came")
    fitted = SphinxListener(grammar, voice=voice).match(sound, "level three came")
    assert fitted is not None
    assert usual is None or fitted.fit > usual.fit


def test_a_clear_voice_has_no_gain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.hearing.fit.can_say_accents", lambda: False)
    grammar = Grammar.load()
    card = ("level three came", "no button ignored")
    lines = [(words, next(segments([say(words)]))) for words in card]
    told: list[tuple[int, int]] = []
    found = fit(
        lines,
        grammar,
        grammar_narrowing(),
        lambda voice: SphinxListener(grammar, voice=voice),
        tried=lambda done, of: told.append((done, of)),
    )
    assert not found.gains
    assert set(found.before) <= {"sure", "offered"}
    assert told == [(1, 3), (2, 3), (3, 3)]


def grammar_narrowing() -> object:
    from voicelog.grammar.grammar import Narrowing

    return Narrowing(top_level=20)


class Counting:
    """A careful listener that counts what it is asked."""

    name = "counting"

    def __init__(self) -> None:
        self.asked: list[str] = []

    def attend(self, *sounds: Sound) -> None:
        self.asked.append("attend")

    def phones(self) -> Posteriors:
        self.asked.append("phones")
        return np.zeros((1, 1 + len(PLACES)), np.float32)


def test_the_careful_listener_is_asked_the_same_only_once() -> None:
    careful = Counting()
    one = Asked(careful)
    for _ in range(2):
        one.attend(say_nothing())
        assert len(one.phones()) == 1
    assert careful.asked == ["attend", "phones"]


def say_nothing() -> Sound:
    return np.zeros(RATE, np.float32)


def test_the_voice_of_a_handler_goes_by_microphone_and_the_newest_wins() -> None:
    at_desk = Voice(handler="Anna", microphone="Desk", number=1, speed=0.9)
    anywhere = Voice(handler="Anna", number=2, speed=1.1)
    newest = Voice(handler="Anna", microphone="Headset", number=3, speed=1.1)
    voices = (at_desk, anywhere, newest, Voice(handler="Ben"))
    assert voice_at(voices, "anna", "desk") == at_desk
    assert voice_at(voices, "Anna", "other") == anywhere
    assert voice_at(voices, "Anna") == anywhere
    assert voice_at((at_desk, newest), "Anna") == newest
    assert voice_at((at_desk,), "Anna", "other") is None
    assert voice_at(voices, "Cora") is None
    assert voice_heard(voices, ("pocketsphinx 5.1.1 en-us voice anna 1",)) == newest
    assert voice_heard(voices, ("pocketsphinx 5.1.1 en-us",)) is None
