"""Sounds of our own, told apart by ear, and a voice that needs no system package."""

from __future__ import annotations

import shutil
import sys
from itertools import combinations

import numpy as np
import pytest

from voicelog.audio.resampling import RATE, Samples
from voicelog.live.outputs import ToneKind
from voicelog.live.speech_synthesis import SpeechSynthesizer, find_voice
from voicelog.live.tones import tone

KINDS: tuple[ToneKind, ...] = (
    *("accepted", "doubtful", "not understood"),
    *("listening", "waiting", "warning"),
)


def pips(sound: Samples) -> int:
    """How many separate sounds there are: stretches separated by 50 ms of silence."""
    loud = np.flatnonzero(np.abs(sound) > 1e-3)
    return 1 + int(np.sum(np.diff(loud) > 0.05 * RATE))


def pitch(sound: Samples) -> float:
    spectrum = np.abs(np.fft.rfft(sound, 4 * RATE))
    return float(np.argmax(spectrum)) / 4


def test_tones_are_what_they_are_said_to_be() -> None:
    accepted, doubtful, missed = tone("accepted"), tone("doubtful"), tone("not understood")
    assert pips(accepted) == 1
    assert len(accepted) < 0.15 * RATE
    assert pips(doubtful) == 2
    assert pips(missed) == 1
    assert len(missed) > 0.4 * RATE
    assert pitch(missed) < pitch(doubtful) < pitch(accepted) < 1000
    assert len(tone("listening")) < 0.03 * RATE
    assert np.abs(tone("listening")).max() < np.abs(accepted).max() / 2


def test_no_two_tones_are_alike() -> None:
    for one, other in combinations(KINDS, 2):
        a, b = tone(one), tone(other)
        same = (pips(a), round(pitch(a)), len(a)) == (pips(b), round(pitch(b)), len(b))
        assert not same, (one, other)


@pytest.mark.parametrize("kind", KINDS)
def test_tones_begin_and_end_softly_and_never_loudly(kind: ToneKind) -> None:
    sound = tone(kind)
    assert sound.dtype == np.float32
    assert abs(sound[0]) < 0.01
    assert abs(sound[-1]) < 0.01
    assert 0.01 < np.abs(sound).max() <= 0.25


def test_the_voice_from_the_package_speaks_at_once_and_clearly_apart() -> None:
    pytest.importorskip("espeakng_loader", reason="the extra 'voice' is not installed")
    voice = find_voice()
    assert voice is not None
    assert voice.name == "eSpeak NG"
    three, nine = voice.sound("Level 3"), voice.sound("Level 9")
    assert 0.3 * RATE < len(three) < 1.5 * RATE
    assert np.abs(three).max() == pytest.approx(0.5, abs=0.01)
    assert len(three) != len(nine) or not np.allclose(three, nine)
    assert np.array_equal(voice.sound("Level 3"), three)


def test_six_words_are_spoken_in_under_four_seconds() -> None:
    pytest.importorskip("espeakng_loader", reason="the extra 'voice' is not installed")
    voice = find_voice()
    assert voice is not None
    assert len(voice.sound("Perhaps stop. No more stimulation today")) < 4.0 * RATE


@pytest.mark.parametrize("program", ["espeak-ng", "flite"])
def test_a_system_voice_is_used_where_the_package_is_missing(
    monkeypatch: pytest.MonkeyPatch, program: str
) -> None:
    if shutil.which(program) is None:
        pytest.skip(f"{program} is not installed; apt-get install {program}")
    if sys.platform != "linux":
        pytest.skip("the system's own voice would come first")
    which = shutil.which
    monkeypatch.setitem(sys.modules, "espeakng_loader", None)
    monkeypatch.setattr(shutil, "which", lambda name: which(name) if name == program else None)
    voice = find_voice()
    assert voice is not None
    assert voice.name == program
    assert len(voice.sound("Level 3")) > 0.3 * RATE


def test_without_any_voice_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "espeakng_loader", None)
    monkeypatch.setattr(shutil, "which", lambda name: None)
    assert find_voice() is None


def test_a_voice_that_fails_is_silent_and_nothing_else() -> None:
    def broken(words: str) -> tuple[Samples, int]:
        raise OSError("gone")

    assert len(SpeechSynthesizer("broken", broken).sound("Level 3")) == 0
