"""Write recordings as FLAC: whole, or with stretches of them made silent.

For handing sound to others and for deleting part of it. Rate and channels stay those of the
recording, and so do its times. Integer samples of up to 24 bits come out as they went in;
coded sound (MP3, AAC, Opus) is kept at 16 bits. No tag of the recording is carried over: a
phone writes into them where it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain, groupby, zip_longest
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.layout import AudioLayout
from numpy.typing import NDArray

from voicelog.audio.errors import NotRecordingError
from voicelog.audio.files import AudioReader
from voicelog.audio.locked_files import write_bytes
from voicelog.audio.resampling import rechunk

__all__ = ["overlay", "write_flac"]

Pcm = NDArray[Any]
"""Samples of one stretch: int16 or int32, shape (n, channels)."""

_MOST_CHANNELS = 8  # that FLAC can hold
_PORTION = 1 << 14


@dataclass(frozen=True, slots=True)
class _Shape:
    rate: int
    layout: str
    channels: int
    sample: str
    """FFmpeg's name of the sample type: s16 or s32."""


def write_flac(source: Path, target: Path, silent: Sequence[tuple[float, float]] = ()) -> None:
    """Write the sound of `source` to `target`; the stretches `silent` (from, to: s) are zero.

    Raises the sound room's errors where `source` is no recording.
    """
    with _decoded(source) as (shape, pieces), _encodable(source):
        _encode(target, shape, _silenced(pieces, shape.rate, silent))


def overlay(first: Path, second: Path, target: Path) -> None:
    """Write the sound of `first`, and of `second` where `first` is silent.

    Two parts of one recording, each silent where the other is not, so come to the whole.
    Where their rates or channels differ, `first` alone is written.
    """
    with _decoded(first) as (shape, ours), _decoded(second) as (other, theirs):
        if other != shape:
            theirs = iter(())
        with _encodable(first):
            _encode(target, shape, _over(rechunk(ours, _PORTION), rechunk(theirs, _PORTION)))


@contextmanager
def _encodable(source: Path) -> Iterator[None]:
    """Sound of a shape that FLAC has no room for is refused; a full disk is an OSError."""
    try:
        yield
    except av.FFmpegError as error:
        if isinstance(error, OSError):
            raise
        raise NotRecordingError(source) from error


@contextmanager
def _decoded(path: Path) -> Iterator[tuple[_Shape, Iterator[Pcm]]]:
    """The shape of the samples, and the samples; read only as far as they are asked for."""
    with AudioReader(path) as reader:
        frames = reader.frames()
        first = next(frames, None)
        if first is None:
            raise NotRecordingError(path)
        exact = reader.recording.format.split()[-1].startswith(("pcm_", "flac", "alac"))
        plain = {1: "mono", 2: "stereo"}.get(first.layout.nb_channels)
        if plain is None and first.layout.nb_channels > _MOST_CHANNELS:
            plain = "stereo"
        layout = AudioLayout(plain) if plain else first.layout
        shape = _Shape(
            rate=first.sample_rate,
            layout=layout.name,
            channels=layout.nb_channels,
            sample="s32" if exact and first.format.bytes > 2 else "s16",
        )
        yield shape, _converted(chain([first], frames), shape)


def _converted(frames: Iterable[AudioFrame], shape: _Shape) -> Iterator[Pcm]:
    """Frames of whatever sample type, rate and layout, as samples of one shape."""
    for _, alike in groupby(frames, key=_kind):
        convert = av.AudioResampler(format=shape.sample, layout=shape.layout, rate=shape.rate)
        for frame in chain(alike, [None]):  # None asks for what the resampler holds back
            if frame is not None:
                frame.pts = None
            for piece in convert.resample(frame):
                yield piece.to_ndarray().reshape(-1, shape.channels)


def _kind(frame: AudioFrame) -> tuple[int, str, str]:
    return frame.sample_rate, frame.layout.name, frame.format.name


def _silenced(
    pieces: Iterable[Pcm], rate: int, silent: Sequence[tuple[float, float]]
) -> Iterator[Pcm]:
    at = 0
    for piece in pieces:
        quiet = piece.copy()
        for from_s, to_s in silent:
            start = round(min(max(from_s * rate - at, 0), len(piece)))
            end = round(min(max(to_s * rate - at, 0), len(piece)))
            quiet[start:end] = 0
        at += len(piece)
        yield quiet


def _over(ours: Iterable[Pcm], theirs: Iterable[Pcm]) -> Iterator[Pcm]:
    for mine, other in zip_longest(ours, theirs):
        if mine is None or other is None or len(mine) < len(other):
            yield other if mine is None else mine
            continue
        whole = mine.copy()
        part = whole[: len(other)]
        gap = ~part.any(axis=1)
        part[gap] = other[gap]
        yield whole


def _encode(target: Path, shape: _Shape, pieces: Iterable[Pcm]) -> None:
    options = {"fflags": "+bitexact"}
    with (
        write_bytes(target) as file,
        av.open(file, "w", format="flac", options=options) as out,
    ):
        stream = out.add_stream("flac", rate=shape.rate)
        stream.codec_context.layout = shape.layout
        stream.codec_context.format = shape.sample
        at = 0
        for piece in pieces:
            if not len(piece):
                continue
            frame = AudioFrame.from_ndarray(
                np.ascontiguousarray(piece).reshape(1, -1), shape.sample, shape.layout
            )
            frame.sample_rate, frame.pts = shape.rate, at
            at += len(piece)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
