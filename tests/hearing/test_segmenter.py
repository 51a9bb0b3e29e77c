"""Segments hold all speech and little else, however the stream is cut into blocks."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.hearing.speaking import burst, hiss, laid, say
from voicelog.hearing.listener import RATE, Sound
from voicelog.hearing.segmenter import FRAME, LONGEST, Segment, pcm16, segments


@cache
def stream() -> Sound:
    """Three bursts with 1 to 2 s between, the last cut off by the end of the sound."""
    return laid([(1.0, burst(0.7)), (1.2, burst(1.5, 120)), (2.0, burst(0.8, 240))], 0.1)


def cut(sound: Sound, places: list[int]) -> list[Sound]:
    return np.split(sound, sorted(places))


def same(a: list[Segment], b: list[Segment]) -> bool:
    return [(s.start, s.end, s.noise) for s in a] == [(s.start, s.end, s.noise) for s in b] and all(
        np.array_equal(x.sound, y.sound) for x, y in zip(a, b, strict=True)
    )


@cache
def whole() -> list[Segment]:
    return list(segments([stream()]))


@settings(max_examples=40)
@given(st.lists(st.integers(0, 7 * RATE), max_size=40))
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
def test_silence_and_low_noise_give_no_segment(sound: Sound) -> None:
    assert list(segments([sound])) == []


def test_no_blocks_give_no_segment() -> None:
    assert list(segments([])) == []


def test_a_burst_is_found_with_a_margin_on_both_sides() -> None:
    (found,) = segments([laid([(1.5, burst(1.0))], 2.0)])
    assert 1.0 * RATE < found.start <= 1.3 * RATE
    assert 2.45 * RATE < found.end < 2.75 * RATE
    assert found.start + len(found.sound) > 2.65 * RATE
    assert found.start + len(found.sound) < 3.2 * RATE


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
    # The last burst is still sounding at the end, and that end falls inside a frame.
    sound = np.concatenate((burst(1.0), hiss(1.0), burst(1.0)))[: 3 * RATE - 101]
    found = list(segments([sound]))
    assert len(found) == 2
    assert found[0].start == 0
    for segment in found:
        assert 0 <= segment.start < segment.end <= len(sound)
    assert found[1].end == len(sound)


@pytest.mark.parametrize("gap_s", [0.8, 1.5])
def test_two_utterances_with_a_pause_are_two_segments(gap_s: float) -> None:
    first, second = say("level", edge_s=0.0), say("three", edge_s=0.0)
    assert len(list(segments([laid([(1.0, first), (gap_s, second)])]))) == 2


@pytest.mark.parametrize("gap_s", [0.1, 0.25])
def test_a_breath_between_words_parts_nothing(gap_s: float) -> None:
    first, second = say("level", edge_s=0.0), say("three", edge_s=0.0)
    assert len(list(segments([laid([(1.0, first), (gap_s, second)])]))) == 1


def test_a_long_stretch_is_cut_into_pieces_none_too_long_and_nothing_lost() -> None:
    spoken = say("and then we walked on along the hedge to the far gate and back again", edge_s=0.0)
    talk = np.concatenate([spoken[: len(spoken) // 2]] * 20)
    assert len(talk) > 2 * LONGEST * FRAME
    found = list(segments([laid([(1.0, talk)])]))
    assert len(found) >= 3
    assert all(len(segment.sound) <= LONGEST * FRAME for segment in found)
    # Between two pieces nothing but what could not start a segment is left out.
    for before, after in pairwise(found):
        assert after.start - (before.start + len(before.sound)) <= 0.03 * RATE


def test_the_noise_is_that_of_the_stretches_without_speech() -> None:
    quiet, loud = (
        next(iter(segments([laid([(2.0, burst(1.0))]) + hiss(4.0, rms, seed=2)])))
        for rms in (0.0, 3e-3)
    )
    assert quiet.noise == pytest.approx(9e-8, rel=0.2)
    assert loud.noise == pytest.approx(9e-6, rel=0.2)


def test_a_segment_that_starts_with_the_stream_knows_no_noise() -> None:
    first = next(iter(segments([burst(1.0)])))
    assert first.start == 0
    assert first.noise is None


def test_samples_become_16_bit_and_beyond_full_scale_are_clipped() -> None:
    raw = pcm16(np.array([0.0, 0.5, 1.0, 1.5, -1.0, -2.0], np.float32))
    assert np.frombuffer(raw, np.int16).tolist() == [0, 16383, 32767, 32767, -32767, -32767]
