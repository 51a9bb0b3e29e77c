r"""What the link between a microphone and the recorder leaves of sound, for the benchmarks.

    band8   300 to 3,400 Hz at 8 kHz in 8 bits by the mu law, as of an old headset
    ulaw    8 kHz in 8 bits by the mu law (ITU-T G.711), the whole band to 4 kHz
    gsm     GSM full rate, 13 kbit/s at 8 kHz (ETSI EN 300 961), as libsndfile has it
    msbc    modified SBC, 16 kHz at about 60 kbit/s: a headset's wide-band voice (Bluetooth HFP 1.6)
    opus8   Opus at 8 kbit/s, 16 kHz, for voice (RFC 6716): a messenger on a weak network
    lost    msbc, with one packet of 7.5 ms in twenty lost, in bursts of three on average (Gilbert,
            Bell Syst. Tech. J. 39, 1960); what is lost is the last packet again, softer each time

A link is written at the end of a condition: "wind5-gsm", "kitchen12-opus8", "msbc". Make the sound,
then hear it, in noise and in wind:

    python -m tests.bench.narrations --split test --condition wind5-gsm wind5-lost pink20-opus8
    python -m tests.bench.people --split test --condition kitchen12-gsm kitchen12-lost
    python -m tests.bench.recognition --split test --listener both --short \
        --condition wind5-gsm wind5-lost pink20-opus8 people-kitchen12-gsm people-kitchen12-lost
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import cast

import av
import numpy as np
import soundfile as sf
import soxr
from av.audio.codeccontext import AudioCodecContext
from scipy.signal import butter, sosfilt

from tests.bench.voices import RATE, Sound

__all__ = ["LINKS", "part_link"]

NARROW = 8_000
"""Hz of a narrow-band link."""
PACKET = 120
"""Samples (7.5 ms) in a packet of mSBC."""
LOST_SHARE, BURST = 0.05, 3.0
SOFTER = 0.7


def telephone(sound: Sound) -> Sound:
    """What a headset's narrow link leaves: 300 to 3,400 Hz, 8 kHz, 8 bits by the mu law."""
    narrow = soxr.resample(sound, RATE, NARROW)
    narrow = sosfilt(butter(4, (300, 3_400), "band", fs=NARROW, output="sos"), narrow)
    squeezed = np.sign(narrow) * np.log1p(255 * np.minimum(np.abs(narrow), 1)) / np.log(256)
    steps = np.round(squeezed * 127) / 127
    back = np.sign(steps) * np.expm1(np.abs(steps) * np.log(256)) / 255
    return _as_long(soxr.resample(back.astype(np.float32), NARROW, RATE), sound)


def _through_file(subtype: str) -> Callable[[Sound], Sound]:
    def through(sound: Sound) -> Sound:
        file = io.BytesIO()
        sf.write(file, soxr.resample(sound, RATE, NARROW), NARROW, format="WAV", subtype=subtype)
        file.seek(0)
        return _as_long(soxr.resample(sf.read(file, dtype="float32")[0], NARROW, RATE), sound)

    return through


def _through_codec(name: str, **options: str) -> Callable[[Sound], Sound]:
    """Encoded and decoded again, packet by packet, and laid where the sound was."""

    def through(sound: Sound) -> Sound:
        coder = cast(AudioCodecContext, av.CodecContext.create(name, "w"))
        coder.sample_rate, coder.layout, coder.format = RATE, "mono", "s16"
        coder.time_base, coder.options = Fraction(1, RATE), options
        coder.open()
        kind = coder.codec.name.removeprefix("lib")
        decoder = cast(AudioCodecContext, av.CodecContext.create(kind, "r"))
        decoder.extradata = coder.extradata
        decoder.sample_rate, decoder.layout = RATE, "mono"
        size = coder.frame_size or PACKET
        packets = [packet for part in _frames(sound, size) for packet in coder.encode(part)]
        packets += coder.encode(None)
        parts, rate = list[Sound](), RATE
        for packet in (*packets, None):
            for frame in decoder.decode(packet):
                rate = frame.sample_rate
                heard = frame.to_ndarray()[0]
                scale = 32768 if heard.dtype == np.int16 else 1
                parts.append(heard.astype(np.float32) / np.float32(scale))
        heard = np.concatenate(parts)
        return _laid_under(soxr.resample(heard, rate, RATE) if rate != RATE else heard, sound)

    return through


def _frames(sound: Sound, size: int) -> Iterator[av.AudioFrame]:
    whole = np.pad(sound, (0, -len(sound) % size))
    samples = np.round(np.clip(whole, -1, 1) * 32767).astype(np.int16)
    for start in range(0, len(samples), size):
        frame = av.AudioFrame.from_ndarray(samples[None, start : start + size], "s16", "mono")
        frame.sample_rate, frame.pts = RATE, start
        yield frame


def _laid_under(heard: Sound, sound: Sound) -> Sound:
    """`heard` without its codec's delay, up to 40 ms, found where both agree best."""
    middle = len(sound) // 2
    stretch = sound[middle : middle + 4 * RATE]
    ahead = range(0, RATE // 25, 4)
    likeness = [
        float(np.dot(stretch, heard[middle + late : middle + late + len(stretch)]))
        if middle + late + len(stretch) <= len(heard)
        else -np.inf
        for late in ahead
    ]
    return _as_long(heard[ahead[int(np.argmax(likeness))] :], sound)


def _losing(sound: Sound) -> Sound:
    heard = _msbc(sound).copy()
    rng = np.random.default_rng(len(sound))
    lost = False
    for start in range(PACKET, len(heard) - PACKET, PACKET):
        stays = 1 - 1 / BURST if lost else LOST_SHARE / (1 - LOST_SHARE) / BURST
        lost = bool(rng.random() < stays)
        if lost:
            heard[start : start + PACKET] = SOFTER * heard[start - PACKET : start]
    return heard


def _as_long(heard: Sound, sound: Sound) -> Sound:
    padded = np.pad(heard, (0, max(0, len(sound) - len(heard))))
    return padded[: len(sound)].astype(np.float32)


_msbc = _through_codec("sbc", msbc="1")
LINKS: dict[str, Callable[[Sound], Sound]] = {
    "band8": telephone,
    "ulaw": _through_file("ULAW"),
    "gsm": _through_file("GSM610"),
    "msbc": _msbc,
    "opus8": _through_codec("libopus", b="8000", application="voip"),
    "lost": _losing,
}


def part_link(condition: str) -> tuple[str, str | None]:
    """A condition without its link ("clean" where nothing is left), and the link."""
    before, _, last = condition.rpartition("-")
    return (before or "clean", last) if last in LINKS else (condition, None)


if __name__ == "__main__":
    print(__doc__)
