"""Recordings from disk as a stream: any common format, 16 kHz mono float32, one pass.

FFmpeg (through PyAV) reads them all: WAV of every depth, FLAC, MP3, M4A, AAC, Ogg, WebM,
AIFF, CAF, AMR. It is held to a list of plain sound containers and given bytes, never a
name: what a file is called means nothing, and a playlist dressed as a recording can open
no other file and no network.

Nothing is lost silently. Undecodable pieces are left out and counted, a file that ends
before its announced end is marked, and both are said in `SoundFileInfo.note`.
"""

from __future__ import annotations

import hashlib
import io
import stat
from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import InputContainer
from numpy.typing import NDArray

from voicelog.audio import errors
from voicelog.audio.locked_files import open_bytes
from voicelog.audio.resampling import RATE, Downmix, Samples, rechunk, resample_to_mono
from voicelog.audio.start_time import started_at
from voicelog.audio.truncation import duration_is_stated, is_truncated, size_is_stated
from voicelog.model import FrozenModel
from voicelog.model.input_limits import checked_file

__all__ = ["BLOCK", "RATE", "AudioReader", "SoundFileInfo", "blocks", "probe", "read_bytes"]

BLOCK = 1_600
"""Samples in a block: 0.1 s. The last block of a recording may be shorter."""

_CONTAINERS = "wav,w64,aiff,caf,au,flac,mp3,aac,mov,ogg,matroska,webm,amr,asf"
_ID3 = ("mp3", "aac", "aiff")  # containers whose tags are ID3
_LOUDEST = 16.0  # of full scale; a float far above it is damage, and would overflow on its way
_MOST_TEXT = 16 << 20
"""Bytes of a file that is no sound: a hundred thousand notes."""
_RATES = range(4_000, 768_001)
"""Sample rates that are read, Hz: of telephones to the finest recorders. A rate far below would
make hours of one second, one far above seconds of an hour."""
_SLACK_S = 0.25  # codecs pad and trim a few frames at either end


class SoundFileInfo(FrozenModel):
    """What is known of a file of sound. Complete once the file has been read to its end."""

    path: Path
    sha256: str
    """Of the file's bytes, in hexadecimal."""
    duration_s: float | None
    """Decoded samples / RATE; None until the file has been read."""
    started_at: datetime | None
    """Aware where the zone is known, else naive: see `voicelog.audio.start_time`."""
    channels: int
    rate: int
    """Sample rate in the file, Hz."""
    format: str
    """Container and codec, as "wav pcm_s16le"."""
    announces_end: bool = True
    """The file says where it ends, so that a cut can be told."""
    truncated: bool = False
    """The file announces more sound than it holds."""
    skipped: int = 0
    """Pieces (packets of the codec) that could not be decoded and are missing."""

    @property
    def note(self) -> str | None:
        """One sentence for the user where sound is missing, else None."""
        if self.truncated:
            got = "part of it" if self.duration_s is None else f"{self.duration_s:.1f} s"
            return (
                f"{self.path} holds less sound than it announces, only {got} could be read; "
                "copy it from the recorder again."
            )
        if self.skipped:
            return (
                f"{self.path} is damaged: {self.skipped} of its pieces could not be decoded and "
                "are left out, so times after them are early; copy it again."
            )
        return None


