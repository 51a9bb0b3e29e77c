"""Portions, channels to one channel, and resampling."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.audio.resampling import RATE, Downmix, rechunk, resample_to_mono

from .making import Sound, loudest_hz, noise, rms_db, tone


def _mix(*channels: Sound) -> Sound:
    mix = Downmix(RATE, len(channels))
    return np.concatenate([mix.mix(w) for w in rechunk([np.stack(channels, axis=1)], mix.window)])


@given(st.lists(st.integers(0, 50), max_size=12), st.integers(1, 40))
def test_portions_hold_the_same_samples_in_order(lengths: list[int], size: int) -> None:
    whole = np.arange(sum(lengths), dtype=np.float32)
    pieces = np.split(whole, np.cumsum(lengths)[:-1]) if lengths else []
    recording_parts = list(rechunk(pieces, size))
    assert all(len(portion) == size for portion in recording_parts[:-1])
    assert all(0 < len(portion) <= size for portion in recording_parts)
    assert np.array_equal(np.concatenate([*recording_parts, whole[:0]]), whole)


def test_equal_channels_give_that_channel() -> None:
    one = noise(2, 0.1)
    assert np.allclose(_mix(one, one), one, atol=1e-6)


def test_an_inverted_side_does_not_cancel() -> None:
    one = noise(2, 0.1)
    assert np.allclose(_mix(one, -one), one, atol=1e-6)
    assert np.allclose(_mix(one, -1.01 * one), one, atol=0.01)


def test_an_inverted_side_does_not_cancel_under_noise_of_its_own() -> None:
    voice = tone(500, 3, peak=0.1)
    mixed = _mix(voice + noise(3, 0.1, seed=1), -voice + noise(3, 0.1, seed=2))
    line = np.abs(np.fft.rfft(mixed))[1500] / len(mixed) * 2
    assert line > 0.1 * 0.7


@pytest.mark.parametrize("dead", [0, 1])
@pytest.mark.parametrize("offset", [0.0, 0.2])
def test_a_dead_side_costs_no_level(dead: int, offset: float) -> None:
    live = tone(440, 2)
    silent = np.full_like(live, offset)
    mixed = _mix(*((silent, live) if dead == 0 else (live, silent)))
    assert rms_db(mixed - mixed.mean()) == pytest.approx(rms_db(live), abs=0.01)


def test_two_people_on_two_microphones_are_both_heard_within_3_db() -> None:
    quiet = np.zeros(5 * RATE, dtype=np.float32)
    first = np.concatenate((tone(400, 5), quiet, tone(400, 5), quiet))
    second = np.concatenate((quiet, tone(700, 5), quiet, tone(700, 5)))
    mixed = _mix(first, second)
    for start in range(0, len(mixed), 5 * RATE):
        part = mixed[start : start + 5 * RATE]
        assert -0.1 - 3.0103 < rms_db(part) - rms_db(tone(400, 5)) < 0.1


def test_a_channel_that_dies_midway_leaves_no_gap_and_no_step() -> None:
    live = tone(300, 6)
    dying = live.copy()
    dying[3 * RATE :] = 0
    mixed = _mix(live, dying)
    steps = np.abs(np.diff(mixed))
    assert steps.max() < 1.5 * np.abs(np.diff(live)).max()
    assert all(rms_db(part) > rms_db(live) - 6.1 for part in np.split(mixed, 12))


def test_the_mix_does_not_turn_over_when_the_louder_side_changes() -> None:
    one = tone(300, 4)
    swell = np.linspace(0.5, 1.0, len(one), dtype=np.float32)
    mixed = _mix(one * swell, -one * swell[::-1])
    assert np.sum(mixed[:RATE] * one[:RATE]) * np.sum(mixed[-RATE:] * one[-RATE:]) > 0


def test_any_number_of_channels() -> None:
    one = noise(1, 0.1)
    zero = np.zeros_like(one)
    assert np.allclose(_mix(zero, one, -one, zero, one, zero), one, atol=1e-6)


def test_silence_stays_silence() -> None:
    zero = np.zeros(2 * RATE, dtype=np.float32)
    assert not _mix(zero, zero).any()


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 32_000, 44_100, 48_000, 88_200, 96_000])
def test_resampling_keeps_a_tone_its_pitch_and_its_level(rate: int) -> None:
    out = np.concatenate(list(resample_to_mono(rechunk([tone(1000, 2, rate)], 700), rate)))
    assert len(out) == pytest.approx(2 * RATE, abs=1)
    middle = out[RATE // 2 : 3 * RATE // 2]
    assert loudest_hz(middle) == pytest.approx(1000, abs=1)
    assert rms_db(middle) == pytest.approx(-9.0309, abs=0.01)


@pytest.mark.parametrize("rate", [44_100, 48_000, 96_000])
def test_what_16_khz_cannot_hold_is_removed_not_folded(rate: int) -> None:
    out = np.concatenate(list(resample_to_mono([tone(11_000, 1, rate)], rate)))
    assert rms_db(out[RATE // 4 : 3 * RATE // 4]) < -90


@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000])
def test_resampling_keeps_time(rate: int) -> None:
    click = np.zeros(2 * rate, dtype=np.float32)
    click[rate] = 1
    out = np.concatenate(list(resample_to_mono(rechunk([click], 1000), rate)))
    assert int(np.argmax(np.abs(out))) == pytest.approx(RATE, abs=1)
