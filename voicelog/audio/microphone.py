"""The machine's sound devices, through PortAudio: which there are, and the microphone.

PortAudio calls back from a thread of its own and waits for nobody; what it brings is
copied and handed on at once. Devices are chosen by a part of their name, since their
numbers change with every plug. One that goes away is found by what it is (`find_same_device`):
another in its place would be a loudspeaker beside the dog.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import soxr

from voicelog.audio.resampling import RATE, Downmix, Samples
from voicelog.audio.sound_server import PinnedPortAudio
from voicelog.model import VoicelogError

__all__ = [
    "DEVICE_LOCK",
    "BlockCallbackFor",
    "Device",
    "DeviceBusyError",
    "DeviceError",
    "DeviceGoneError",
    "Direction",
    "Microphone",
    "NoDeviceError",
    "NoPortAudioError",
    "StreamResampler",
    "find_device",
    "find_same_device",
    "list_devices",
    "portaudio",
    "rescan",
]

Direction = Literal["in", "out"]
Take = Callable[[Samples, bool], None]
"""(samples of shape (n, channels), whether some before them were lost) -> quickly back."""
BlockCallbackFor = Callable[[int], Take]
"""A device's rate (Hz) -> what takes its blocks, from another thread."""

BUFFER_S = 0.1
"""Latency asked of the device (s): short enough for a prompt tone, long enough for a busy
machine."""
DEVICE_LOCK = threading.RLock()
"""Held while devices are looked for anew, and while a stream is opened: PortAudio's list, and
every stream of it, goes when it is read again."""
_BAD_CHANNELS, _BAD_RATE, _BAD_DEVICE = -9998, -9997, -9996
_WORDS: dict[Direction, tuple[str, str]] = {
    "in": ("microphone", "--device"),
    "out": ("earphone", "--output"),
}


class DeviceError(VoicelogError):
    """A sound device cannot be used. `way` is its direction."""

    def __init__(self, way: Direction, sentence: str) -> None:
        self.way = way
        super().__init__(sentence)


class NoPortAudioError(VoicelogError):
    """The library that reaches sound devices is not there."""

    def __init__(self, found: str) -> None:
        self.found = found
        super().__init__(
            f"Found no way to the sound devices ({found}), wanted the PortAudio library; on Debian "
            "or Ubuntu install libportaudio2, elsewhere install voicelog again."
        )


class NoDeviceError(DeviceError):
    """No device of that direction, or none of that name."""

    def __init__(self, way: Direction, name: str | None, known: Sequence[str]) -> None:
        what, option = _WORDS[way]
        self.name, self.known = name, tuple(known)
        if name is None:
            said = f"Found no {what}, wanted one; plug it in and try again."
        else:
            have = "; ".join(known) or "none"
            said = (
                f"Found no {what} whose name has '{name}' in it, wanted one of those there are "
                f"({have}); correct {option}."
            )
        super().__init__(way, said)


class DeviceBusyError(DeviceError):
    """The device is there and cannot be opened."""

    def __init__(self, way: Direction, name: str, reason: str) -> None:
        what, option = _WORDS[way]
        self.name, self.reason = name, reason
        super().__init__(
            way,
            f"Found the {what} '{name}' busy or refusing ({reason}), wanted it free; close what "
            f"uses it, or choose another with {option}.",
        )


class DeviceGoneError(DeviceError):
    """The device that a session began with is not there any more."""

    def __init__(self, way: Direction, name: str) -> None:
        self.name = name
        super().__init__(
            way, f"Found the {_WORDS[way][0]} '{name}' gone, wanted it back; plug it in again."
        )


@dataclass(frozen=True, slots=True)
class Device:
    """One device in one direction; `rate` (Hz) is its own, `index` PortAudio's for now.

    `api`: PortAudio's number of the way to it; one device may be reached in several.
    """

    index: int
    name: str
    channels: int
    rate: int
    default: bool
    api: int = 0

    @property
    def identity(self) -> tuple[int, str]:
        """What stays the same when it is plugged in again: ALSA's numbers do not."""
        return self.api, re.sub(r" \(hw:\d+,\d+\)$", "", self.name)


def portaudio() -> Any:
    """The sounddevice module, held to the devices it began with (NoPortAudioError where it, or
    PortAudio, is missing)."""
    try:
        import sounddevice  # loads the PortAudio library, which may be missing
    except ImportError as error:
        raise NoPortAudioError("the package sounddevice is not installed") from error
    except OSError as error:  # the package is there, the library is not
        raise NoPortAudioError(str(error)) from error
    return PinnedPortAudio(sounddevice)


def rescan(library: Any) -> None:
    """Look for devices anew. Every open stream must be closed before, and none opened until it
    is over: hold DEVICE_LOCK.
    """
    library._terminate()
    library._initialize()


