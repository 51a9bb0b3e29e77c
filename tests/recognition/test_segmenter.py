"""Segments hold all speech and little else, however the stream is cut into blocks."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.recognition.speaking import Said, burst, demo, hiss, laid, said_in, say
from voicelog.audio.resampling import RATE, Samples
from voicelog.recognition.noise_reduction import mean_power
from voicelog.recognition.segmenter import (
    AFTER,
    BEFORE,
    BEFORE_IN_NOISE,
    HANGOVER_IN_NOISE,
    LONGEST,
    Segment,
    pcm16,
    segments,
)
from voicelog.recognition.voice_activity import FRAME

DEMO = "day1-bracken"
END_S = 9.3
"""Where the demo recording is cut off, in the middle of "collar number three"."""


def stream() -> Samples:
    """Two notes and talk between them, the second note cut off by the end of the sound."""
    return demo(DEMO, END_S)


def cut(sound: Samples, places: list[int]) -> list[Samples]:
    return np.split(sound, sorted(places))


def same(a: list[Segment], b: list[Segment]) -> bool:
    return [(s.start, s.end) for s in a] == [(s.start, s.end) for s in b] and all(
        np.array_equal(x.sound, y.sound)
        and np.array_equal(x.speech, y.speech)
        and np.array_equal(np.asarray(x.noise), np.asarray(y.noise))
        for x, y in zip(a, b, strict=True)
    )


@cache
def whole() -> list[Segment]:
    return list(segments([stream()]))


@settings(max_examples=15)
@given(st.lists(st.integers(0, round(END_S * RATE)), max_size=40))
def test_however_the_sound_is_cut_the_segments_are_the_same(places: list[int]) -> None:
    assert len(whole()) == 3
    assert same(list(segments(cut(stream(), places))), whole())


@pytest.mark.parametrize("size", [160, FRAME, 1600, 16_001])
def test_blocks_of_one_size_give_the_same_segments(size: int) -> None:
    blocks = (stream()[at : at + size] for at in range(0, len(stream()), size))
    assert same(list(segments(blocks)), whole())


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(np.zeros(0, np.float32), id="no sound"),
        pytest.param(np.zeros(5, np.float32), id="5 samples"),
        pytest.param(np.zeros(20 * RATE, np.float32), id="silence"),
        pytest.param(hiss(20.0, 1e-4), id="-80 dBFS noise"),
        pytest.param(hiss(20.0, 3e-3), id="-50 dBFS noise"),
        pytest.param(np.full(5 * RATE, 0.1, np.float32), id="an offset"),
    ],
)
def test_silence_and_low_noise_give_no_segment(sound: Samples) -> None:
    assert list(segments([sound])) == []


def test_no_blocks_give_no_segment() -> None:
    assert list(segments([])) == []


@pytest.mark.parametrize("said", said_in(DEMO)[:2], ids=lambda said: said.words)
def test_what_is_said_lies_in_a_segment_with_a_margin_on_both_sides(said: Said) -> None:
    (found,) = (
        one
        for one in whole()
        if one.start <= said.start_s * RATE and said.end_s * RATE <= one.start + len(one.sound)
    )
    assert 0.1 < said.start_s - (found.start + found.early) / RATE < 0.7
    assert found.end / RATE == pytest.approx(said.end_s, abs=0.25)
    assert 0.1 < (found.start + found.early + len(found.usual)) / RATE - said.end_s < 0.7


def test_each_frame_is_told_to_be_speech_or_not() -> None:
    for found in whole():
        assert len(found.speech) == -(-len(found.sound) // FRAME)
        assert found.speech.any()
        assert not found.speech[:3].any()


@pytest.mark.parametrize(
    "sound",
    [
        pytest.param(burst(2.0, 600.0), id="a buzz"),
        pytest.param(
            (0.3 * np.sin(2 * np.pi * 440 * np.arange(3 * RATE) / RATE)).astype(np.float32),
            id="a tone",
        ),
        pytest.param(hiss(10.0, 0.05), id="-26 dBFS noise"),
    ],
)
def test_what_is_loud_and_no_voice_gives_no_segment(sound: Samples) -> None:
    assert list(segments([laid([(1.0, sound)])])) == []


def test_where_noise_drowns_what_is_said_more_is_kept_around_it() -> None:
    quiet = laid([(3.0, say("here level three came", "flite:slt", edge_s=0.0))], 1.5)
    (alone,) = segments([quiet])
    (drowned,) = segments([quiet + hiss(len(quiet) / RATE, 0.03)[: len(quiet)]])
    assert (alone.early, alone.late) == (0, 0)
    assert np.array_equal(alone.usual, alone.sound)
    assert drowned.early == (BEFORE_IN_NOISE - BEFORE) * FRAME
    assert drowned.late == (HANGOVER_IN_NOISE - AFTER) * FRAME
    assert len(drowned.usual) == len(drowned.sound) - drowned.early - drowned.late
    without = drowned.without_more()
    assert np.array_equal(without.sound, drowned.usual)
    assert len(without.speech) == -(-len(without.sound) // FRAME)
    assert (without.early, without.late, without.end) == (0, 0, drowned.end)
    assert drowned.start + drowned.early == pytest.approx(alone.start, abs=8 * FRAME)


@pytest.mark.parametrize("voice", ["flite:slt", "flite:rms", "espeak-ng:en-gb"])
@pytest.mark.parametrize("words", ["came", "strike that", "here level three came neck twitch"])
def test_speech_is_one_segment_that_holds_all_of_it(voice: str, words: str) -> None:
    spoken = say(words, voice, edge_s=0.0)
    (found,) = segments([laid([(1.0, spoken)], 1.5)])
    first, last = RATE, RATE + len(spoken)
    assert found.start <= first - 0.1 * RATE
    assert found.start + len(found.sound) >= last + 0.1 * RATE
    assert len(found.sound) < len(spoken) + 1.3 * RATE


def test_a_segment_holds_the_very_samples_of_the_stream() -> None:
    for found in whole():
        there = stream()[found.start : found.start + len(found.sound)]
        assert np.array_equal(found.sound, there)


def test_segments_are_in_order_and_apart() -> None:
    for before, after in pairwise(whole()):
        assert before.start < before.end
        assert before.start + len(before.sound) <= after.start


def test_starts_and_ends_lie_within_the_sound() -> None:
    # Somebody speaks at the very end, and that end falls inside a frame.
    assert len(stream()) % FRAME
    for segment in whole():
        assert 0 <= segment.start < segment.end <= len(stream())
    assert whole()[-1].end == len(stream())


def test_speech_from_the_first_sample_on_starts_there() -> None:
    said = said_in(DEMO)[0]
    found = next(iter(segments([demo(DEMO, 5.0, start_s=said.start_s)])))
    assert found.start == 0


@pytest.mark.parametrize("gap_s", [0.8, 1.5])
def test_two_utterances_with_a_pause_are_two_segments(gap_s: float) -> None:
    first, second = say("level", edge_s=0.0), say("three", edge_s=0.0)
    assert len(list(segments([laid([(1.0, first), (gap_s, second)])]))) == 2


@pytest.mark.parametrize("gap_s", [0.1, 0.25])
def test_a_breath_between_words_parts_nothing(gap_s: float) -> None:
    first, second = say("level", edge_s=0.0), say("three", edge_s=0.0)
    assert len(list(segments([laid([(1.0, first), (gap_s, second)])]))) == 1


def test_a_long_stretch_is_cut_into_pieces_none_too_long_and_nothing_lost() -> None:
    talk = said_in(DEMO)[1]
    spoken = demo(DEMO, talk.end_s, start_s=talk.start_s)
    talk_on = np.concatenate([spoken[: len(spoken) // 2]] * 30)
    assert len(talk_on) > 2 * LONGEST * FRAME
    found = list(segments([laid([(1.0, talk_on)])]))
    assert len(found) >= 3
    assert all(len(segment.sound) <= LONGEST * FRAME for segment in found)
    # Between two pieces nothing but what could not start a segment is left out.
    for before, after in pairwise(found):
        assert after.start - (before.start + len(before.sound)) <= 0.03 * RATE


@pytest.mark.parametrize("rms", [1e-3, 3e-3])
def test_the_noise_is_that_of_the_stretches_without_speech(rms: float) -> None:
    said = said_in(DEMO)[0]
    spoken = demo(DEMO, said.end_s, start_s=said.start_s)
    sound = np.concatenate((np.zeros(4 * RATE, np.float32), spoken))
    (found,) = segments([sound + hiss(len(sound) / RATE, rms, seed=2)])
    assert found.noise is not None
    assert mean_power(found.noise) == pytest.approx(rms**2, rel=0.2)


def test_a_segment_that_starts_with_the_stream_may_know_no_noise() -> None:
    said = said_in(DEMO)[0]
    found = next(iter(segments([demo(DEMO, 5.0, start_s=said.start_s + 0.3)])))
    assert found.start == 0
    assert found.noise is None or mean_power(found.noise) > 0


def test_samples_become_16_bit_and_beyond_full_scale_are_clipped() -> None:
    raw = pcm16(np.array([0.0, 0.5, 1.0, 1.5, -1.0, -2.0], np.float32))
    assert np.frombuffer(raw, np.int16).tolist() == [0, 16383, 32767, 32767, -32767, -32767]
