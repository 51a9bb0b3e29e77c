"""A stand-in for sounddevice and its PortAudio: devices in a list, streams worked by hand."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np

__all__ = ["PortAudioError", "StandIn"]


class PortAudioError(Exception):
    """As sounddevice raises it: a sentence and PortAudio's number."""


@dataclass
class _Stream:
    library: StandIn
    options: dict[str, Any]
    open: bool = True
    written: list[Any] = field(default_factory=list)

    def start(self) -> None:
        self.library.refuse(self.options)

    def close(self, ignore_errors: bool = True) -> None:
        self.open = False

    def write(self, data: Any) -> None:
        if not self.open or self.library.gone:
            raise PortAudioError("Device unavailable", -9985)
        self.written.append(np.array(data))


@dataclass
class StandIn:
    """`devices` are (name, in, out, rate); `channels` and `rates` are those it takes."""

    devices: list[tuple[str, int, int, int]]
    channels: tuple[int, ...] = (1, 2)
    rates: tuple[int, ...] = (44_100, 48_000, 16_000)
    busy: bool = False
    gone: bool = False
    rescans: int = 0
    streams: list[_Stream] = field(default_factory=list)

    PortAudioError = PortAudioError

    @property
    def default(self) -> Any:
        ins = next((i for i, d in enumerate(self.devices) if d[1]), -1)
        outs = next((i for i, d in enumerate(self.devices) if d[2]), -1)
        return SimpleNamespace(device=(ins, outs))

    def query_devices(self) -> list[dict[str, Any]]:
        return [
            {
                "name": name,
                "max_input_channels": ins,
                "max_output_channels": outs,
                "default_samplerate": float(rate),
            }
            for name, ins, outs, rate in self.devices
        ]

    def refuse(self, options: dict[str, Any]) -> None:
        if self.busy:
            raise PortAudioError("Device unavailable", -9985)
        if options["channels"] not in self.channels:
            raise PortAudioError("Invalid number of channels", -9998)
        if options["samplerate"] not in self.rates:
            raise PortAudioError("Invalid sample rate", -9997)

    def InputStream(self, **options: Any) -> _Stream:  # noqa: N802
        self.refuse(options)
        stream = _Stream(self, options)
        self.streams.append(stream)
        return stream

    OutputStream = InputStream

    def _terminate(self) -> None:
        self.rescans += 1
        assert not any(stream.open for stream in self.streams), "a stream was left open"

    def _initialize(self) -> None:
        pass

    def brings(self, sound: Any, *, overflow: bool = False) -> None:
        """The newest open input stream brings a block, as PortAudio's thread would."""
        stream = next(s for s in reversed(self.streams) if s.open and "callback" in s.options)
        status = SimpleNamespace(input_overflow=overflow)
        stream.options["callback"](sound, len(sound), None, status)
