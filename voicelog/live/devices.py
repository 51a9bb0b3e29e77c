"""The devices of a live session: the microphone, reopened when it went away, and the earphone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from voicelog.audio.microphone import (
    BlockCallbackFor,
    Device,
    DeviceError,
    Microphone,
    find_device,
    rescan,
)
from voicelog.live.earphone import Earphone, Side
from voicelog.live.live_session import OpenMicrophone

__all__ = ["LiveDevices", "find_live_devices"]


@dataclass(frozen=True, slots=True)
class LiveDevices:
    """How to open the microphone, and the earphone; None where there is none to sound in, and
    then `trouble` says why, if it was not meant."""

    microphone: OpenMicrophone
    earphone: Earphone | None = None
    trouble: DeviceError | None = None


def find_live_devices(
    library: Any,
    *,
    device: str | None,
    rate: int | None,
    output: str | None,
    side: Side,
    volume: float,
) -> LiveDevices:
    """The devices by a part of their names (None: the system's), through PortAudio.

    `rate` (Hz) is what to ask the microphone for; `output` "none" means silence.

    Raises:
        DeviceError: there is no such microphone, or not the earphone that was named.
    """
    find_device("in", device, library)  # a wrong name is refused before anything begins
    held: Device | None = None

    def open_microphone(taker_for: BlockCallbackFor, anew: bool) -> Microphone:
        nonlocal held
        if anew:
            rescan(library)
        opened = Microphone(taker_for, name=device, rate=rate, held=held, library=library)
        held = held or opened.device
        return opened

    if output == "none":
        return LiveDevices(open_microphone)
    try:
        earphone = Earphone(name=output, side=side, volume=volume, library=library)
    except DeviceError as error:
        if output is not None:
            raise
        return LiveDevices(open_microphone, trouble=error)
    return LiveDevices(open_microphone, earphone)
