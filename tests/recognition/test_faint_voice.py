"""A faint voice is lifted to be found, within bounds; a usual one and noise are left alone."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recognition.speaking import demo, hiss, laid, said_in, say
from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.recognition import faint_voice
from voicelog.recognition.faint_voice import DetectorGain, segment_gain
from voicelog.recognition.noise_reduction import level_above_noise_db, mean_power, power
from voicelog.recognition.quick_recognizer import (
    NO_HYPOTHESIS,
    AcceptanceThresholds,
    Hypothesis,
    Spectrum,
)
from voicelog.recognition.recognize import Recognizers, recognize_segment
from voicelog.recognition.segmenter import Segment, segments
from voicelog.recognition.voice_activity import FRAME

LEVELS = st.floats(-100.0, 0.0)


def square(dbfs: float) -> Samples:
    """A frame of which all samples have that size."""
    signs = np.sign(np.sin(np.arange(FRAME) + 0.5))
    return np.asarray(10 ** (dbfs / 20) * signs, np.float32)


def noise(dbfs: float) -> Spectrum:
    return power(hiss(1.0, 10 ** (dbfs / 20))[:FRAME])


def db(gain: float) -> float:
    return float(20 * np.log10(gain))


def down(sound: Samples, by_db: float) -> Samples:
    """The sound as from a microphone turned down, whose own noise (-85 dBFS) stays."""
    turned = sound * np.float32(10 ** (-by_db / 20))
    return turned + hiss(len(sound) / RATE, 10 ** (-85 / 20), seed=3)[: len(sound)]


def demo_notes() -> Samples:
    return demo("day1-bracken", 9.3)


def without_gain(sound: Samples, monkeypatch: pytest.MonkeyPatch) -> list[Segment]:
    with monkeypatch.context() as patch:
        patch.setattr(faint_voice, "MOST_DB", 0.0)
        return list(segments([sound]))


@given(LEVELS, LEVELS, LEVELS)
def test_the_gain_lifts_neither_a_frame_nor_the_noise_too_far(
    frame: float, around: float, voice: float
) -> None:
    gain = DetectorGain()
    gain.heard(square(voice), speech=True)
    found = db(gain.factor(square(frame), noise(around)))
    assert 0.0 <= found <= 24.0
    assert found == 0.0 or frame + found <= -24.0 + 0.1
    assert found == 0.0 or around + found <= -55.0 + 1.5


def test_before_any_noise_was_heard_nothing_is_lifted() -> None:
    assert DetectorGain().factor(square(-60.0), None) == 1.0


def test_beside_a_voice_of_usual_loudness_a_faint_one_stays_faint() -> None:
    gain = DetectorGain()
    gain.heard(square(-12.0), speech=True)
    assert gain.factor(square(-50.0), noise(-90.0)) == 1.0


def test_what_is_loud_and_no_voice_keeps_no_voice_down() -> None:
    gain = DetectorGain()
    gain.heard(square(-3.0), speech=False)
    assert db(gain.factor(square(-50.0), noise(-90.0))) == pytest.approx(24.0)


def test_a_voice_is_forgotten_by_6_db_a_minute() -> None:
    gain = DetectorGain()
    gain.heard(square(-12.0), speech=True)
    for _ in range(round(180 * RATE / FRAME)):
        gain.heard(square(-60.0), speech=False)
    assert db(gain.factor(square(-60.0), noise(-90.0))) == pytest.approx(6.0, abs=0.1)


@pytest.mark.parametrize(
    ("peak", "lifted_by"), [(-12.0, 0.0), (-37.0, 0.0), (-39.0, 15.0), (-60.0, 24.0)]
)
def test_a_segment_is_lifted_where_it_is_faint(peak: float, lifted_by: float) -> None:
    assert db(segment_gain(square(peak))) == pytest.approx(lifted_by, abs=0.01)


def test_nothing_is_lifted_without_end() -> None:
    assert db(segment_gain(np.zeros(FRAME, np.float32))) == pytest.approx(24.0)
    assert segment_gain(np.zeros(0, np.float32)) >= 1.0


def test_segments_of_a_usual_voice_are_those_without_a_gain(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plain = without_gain(demo_notes(), monkeypatch)
    found = list(segments([demo_notes()]))
    assert len(found) == 3
    assert [(one.start, one.end) for one in found] == [(one.start, one.end) for one in plain]


@pytest.mark.parametrize("by_db", [44.0, 47.0])
def test_a_voice_turned_down_is_found_whole(by_db: float, monkeypatch: pytest.MonkeyPatch) -> None:
    said = [say(words, "flite:slt", edge_s=0.0) for words in ("came", "strike that")]
    loud = laid([(2.0, one) for one in said], 2.0)
    faint = down(loud / float(np.abs(loud).max()) * np.float32(0.25), by_db)
    assert not any(
        len(one.sound) >= len(spoken)
        for one, spoken in zip(without_gain(faint, monkeypatch), said, strict=False)
    )
    found = list(segments([faint]))
    assert len(found) == len(said)
    at = 0
    for one, spoken in zip(found, said, strict=True):
        at += 2 * RATE
        assert one.start <= at - 0.05 * RATE
        assert one.start + len(one.sound) >= at + len(spoken)
        at += len(spoken)


@pytest.mark.parametrize("rms_dbfs", [-90.0, -80.0, -70.0, -60.0, -50.0])
def test_noise_alone_gives_no_segment_at_any_loudness(rms_dbfs: float) -> None:
    assert list(segments([hiss(20.0, 10 ** (rms_dbfs / 20))])) == []


@pytest.mark.parametrize("size", [160, FRAME, 16_001])
def test_a_faint_stream_in_other_blocks_gives_the_same_segments(size: int) -> None:
    faint = down(demo_notes(), 40.0)
    whole = list(segments([faint]))
    cut = list(segments(faint[at : at + size] for at in range(0, len(faint), size)))
    assert len(said_in("day1-bracken")) >= len(whole) > 0
    assert [(one.start, one.end) for one in cut] == [(one.start, one.end) for one in whole]


@dataclass
class Listening:
    """Keeps what it is given."""

    name: str = "keeping 1"
    hopeful: bool = False
    thresholds: AcceptanceThresholds = field(
        default_factory=lambda: AcceptanceThresholds(0.8, 0.3, 0.8, 0.9)
    )
    given: list[tuple[Samples, Spectrum | None]] = field(default_factory=list)

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        self.given.append((sound, noise))
        return NO_HYPOTHESIS


@pytest.mark.parametrize(("peak", "lifted_by"), [(-12.0, 0.0), (-44.0, 20.0)])
def test_listeners_get_a_faint_segment_louder_and_its_noise_with_it(
    peak: float, lifted_by: float
) -> None:
    sound, around = np.tile(square(peak), 20), noise(-75.0)
    segment = Segment(0, len(sound), sound, around, np.ones(20, np.bool_))
    listening = Listening()
    recognize_segment(segment, Recognizers(listening), Grammar.load(), RecognitionContext(20))
    ((heard, heard_noise),) = listening.given
    assert heard_noise is not None
    assert db(float(np.abs(heard).max())) == pytest.approx(peak + lifted_by, abs=0.01)
    assert db(mean_power(heard_noise) / mean_power(around)) / 2 == pytest.approx(
        lifted_by, abs=0.01
    )
    assert level_above_noise_db(heard, heard_noise) == pytest.approx(
        level_above_noise_db(sound, around)
    )
    assert np.array_equal(segment.sound, np.tile(square(peak), 20))