def list_devices(way: Direction, library: Any) -> tuple[Device, ...]:
    """The devices of a direction."""
    channels = f"max_{way}put_channels"
    default = library.default.device[0 if way == "in" else 1]
    try:
        found = library.query_devices()
    except library.PortAudioError:
        return ()
    return tuple(
        Device(
            index=index,
            name=info["name"],
            channels=info[channels],
            rate=round(info["default_samplerate"]),
            default=index == default,
            api=info.get("hostapi", 0),
        )
        for index, info in enumerate(found)
        if info[channels] > 0
    )


def find_device(way: Direction, name: str | None, library: Any) -> Device:
    """The device whose name has `name` in it, letter case aside; the default one for None.

    Raises:
        NoDeviceError: there is none.
    """
    known = list_devices(way, library)
    if name is None:
        chosen = next((device for device in known if device.default), None)
        chosen = chosen or next(iter(known), None)
    else:
        wanted = name.casefold()
        exact = (device for device in known if device.name.casefold() == wanted)
        part = (device for device in known if wanted in device.name.casefold())
        chosen = next(exact, None) or next(part, None)
    if chosen is None:
        raise NoDeviceError(way, name, [device.name for device in known])
    return chosen


def find_same_device(way: Direction, device: Device, library: Any) -> Device:
    """The same device, wherever it is listed now.

    Raises:
        DeviceGoneError: it is not there, or cannot be told from another.
    """
    known = list_devices(way, library)
    same = [one for one in known if (one.api, one.name) == (device.api, device.name)]
    same = same or [one for one in known if one.identity == device.identity]
    if len(same) != 1:
        raise DeviceGoneError(way, device.name)
    return same[0]


class Microphone:
    """An open microphone: calls the taker for its rate until it is closed.

    `rate` (Hz) is the one asked for, else the device's own. Channels are one where the
    device gives one, else two. `held`: the device that it must be, whatever `name` fits.

    Raises:
        NoDeviceError, DeviceGoneError, DeviceBusyError
    """

    def __init__(
        self,
        taker_for: BlockCallbackFor,
        *,
        name: str | None = None,
        rate: int | None = None,
        held: Device | None = None,
        library: Any,
    ) -> None:
        self.device = (
            find_same_device("in", held, library) if held else find_device("in", name, library)
        )
        self.rate = rate or self.device.rate
        self.channels = 1
        tries = [(self.rate, 1)]
        if self.device.channels > 1:
            tries.append((self.rate, 2))
        if self.rate != self.device.rate:
            tries += [(self.device.rate, channels) for _, channels in tries]

        last: Exception | None = None
        for rate_hz, channels in tries:
            take = taker_for(rate_hz)

            def called(data: Any, _frames: int, _time: Any, status: Any, take: Take = take) -> None:
                take(data.copy(), bool(status.input_overflow))

            try:
                self._stream = library.InputStream(
                    device=self.device.index,
                    samplerate=rate_hz,
                    channels=channels,
                    dtype="float32",
                    latency=BUFFER_S,
                    callback=called,
                )
                self._stream.start()
            except library.PortAudioError as error:
                last = error
                if _code(error) in (_BAD_CHANNELS, _BAD_RATE):
                    continue
                break
            self.rate, self.channels = rate_hz, channels
            return
        raise DeviceBusyError("in", self.device.name, _reason(last)) from last

    def close(self) -> None:
        """Let go of the device; nothing is called afterwards."""
        self._stream.close(ignore_errors=True)


def _code(error: Exception) -> int | None:
    return error.args[1] if len(error.args) > 1 and isinstance(error.args[1], int) else None


def _reason(error: Exception | None) -> str:
    return str(error.args[0] if error and error.args else error).rstrip(". ")


class StreamResampler:
    """What devices bring, as mono at `resampling.RATE`: push blocks of any rate and shape.

    Two channels are mixed as for files, in windows as long as the blocks.
    """

    def __init__(self, rate: int, channels: int) -> None:
        self._mix = Downmix(rate, channels)
        same = rate == RATE
        self._stream = (
            None if same else soxr.ResampleStream(rate, RATE, 1, dtype="float32", quality="HQ")
        )

    def push(self, block: Samples) -> Samples:
        """A block of shape (n, channels); what can be given out by now, shape (m,)."""
        mono = np.clip(self._mix.mix(block), -1.0, 1.0)
        if self._stream is None:
            return mono
        out: Samples = self._stream.resample_chunk(np.ascontiguousarray(mono))
        return out

    def finish(self) -> Samples:
        """What the resampler still holds."""
        if self._stream is None:
            return np.zeros(0, np.float32)
        out: Samples = self._stream.resample_chunk(np.zeros(0, np.float32), last=True)
        return out
