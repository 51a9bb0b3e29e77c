"""Hearing a stream: the same events however it comes, phrases joined over a pause, no others.

Most of it is told with a listener that knows five words by their pitch, so that what it hears,
and how surely, is known beforehand; the rest with PocketSphinx and spoken words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.hearing.speaking import burst, hiss, laid, say
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.hear import hear
from voicelog.hearing.judge import JUDGE
from voicelog.hearing.listener import RATE, Bars, Heard, Sound
from voicelog.hearing.sphinx import SphinxListener
from voicelog.model import Dog, Reading, Roster, Utterance, Verdict

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),)))
NARROWING = Narrowing(top_level=20)
RECORDING = "0123456789abcdef" * 4
PITCHES = {"level": 110.0, "three": 135.0, "came": 165.0, "slow": 200.0, "vibrate": 240.0}

BARS = Bars(sure=0.8, look=0.3, word=0.8, twin=0.9)

Events = list[tuple[Utterance, tuple[Reading, ...], Verdict]]


@dataclass
class PitchListener:
    """Takes each burst for the word of its pitch, and is as sure of them as it was told."""

    sure_of: Mapping[str, float] = field(default_factory=dict)
    name: str = "pitch 1"
    bars: Bars = BARS

    def hear(self, sound: Sound) -> Heard:
        frames = np.abs(sound[: len(sound) // 320 * 320]).reshape(-1, 320).max(axis=1) > 0.02
        edges = np.flatnonzero(np.diff(np.concatenate(([0], frames, [0]))))
        words = " ".join(self.word(sound[a * 320 : b * 320]) for a, b in edges.reshape(-1, 2))
        complete = GRAMMAR.interpret(words) is not None
        return Heard(words, complete, None, self.sure_of.get(words, 0.0) if complete else 0.0)

    def word(self, sound: Sound) -> str:
        spectrum = np.abs(np.fft.rfft(sound, RATE))
        pitch = int(spectrum.argmax())
        return min(PITCHES, key=lambda word: abs(PITCHES[word] - pitch))


def told(*parts: tuple[float, str], seconds: float = 0.6) -> Sound:
    """Words as bursts, each with its gap (s) before it."""
    return laid([(gap, burst(seconds, PITCHES[word])) for gap, word in parts])


def events(sound: Sound, *listeners: PitchListener | SphinxListener, blocks: int = 1600) -> Events:
    cut = (sound[at : at + blocks] for at in range(0, len(sound), blocks))
    return list(hear(cut, listeners, GRAMMAR, NARROWING, RECORDING))


def verdicts(found: Events) -> list[tuple[str, str]]:
    return [(verdict.words, verdict.status) for _, _, verdict in found]


def in_order_and_inside(found: Events, sound: Sound) -> bool:
    edges = [edge for utterance, _, _ in found for edge in (utterance.start_s, utterance.end_s)]
    return edges == sorted(edges) and all(0.0 <= edge <= len(sound) / RATE for edge in edges)


SURE = PitchListener({"came": 0.95, "vibrate": 0.5, "level three": 0.99, "came slow": 1.0})


@cache
def narration() -> Sound:
    return told((1.0, "came"), (2.0, "level"), (0.8, "three"), (2.0, "vibrate"), (1.8, "slow"))


# --- the listener that is known beforehand ----------------------------------------------


def test_each_utterance_has_its_verdict() -> None:
    assert verdicts(events(narration(), SURE)) == [
        ("came", "accepted"),
        ("level three", "accepted"),
        ("vibrate", "doubtful"),
        ("slow", "rejected"),
    ]


def test_utterances_are_in_order_and_inside_the_sound() -> None:
    found = events(narration(), SURE)
    assert in_order_and_inside(found, narration())
    came = found[0][0]
    assert came.start_s == pytest.approx(1.0 - 0.3, abs=0.3)
    assert came.end_s == pytest.approx(1.6, abs=0.15)


def test_an_utterance_that_the_sound_cuts_off_ends_with_it() -> None:
    sound = told((1.0, "came"))[: round(1.43 * RATE) + 7]
    ((utterance, _, _),) = events(sound, SURE)
    assert utterance.end_s <= len(sound) / RATE


def test_the_same_sound_gives_the_same_events() -> None:
    assert events(narration(), SURE) == events(narration(), SURE)


@settings(max_examples=25)
@given(st.lists(st.integers(0, 12 * RATE), max_size=30))
def test_however_the_sound_is_cut_the_events_are_the_same(places: list[int]) -> None:
    blocks = np.split(narration(), sorted(places))
    found = list(hear(blocks, (SURE,), GRAMMAR, NARROWING, RECORDING))
    assert found == events(narration(), SURE)


def test_ids_are_all_different_and_follow_from_the_recording() -> None:
    def ids(recording: str) -> list[str]:
        found = hear([narration()], (SURE,), GRAMMAR, NARROWING, recording)
        return [event.id for utterance, readings, v in found for event in (utterance, *readings, v)]

    assert len(set(ids(RECORDING))) == len(ids(RECORDING)) == 12
    assert ids(RECORDING) == ids(RECORDING)
    assert not set(ids(RECORDING)) & set(ids("another recording"))


def test_what_was_heard_tells_what_it_belongs_to_and_who_heard_it() -> None:
    for utterance, readings, verdict in events(narration(), SURE):
        assert utterance.recording == RECORDING
        (reading,) = readings
        assert reading.utterance == verdict.utterance == utterance.id
        assert (reading.by, reading.who, reading.grammar) == ("listener", "pitch 1", GRAMMAR.name)
        assert verdict.judge == JUDGE
        assert verdict.words == reading.words


def test_every_listener_has_its_reading_and_the_first_is_judged() -> None:
    other = PitchListener({"came": 0.1}, name="other 2")
    ((_, readings, verdict),) = events(told((1.0, "came")), SURE, other)
    assert [(reading.who, reading.confidence) for reading in readings] == [
        ("pitch 1", 0.95),
        ("other 2", 0.1),
    ]
    assert (verdict.status, verdict.confidence) == ("accepted", 0.95)


def test_events_come_before_the_stream_has_ended() -> None:
    taken: list[int] = []

    def stream() -> Iterator[Sound]:
        for at in range(0, len(narration()), 1600):
            taken.append(at)
            yield narration()[at : at + 1600]

    first = next(iter(hear(stream(), (SURE,), GRAMMAR, NARROWING, RECORDING)))
    assert first[2].words == "came"
    assert len(taken) * 1600 < 0.6 * len(narration())


def test_a_phrase_with_a_pause_inside_is_one_utterance() -> None:
    sound = told((1.0, "level"), (0.8, "three"))
    ((utterance, _, verdict),) = events(sound, SURE)
    assert (verdict.words, verdict.status) == ("level three", "accepted")
    assert utterance.start_s < 1.0
    assert utterance.end_s == pytest.approx(1.0 + 0.6 + 0.8 + 0.6, abs=0.15)


@pytest.mark.parametrize("pause_s", [0.8, 1.2])
def test_what_is_doubtful_alone_may_be_sure_with_what_follows(pause_s: float) -> None:
    listener = PitchListener({"came": 0.5, "came slow": 0.9})
    sound = told((1.0, "came"), (pause_s, "slow"))
    assert verdicts(events(sound, listener)) == [("came slow", "accepted")]


def test_over_a_long_pause_nothing_is_joined() -> None:
    listener = PitchListener({"came": 0.5, "came slow": 1.0})
    sound = told((1.0, "came"), (4.0, "slow"))
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("slow", "rejected")]


def test_what_was_sure_is_not_joined_with_what_follows() -> None:
    listener = PitchListener({"came": 0.85, "came slow": 1.0})
    sound = told((1.0, "came"), (0.8, "slow"))
    assert verdicts(events(sound, listener)) == [("came", "accepted"), ("slow", "rejected")]


def test_what_is_sure_is_not_joined_with_what_came_before() -> None:
    listener = PitchListener({"came": 0.5, "vibrate": 0.85, "came vibrate": 1.0})
    sound = told((1.0, "came"), (0.8, "vibrate"))
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("vibrate", "accepted")]


def test_what_is_not_sure_together_stays_apart() -> None:
    listener = PitchListener({"came": 0.5, "came slow": 0.7})
    sound = told((1.0, "came"), (0.8, "slow"))
    assert verdicts(events(sound, listener)) == [("came", "doubtful"), ("slow", "rejected")]


def test_a_phrase_that_was_joined_is_not_joined_again() -> None:
    listener = PitchListener({"level three": 0.99, "level three came": 1.0})
    sound = told((1.0, "level"), (0.8, "three"), (0.8, "came"))
    assert verdicts(events(sound, listener)) == [("level three", "accepted"), ("came", "rejected")]


def test_no_more_is_joined_than_a_segment_may_hold() -> None:
    sound = told((1.0, "level"), (0.8, "three"), seconds=7.5)
    assert verdicts(events(sound, SURE)) == [("level", "rejected"), ("three", "rejected")]


@pytest.mark.parametrize("seconds", [0.0, 0.01, 5.0])
def test_of_silence_there_are_no_events(seconds: float) -> None:
    assert events(np.zeros(round(seconds * RATE), np.float32), SURE) == []
    assert events(hiss(seconds), SURE) == []


# --- PocketSphinx and spoken words ------------------------------------------------------


@pytest.fixture(scope="module")
def sphinx() -> SphinxListener:
    return SphinxListener(GRAMMAR, NARROWING)


def spoken(*parts: tuple[float, str], voice: str = "flite:slt") -> Sound:
    return laid([(gap, say(words, voice, edge_s=0.0)) for gap, words in parts])


def test_spoken_phrases_with_a_pause_inside_are_sure_entries(sphinx: SphinxListener) -> None:
    phrases = [("level", "four"), ("level", "twelve"), ("tap", "two"), ("neck", "twitch")]
    phrases.append(("start session", "bracken"))
    whole = 0
    for first, second in phrases:
        for voice in ("flite:slt", "flite:rms"):
            sound = spoken((1.0, first), (0.8, second), voice=voice)
            found = events(sound, sphinx)
            assert in_order_and_inside(found, sound)
            whole += verdicts(found) == [(f"{first} {second}", "accepted")]
    # Measured: 9 of 10. A last word that is a note by itself parts them: "three" alone is
    # often heard as a sure "treat".
    assert whole >= 7


def test_a_spoken_session_is_heard_in_order_and_other_talk_is_not(sphinx: SphinxListener) -> None:
    sound = spoken(
        (1.0, "start session bracken"),
        (1.6, "good girl come on then"),
        (1.6, "no button"),
        (1.6, "level twelve ignored"),
        (1.6, "i left the lead in the car again"),
        (1.6, "thumb off"),
    )
    found = events(sound, sphinx)
    assert in_order_and_inside(found, sound)
    told = [(words, status) for words, status in verdicts(found) if status != "rejected"]
    assert [words for words, _ in told] == [
        "start session bracken",
        "no button",
        "level twelve ignored",
        "thumb off",
    ]
    assert [status for _, status in told].count("accepted") >= 3


def test_spoken_words_are_the_same_events_from_any_blocks_and_again(
    sphinx: SphinxListener,
) -> None:
    sound = spoken((1.0, "strike that"), (1.6, "what a lovely morning it is"), (1.6, "came"))
    once = events(sound, sphinx, blocks=len(sound))
    assert events(sound, sphinx, blocks=1600) == once
    assert events(sound, sphinx, blocks=777) == once


def chords() -> Sound:
    """Twelve seconds of organ-like chords, changing every 0.6 s."""
    rng = np.random.default_rng(5)
    time = np.arange(round(0.6 * RATE)) / RATE
    fade = np.minimum(1.0, np.minimum(time, time[::-1]) / 0.05)
    parts = []
    for _ in range(20):
        root = 110.0 * 2 ** (rng.integers(0, 13) / 12)
        tones = [root * ratio * k for ratio in (1.0, 1.25, 1.5) for k in (1, 2, 3)]
        chord = sum(np.sin(2 * np.pi * hz * time) / (1 + i % 3) for i, hz in enumerate(tones))
        parts.append(0.05 * fade * chord)
    return laid([(0.0, np.concatenate(parts).astype(np.float32))])


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(np.zeros(10 * RATE, np.float32), id="silence"),
        pytest.param(hiss(15.0, 1e-3), id="-60 dBFS hiss"),
        pytest.param(hiss(15.0, 3e-2), id="-30 dBFS hiss"),
        pytest.param(np.cumsum(hiss(15.0, 1e-3)).astype(np.float32) * 0.05, id="rumble"),
        pytest.param(chords(), id="chords"),
        pytest.param(laid([(0.7, burst(0.25, hz)) for hz in (300.0, 500.0, 800.0)]), id="beeps"),
    ],
)
def test_what_is_no_speech_gives_no_accepted_entry(sphinx: SphinxListener, sound: Sound) -> None:
    found = events(sound, sphinx)
    assert [words for words, status in verdicts(found) if status == "accepted"] == []
    assert in_order_and_inside(found, sound)
