"""Clips of kept sound, cut at the times that the log gives.

A recording is decoded once, the way the listeners heard it, into a file that nobody else can
open, so a clip begins where the entry does to the sample, in every format. Only the log's own
sound files are ever opened.
"""

from __future__ import annotations

import io
import threading
import wave
from collections import OrderedDict
from pathlib import Path

import numpy as np

from voicelog.app.note_sound import sound_path
from voicelog.app.review.errors import BadRequestError, NoSoundError
from voicelog.audio.files import AudioReader
from voicelog.audio.locked_files import scratch_file
from voicelog.audio.loudness_strip import LoudnessStrip
from voicelog.audio.resampling import RATE
from voicelog.model import VoicelogError
from voicelog.store import Log, StoredRecording

__all__ = ["LONGEST_S", "Clips"]

LONGEST_S = 60.0
"""The longest clip, s."""
WAIT_S = 30.0
"""How long a clip may wait for its recording to be decoded that far, s."""
_OPEN = 3
_BYTES = 2  # 16-bit samples


class Clips:
    """Sound of one log, a few recordings at a time. May be used from several threads."""

    def __init__(self, log: Log) -> None:
        self._log = log
        self._lock = threading.Lock()
        self._open: OrderedDict[tuple[str, int, int], _Decoded] = OrderedDict()
        self._strips: dict[str, bytes] = {}  # 70 kB an hour: kept for as long as the page is open

    def wav(self, recording: StoredRecording, start_s: float, end_s: float) -> bytes:
        """A stretch of a recording as a WAV file: 16 kHz, mono, 16 bits.

        Raises:
            BadRequestError: it is no stretch, or longer than `LONGEST_S`.
            NoSoundError: the recording was typed, or its sound is not there or unreadable.
        """
        if not 0 <= start_s < end_s <= start_s + LONGEST_S:
            raise BadRequestError(
                f"Found a clip from {start_s:g} s to {end_s:g} s, wanted at most "
                f"{LONGEST_S:g} s with its start before its end."
            )
        samples = self.open(recording).stretch(round(start_s * RATE), round(end_s * RATE))
        out = io.BytesIO()
        with wave.open(out, "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(_BYTES)
            file.setframerate(RATE)
            file.writeframes(samples)
        return out.getvalue()

    def strip(self, recording: StoredRecording) -> tuple[bytes, bool]:
        """The loudness as far as it is known, see `LoudnessStrip`, and whether that is all of it.
        Raises as `wav`."""
        if recording.id in self._strips:
            return self._strips[recording.id], True
        levels, ended = self.open(recording).loudness()
        if ended:
            self._strips[recording.id] = levels
        return levels, ended

    def open(self, recording: StoredRecording) -> _Decoded:
        """Begin to decode a recording, unless that is done already. Raises as `wav`."""
        path = sound_path(self._log, recording)
        found = path.stat()
        key = (str(path), found.st_mtime_ns, found.st_size)
        with self._lock:
            decoded = self._open.pop(key, None) or _Decoded(path, path.parent)
            self._open[key] = decoded
            while len(self._open) > _OPEN:
                self._open.popitem(last=False)[1].close()
        return decoded

    def close(self) -> None:
        """Let go of what was decoded."""
        with self._lock:
            while self._open:
                self._open.popitem()[1].close()


class _Decoded:
    """A recording being decoded in the background, and what there is of it so far."""

    def __init__(self, path: Path, folder: Path) -> None:
        self._path = path
        # Nobody else can read it, and it goes with the last one who holds it.
        self._file = scratch_file(folder)
        self._ready = threading.Condition()
        self._samples, self._ended = 0, False
        self._strip = LoudnessStrip()
        self._error: VoicelogError | None = None
        threading.Thread(target=self._decode, name="decode", daemon=True).start()

    def _decode(self) -> None:
        try:
            with AudioReader(self._path) as reader:
                for block in reader:
                    sound = (block * np.float32(32767)).astype("<i2").tobytes()
                    with self._ready:
                        if self._file.closed:
                            return
                        self._file.seek(0, io.SEEK_END)
                        self._file.write(sound)
                        self._samples += len(block)
                        self._strip.add(block)
                        self._ready.notify_all()
        except VoicelogError as error:
            self._error = error
        except OSError as error:
            self._error = NoSoundError(f"The sound could not be decoded ({error.strerror}).")
        finally:
            with self._ready:
                self._ended = True
                self._ready.notify_all()

    def loudness(self) -> tuple[bytes, bool]:
        """The loudness so far, and whether the sound is decoded to its end."""
        with self._ready:
            return self._strip.levels, self._ended and not self._file.closed

    def stretch(self, start: int, end: int) -> bytes:
        """Samples from `start` to `end`, or to where the sound ends."""
        with self._ready:
            self._ready.wait_for(lambda: self._samples >= end or self._ended, WAIT_S)
            end = 0 if self._file.closed else min(end, self._samples)
            if start >= end:
                raise NoSoundError(
                    "Found nothing to play in this recording"
                    + (f": {self._error}" if self._error else ", which ends before that.")
                )
            self._file.seek(start * _BYTES)
            return self._file.read((end - start) * _BYTES)

    def close(self) -> None:
        """Stop decoding, and let go of the file."""
        with self._ready:
            self._ended = True
            self._file.close()
            self._ready.notify_all()