class AudioReader:
    """One recording, opened: iterate once for its blocks, then ask for its `recording`.

        with Reader(path) as reader:
            for block in reader:
                ...
            recording = reader.recording

    Blocks are float32, shape (BLOCK,), within -1..1: what a float file or the resampler
    has above full scale is limited, and values that are no number become 0.

    Raises, each a `SoundFileError`: on opening, MissingFileError, IsFolderError,
    NotAllowedError, EmptyFileError, NotRecordingError, UnfinishedFileError,
    NoSoundTrackError and StrangeRateError; while reading, StrangeRateError, NoSamplesError,
    NotRecordingError (when not one piece decodes) and ReadFailedError.
    """

    def __init__(self, path: str | Path, content: bytes | None = None) -> None:
        """Open a recording. `content`: the bytes of the file, where it is not on this machine; None
        to read it from `path`."""
        self.path = Path(path)
        self._read_s: float | None = None
        self._skipped = 0
        self._file = _open(self.path) if content is None else _held(content)
        try:
            size = self._file.seek(0, io.SEEK_END)
            if size == 0:
                raise errors.EmptyFileError(self.path)
            self._cut_off = is_truncated(self._file, size)
            states_size = size_is_stated(self._file)
            self._file.seek(0)
            self._sha256 = hashlib.file_digest(self._file, "sha256").hexdigest()
            self._container, self._stream = self._decoder()
            self._stated_s = self._length()
            self._announces_end = self._stated_s > 0 or states_size
        except OSError as error:
            self._file.close()
            raise errors.ReadFailedError(self.path) from error
        except BaseException:
            self._file.close()
            raise

    def _decoder(self) -> tuple[InputContainer, AudioStream]:
        self._file.seek(4)
        is_mp4 = self._file.read(4) == b"ftyp"
        self._file.seek(0)
        try:
            container = av.open(
                self._file,
                "r",
                options={"format_whitelist": _CONTAINERS},
                metadata_errors="replace",  # tags in whatever encoding are no reason to refuse
            )
        except av.FFmpegError as error:
            wrong = errors.UnfinishedFileError if is_mp4 else errors.NotRecordingError
            raise wrong(self.path) from error
        stream = container.streams.best("audio")
        decoder: Any = getattr(stream, "codec_context", None)  # None: FFmpeg knows none
        if not isinstance(stream, AudioStream) or decoder is None or not decoder.sample_rate:
            container.close()
            raise errors.NoSoundTrackError(self.path)
        if decoder.sample_rate not in _RATES:
            container.close()
            raise errors.StrangeRateError(self.path, decoder.sample_rate)
        return container, stream

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file. `recording` stays available."""
        self._container.close()
        self._file.close()

    def __iter__(self) -> Iterator[Samples]:
        samples = 0
        for block in rechunk(self._mono(), BLOCK):
            samples += len(block)
            yield np.clip(block, -1.0, 1.0)
        if not samples:
            wrong = errors.NotRecordingError if self._cut_off else errors.NoSamplesError
            raise wrong(self.path)
        self._read_s = samples / RATE
        slack = 0.001 if self._container.format.name == "flac" else _SLACK_S
        self._cut_off |= self._stated_s - self._read_s > slack

    def frames(self) -> Iterator[AudioFrame]:
        """The sound as it is in the file, instead of iterating for blocks; once."""
        yield from self._frames()

    @property
    def recording(self) -> SoundFileInfo:
        """What is known by now; all of it after the last block."""
        codec = self._stream.codec_context
        return SoundFileInfo(
            path=self.path,
            sha256=self._sha256,
            duration_s=self._read_s,
            started_at=self._started_at(),
            channels=codec.channels,
            rate=codec.sample_rate,
            format=f"{self._container.format.name.split(',')[0]} {codec.name}",
            announces_end=self._announces_end,
            truncated=self._cut_off,
            skipped=self._skipped,
        )

    @property
    def likely_s(self) -> float | None:
        """How long it is likely to be, s, before any of it is read (FFmpeg's estimate, for a bar of
        progress and nothing else); None: not known."""
        whole = self._container.duration
        return None if whole is None else whole / av.time_base

    def _started_at(self) -> datetime | None:
        tags = {**self._stream.metadata, **self._container.metadata}
        return started_at(tags, zone_is_utc=self._container.format.name in _ID3)

    def _length(self) -> float:
        """Length that the header states, s; 0 where it states none."""
        stream, whole = self._stream.duration, self._container.duration
        if not duration_is_stated(self._file, self._container.format.name):
            return 0.0
        if stream is not None and self._stream.time_base is not None:
            return float(stream * self._stream.time_base)
        return whole / av.time_base if whole is not None else 0.0

    def _mono(self) -> Iterator[Samples]:
        # Files joined end to end may change their rate or channels on the way.
        for (rate, channels), frames in groupby(self._frames(), _shape):
            if rate not in _RATES:
                raise errors.StrangeRateError(self.path, rate)
            mix = Downmix(rate, channels)
            windows = rechunk(map(_samples, frames), mix.window)
            yield from resample_to_mono(map(mix.mix, windows), rate)

    def _frames(self) -> Iterator[AudioFrame]:
        bad = 0
        try:
            for packet in self._container.demux(self._stream):
                try:
                    frames = packet.decode()
                except av.FFmpegError:
                    bad += 1
                    continue
                if frames:  # so what was bad before lies inside, not at the end
                    self._skipped, bad = self._skipped + bad, 0
                yield from frames
            self._cut_off |= bad > 0
        except av.FFmpegError:
            self._cut_off = True
        except OSError as error:
            raise errors.ReadFailedError(self.path) from error


def probe(path: str | Path) -> SoundFileInfo:
    """What the header says, without decoding: `duration_s` is None. Raises as `AudioReader`."""
    with AudioReader(path) as reader:
        return reader.recording


def blocks(path: str | Path) -> Iterator[Samples]:
    """The recording's sound, block by block. Raises as `AudioReader`."""
    with AudioReader(path) as reader:
        yield from reader


def read_bytes(path: str | Path) -> bytes:
    """All bytes of a file that is no sound; raises as `AudioReader` does on opening."""
    checked_file(Path(path), _MOST_TEXT)
    with _open(Path(path)) as file:
        return file.readall()


def _open(path: Path) -> io.RawIOBase:
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise errors.IsFolderError(path)
        if not stat.S_ISREG(mode):  # opening a pipe would wait for its other end
            raise errors.NotRecordingError(path)
        file = open_bytes(path)
    except (FileNotFoundError, NotADirectoryError) as error:
        raise errors.MissingFileError(path) from error
    except PermissionError as error:
        raise errors.NotAllowedError(path) from error
    except OSError as error:
        raise errors.ReadFailedError(path) from error
    file.name = ""  # type: ignore[attr-defined]  # else FFmpeg guesses the format by it
    return file


def _held(content: bytes) -> io.BytesIO:
    file = io.BytesIO(content)
    file.name = ""  # as above
    return file


def _shape(frame: AudioFrame) -> tuple[int, int]:
    return frame.sample_rate, frame.layout.nb_channels


def _samples(frame: AudioFrame) -> Samples:
    """A decoded frame of any sample type as float32, shape (n, channels)."""
    data: NDArray[Any] = frame.to_ndarray()
    data = data.T if frame.format.is_planar else data.reshape(-1, frame.layout.nb_channels)
    with np.errstate(over="ignore", invalid="ignore"):  # a damaged double; set right below
        sound: Samples = data.astype(np.float32)
    match data.dtype.kind:
        case "u":
            return (sound - np.float32(128)) / np.float32(128)
        case "i":
            return sound / np.float32(2 ** (8 * data.itemsize - 1))
        case _:
            sound = np.nan_to_num(sound, nan=0.0, posinf=0.0, neginf=0.0)
            return np.clip(sound, -_LOUDEST, _LOUDEST)
