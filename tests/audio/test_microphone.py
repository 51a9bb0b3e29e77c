"""Devices by name, and a microphone that hands on what it brings, on a stand-in device."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tests.audio.stand_in import StandIn
from voicelog.audio.microphone import (
    DeviceBusyError,
    DeviceGoneError,
    Microphone,
    NoDeviceError,
    NoPortAudioError,
    StreamResampler,
    find_device,
    list_devices,
    portaudio,
    rescan,
)
from voicelog.audio.resampling import RATE, resample_to_mono

BUILT_IN = ("Built-in Audio", 2, 2, 48_000)
HEADSET = ("USB Headset Mono", 1, 2, 44_100)
Taken = list[tuple[int, Any, bool]]


def taker(taken: Taken) -> Callable[[int], Callable[[Any, bool], None]]:
    return lambda rate: lambda sound, lost: taken.append((rate, sound, lost))


def test_a_device_is_chosen_by_a_part_of_its_name_else_the_default() -> None:
    library = StandIn([("Speakers", 0, 2, 48_000), BUILT_IN, HEADSET])
    assert find_device("in", None, library).name == "Built-in Audio"
    assert find_device("in", "headset", library).name == "USB Headset Mono"
    assert find_device("out", None, library).name == "Speakers"
    assert [device.name for device in list_devices("in", library)] == [BUILT_IN[0], HEADSET[0]]


def test_a_name_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(NoDeviceError) as refused:
        find_device("in", "lapel", StandIn([BUILT_IN, HEADSET]))
    assert str(refused.value) == (
        "Found no microphone whose name has 'lapel' in it, wanted one of those there are "
        "(Built-in Audio; USB Headset Mono); correct --device."
    )


def test_no_microphone_at_all_is_said() -> None:
    with pytest.raises(NoDeviceError) as refused:
        find_device("in", None, StandIn([("Speakers", 0, 2, 48_000)]))
    assert str(refused.value) == ("Found no microphone, wanted one; plug it in and try again.")


def test_blocks_are_copied_and_handed_on_with_what_was_lost() -> None:
    library, taken = StandIn([HEADSET]), Taken()
    microphone = Microphone(taker(taken), library=library)
    block = np.ones((441, 1), np.float32)
    library.brings(block, overflow=True)
    block[:] = 0.0
    ((rate, sound, lost),) = taken
    assert (rate, lost) == (44_100, True)
    assert sound.min() == 1.0
    microphone.close()
    assert not library.streams[0].open


def test_a_device_that_gives_only_two_channels_is_opened_with_two() -> None:
    library = StandIn([BUILT_IN], channels=(2,))
    assert Microphone(taker([]), library=library).channels == 2


def test_a_rate_the_device_does_not_take_falls_back_to_its_own() -> None:
    library = StandIn([BUILT_IN], rates=(48_000,))
    assert Microphone(taker([]), rate=16_000, library=library).rate == 48_000


def test_a_busy_device_is_one_sentence() -> None:
    with pytest.raises(DeviceBusyError) as refused:
        Microphone(taker([]), library=StandIn([HEADSET], busy=True))
    assert str(refused.value) == (
        "Found the microphone 'USB Headset Mono' busy or refusing (Device unavailable), wanted it "
        "free; close what uses it, or choose another with --device."
    )


def test_a_microphone_that_is_gone_is_not_another_one() -> None:
    usb = ("USB Audio: - (hw:1,0)", 1, 0, 48_000)
    library = StandIn([BUILT_IN, usb])
    held = Microphone(taker([]), name="usb", library=library).device
    library.devices = [BUILT_IN, ("USB Audio Pro: - (hw:1,0)", 1, 0, 48_000)]
    with pytest.raises(DeviceGoneError) as gone:
        Microphone(taker([]), name="usb", held=held, library=library)
    assert str(gone.value) == (
        "Found the microphone 'USB Audio: - (hw:1,0)' gone, wanted it back; plug it in again."
    )
    library.devices = [("USB Audio: - (hw:2,0)", 1, 0, 48_000), BUILT_IN]
    assert Microphone(taker([]), name="usb", held=held, library=library).device.index == 0
    library.devices *= 2
    with pytest.raises(DeviceGoneError):  # which of the two it is cannot be told
        Microphone(taker([]), name="usb", held=held, library=library)


def test_looking_for_devices_anew_starts_portaudio_again() -> None:
    library = StandIn([HEADSET])
    microphone = Microphone(taker([]), library=library)
    microphone.close()
    rescan(library)
    assert library.rescans == 1


def test_without_portaudio_one_sentence_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, *rest)

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(NoPortAudioError) as refused:
        portaudio()
    assert str(refused.value) == (
        "Found no way to the sound devices (PortAudio library not found), wanted the PortAudio "
        "library; on Debian or Ubuntu install libportaudio2, elsewhere install voicelog again."
    )


@pytest.mark.parametrize("rate", [8_000, 16_000, 44_100, 48_000, 96_000])
def test_any_rate_becomes_the_same_sound_as_from_a_file(rate: int) -> None:
    rng = np.random.default_rng(3)
    sound = (0.1 * rng.standard_normal(rate * 2)).astype(np.float32)
    converter = StreamResampler(rate, 1)
    parts = [converter.push(sound[i : i + 1000, None]) for i in range(0, len(sound), 1000)]
    live = np.concatenate([*parts, converter.finish()])
    as_file = np.concatenate(list(resample_to_mono([sound], rate)))
    assert len(live) == 2 * RATE
    assert np.allclose(live, as_file, atol=1e-6)


def test_an_inverted_second_channel_does_not_cancel_the_first() -> None:
    time = np.arange(4800) / 48_000
    wave = (0.3 * np.sin(2 * np.pi * 300 * time)).astype(np.float32)
    converter = StreamResampler(48_000, 2)
    live = np.concatenate([converter.push(np.stack([wave, -wave], axis=1)) for _ in range(10)])
    assert np.sqrt(np.mean(np.square(live))) > 0.15
