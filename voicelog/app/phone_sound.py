"""Sound that a phone sends in blocks: on disk before it is acknowledged, each in its place.

A block has the number of its first sample, its sound and the hash of that. It is taken where the
sound before it is there; what was there already is acknowledged again, so that whoever lost an
answer may send twice. Beside the growing file stands a list of the blocks in it, each line written
after its sound is on the disk: after a fall of the machine what the list does not vouch for is cut
off, and the phone, which keeps a block until it is acknowledged, sends it again.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from threading import Condition, RLock

import numpy as np
from pydantic import ValidationError

from voicelog.app.add import add_file
from voicelog.app.live_files import live_file, live_folder
from voicelog.app.open_file import IntakeOptions
from voicelog.app.resume import ResumedRecording, resume_stored
from voicelog.audio.errors import SoundFileError
from voicelog.audio.files import blocks
from voicelog.audio.locked_files import open_bytes, write_bytes
from voicelog.audio.recorder import Pcm, Recorder, as_pcm, read_pcm
from voicelog.audio.resampling import RATE
from voicelog.model import FrozenModel, VoicelogError
from voicelog.model.adding import AddedFile
from voicelog.report.words import clock
from voicelog.store import Log, StoredRecording
from voicelog.store.log_lock import PHONE_FOLDER, work_folder

__all__ = [
    "BlockGapError",
    "BlockMismatchError",
    "NoRoomError",
    "PartKnownError",
    "PhoneOutcome",
    "PhoneRecording",
    "PhoneSound",
    "SoundBlock",
]

LONGEST_BLOCK = 16_000
"""Samples of the longest block: a second."""
_ID = re.compile(r"[0-9a-f]{32}")


class BlockGapError(VoicelogError):
    """A block after sound that is not here. `have` is how many samples there are."""

    def __init__(self, have: int) -> None:
        super().__init__(f"Found a gap before this block, wanted the one at sample {have}.")
        self.have = have


class BlockMismatchError(VoicelogError):
    """A block that is not what it says, or other than the one that is there in its place."""

    def __init__(self, what: str) -> None:
        super().__init__(f"Found a block of sound {what}; it was not taken, send it again.")


class NoRoomError(VoicelogError):
    """The disk did not take a block. `reason` is the system's."""

    def __init__(self, reason: str) -> None:
        super().__init__(
            f"Found no room for the phone's sound ({reason}), wanted some on the laptop's disk; "
            "make some: until then the phone keeps it."
        )


class PartKnownError(VoicelogError):
    """The beginning of a phone's recording is in the log as a recording of its own (`known`): the
    phone was given up and came back."""

    def __init__(self, path: Path, known: StoredRecording, seconds: float) -> None:
        super().__init__(
            f"Found the first {clock(known.duration_s)} of {path} in the log already, as "
            f"'{known.file_name}', wanted no sound in it twice, so the whole ({clock(seconds)}) "
            "was left out; either leave it at that, or delete that recording's session (voicelog "
            "delete session): the whole is then taken."
        )
        self.path, self.known = path, known


@dataclass(frozen=True, slots=True)
class SoundBlock:
    """One block: `start` is the number of its first sample in the recording, `pcm` its samples,
    16 kHz mono, 16 bits, little-endian, and `sha256` their hash in hexadecimal."""

    start: int
    pcm: bytes
    sha256: str

    @property
    def samples(self) -> int:
        return len(self.pcm) // 2


class PhoneRecording(FrozenModel):
    """What is known of a recording besides its sound. `samples`: how many, once it is finished;
    `added`: it is in the log, and its file here is gone."""

    id: str
    device: str
    started_at: datetime
    samples: int | None = None
    added: bool = False


PhoneOutcome = AddedFile | ResumedRecording | VoicelogError | None
"""What came of a phone's recording: added; completed, where a live session heard a part of it;
left out, and why; None where it had no sound."""


class _Growing:
    """The file of a recording and the list of its blocks."""

    def __init__(self, wav: Path, listed: Path, started_at: datetime) -> None:
        self._wav, self._listed = wav, listed
        self.blocks = _vouched_for(wav, listed) if wav.exists() else {}
        self.have = sum(samples for samples, _ in self.blocks.values())
        if self.blocks:
            self._recorder = Recorder(wav, after=self.have)
        else:
            wav.unlink(missing_ok=True)  # it may have been cut within its header
            self._recorder = Recorder(wav, started_at)
        text = "".join(
            f"{start} {samples} {sha256}\n" for start, (samples, sha256) in self.blocks.items()
        )
        self._list = os.open(listed, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.write(self._list, text.encode())
        os.fsync(self._list)

    def add(self, block: SoundBlock) -> None:
        """On the disk when this returns. Raises OSError."""
        self._recorder.write(np.frombuffer(block.pcm, "<i2").astype(np.int16))
        if not self._recorder.sync():
            raise OSError(0, self._recorder.trouble)
        line = f"{block.start} {block.samples} {block.sha256}\n".encode()
        if os.write(self._list, line) != len(line):
            raise OSError(0, "the list of blocks could not be written")
        os.fsync(self._list)
        self.blocks[block.start] = (block.samples, block.sha256)
        self.have += block.samples

    def close(self, *, whole: bool) -> None:
        if whole:
            self._recorder.close()
        else:
            self._recorder.abandon()
        os.close(self._list)


class PhoneSound:
    """All sound that phones have sent and that is not in the log yet. May be used by several
    threads. `folder` is the log's; what is kept stands in `phone` within it, or within its folder
    of locked files: the sound is then locked."""

    def __init__(self, folder: Path) -> None:
        self._folder = work_folder(folder) / PHONE_FOLDER
        self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._growing: dict[str, _Growing] = {}
        self._one = RLock()
        self._came = Condition(self._one)

    def have(self, recording: str) -> int:
        """How many samples of a recording are on this disk."""
        with self._one:
            kept = self._kept(recording)
            if kept is None:
                return 0
            return self._open(kept).have if kept.samples is None else kept.samples

    def take(self, recording: str, device: str, started_at: datetime, block: SoundBlock) -> int:
        """Take a block; how many samples are on the disk then, this block among them.

        Args:
            recording: the recording's id, 32 hexadecimal digits, that the phone made up.
            device: what the phone is called.
            started_at: when the recording began by the phone's clock, aware.
            block: the block.

        Raises:
            BlockGapError: sound before it is missing.
            BlockMismatchError: it is not what its hash says, or other sound is in its place.
            NoRoomError: the disk does not take it; what was acknowledged stands.
        """
        if len(block.pcm) % 2 or not 0 < block.samples <= LONGEST_BLOCK or block.start < 0:
            raise BlockMismatchError("of a length that no page sends")
        if hashlib.sha256(block.pcm).hexdigest() != block.sha256:
            raise BlockMismatchError("that is not what its hash says")
        with self._one:
            kept = self._kept(recording)
            if kept is not None and kept.samples is not None:
                if block.start + block.samples > kept.samples:
                    raise BlockMismatchError("after the end of its recording")
                return kept.samples
            try:
                if kept is None:
                    kept = PhoneRecording(id=recording, device=device, started_at=started_at)
                    self._write(kept)
                growing = self._open(kept)
                if block.start > growing.have:
                    raise BlockGapError(growing.have)
                if block.start < growing.have:
                    if growing.blocks.get(block.start) != (block.samples, block.sha256):
                        raise BlockMismatchError("where there is other sound already")
                    return growing.have
                growing.add(block)
                self._came.notify_all()
            except OSError as error:
                self._drop(recording)
                raise NoRoomError(error.strerror or str(error)) from error
            return growing.have

    def finish(self, recording: str, samples: int | None) -> int:
        """Say that a recording has `samples` and no more (None: those that are here); how many it
        has. One of which nothing came has none.

        Raises:
            BlockGapError: some of them are missing.
            NoRoomError: the disk does not take it.
        """
        with self._one:
            kept = self._kept(recording)
            if kept is None:
                if samples:
                    raise BlockGapError(0)
                return 0
            if kept.samples is not None:
                return kept.samples
            try:
                growing = self._open(kept)
                if samples is not None and growing.have != samples:
                    raise BlockGapError(growing.have)
                growing.close(whole=True)
                del self._growing[recording]
                self._write(kept.model_copy(update={"samples": growing.have}))
                self._came.notify_all()
            except OSError as error:
                self._drop(recording)
                raise NoRoomError(error.strerror or str(error)) from error
            return growing.have

    def arriving(self) -> tuple[PhoneRecording, ...]:
        """The unfinished recordings of which phones have spoken since this was made, the oldest
        first."""
        with self._one:
            return tuple(one for one in self.unfinished() if one.id in self._growing)

    def read(self, recording: str, start: int, most: int, wait_s: float) -> Pcm | None:
        """Sound of a recording as it arrives.

        Args:
            recording: its id.
            start: the number of the first sample.
            most: how many samples at most.
            wait_s: how long (s) to wait for the first of them.

        Returns:
            int16, mono, at RATE; none where none came in time; None once it is finished and there
            is no more, or it is not here any more.
        """
        nothing = np.zeros(0, np.int16)
        with self._one:
            growing = self._growing.get(recording)
            if growing is None or growing.have <= start:
                kept = self._kept(recording)
                if kept is None or kept.added or kept.samples == start:
                    return None
                if kept.samples is None and self._open(kept).have <= start:
                    self._came.wait(wait_s)
                    return nothing
            else:
                kept = self._kept(recording)
            return nothing if kept is None else read_pcm(self.file_of(kept), start, most)

    def let_go(self, kept: PhoneRecording) -> None:
        """All of a recording is in the log: its file here is removed."""
        with self._one:
            self._drop(kept.id)
            known = self._kept(kept.id) or kept  # it may have been finished since
            self._write(known.model_copy(update={"added": True}))
            self.file_of(kept).unlink(missing_ok=True)
            self._list_of(kept).unlink(missing_ok=True)

    def waiting(self) -> tuple[PhoneRecording, ...]:
        """The finished recordings that are not in the log yet, the oldest first."""
        found = [kept for kept in self._all() if kept.samples is not None and not kept.added]
        return tuple(sorted(found, key=lambda kept: kept.started_at))

    def file_of(self, kept: PhoneRecording) -> Path:
        """The file of a recording's sound."""
        return self._folder / f"phone-{kept.started_at:%Y%m%d-%H%M%S}-{kept.id[:6]}.wav"

    def add_waiting(
        self, log: Log, options: IntakeOptions
    ) -> Iterator[tuple[PhoneRecording, PhoneOutcome]]:
        """Add each finished recording to the log, as `add` does, or complete it where a live
        session heard a part of it, and let go of its file here; what came of each.

        Args:
            log: where they go.
            options: how they are heard; each has its own start.
        """
        for kept in self.waiting():
            outcome: PhoneOutcome = None
            try:
                if kept.samples:
                    outcome = self._add(log, kept, options)
            except VoicelogError as error:
                outcome = error
            if not isinstance(outcome, VoicelogError):
                self.let_go(kept)
            yield kept, outcome

    def _add(self, log: Log, kept: PhoneRecording, options: IntakeOptions) -> PhoneOutcome:
        path, samples = self.file_of(kept), kept.samples or 0
        begun = log.recording(kept.id)
        if begun is not None and begun.complete:
            if round(begun.duration_s * RATE) < samples:
                raise PartKnownError(path, begun, samples / RATE)
            return AddedFile(None)
        if begun is not None:
            live_folder(log)
            with open_bytes(path) as whole, write_bytes(live_file(log, kept.id)) as file:
                shutil.copyfileobj(whole, file)
            return resume_stored(log, begun, options.listener)
        for one in log.each_recording():
            if (part := _beginning(log, one, kept, path)) is None:
                continue
            if part < samples:
                raise PartKnownError(path, one, samples / RATE)
            return AddedFile(None)
        wanted = replace(options, at=None)  # the file says itself
        return add_file(log, path, wanted, anyway=True)

    def close(self) -> None:
        """Let go of all files; what was acknowledged stands."""
        with self._one:
            for recording in list(self._growing):
                self._drop(recording)

    def unfinished(self) -> tuple[PhoneRecording, ...]:
        """The recordings of which more may come, the oldest first."""
        found = [kept for kept in self._all() if kept.samples is None]
        return tuple(sorted(found, key=lambda kept: kept.started_at))

    def _all(self) -> list[PhoneRecording]:
        found = []
        for path in self._folder.glob("*.json"):
            if (kept := self._kept(path.stem)) is not None:
                found.append(kept)
        return found

    def _kept(self, recording: str) -> PhoneRecording | None:
        if _ID.fullmatch(recording) is None:
            raise BlockMismatchError("of a recording without a proper number")
        try:
            text = (self._folder / f"{recording}.json").read_bytes()
            return PhoneRecording.model_validate_json(text)
        except (OSError, ValidationError):
            return None

    def _write(self, kept: PhoneRecording) -> None:
        path = self._folder / f"{kept.id}.json"
        new = path.with_suffix(".new")
        with new.open("w", encoding="utf-8") as file:
            file.write(kept.model_dump_json())
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, path)

    def _open(self, kept: PhoneRecording) -> _Growing:
        growing = self._growing.get(kept.id)
        if growing is None:
            growing = _Growing(self.file_of(kept), self._list_of(kept), kept.started_at)
            self._growing[kept.id] = growing
        return growing

    def _drop(self, recording: str) -> None:
        growing = self._growing.pop(recording, None)
        if growing is not None:
            growing.close(whole=False)

    def _list_of(self, kept: PhoneRecording) -> Path:
        return self._folder / f"{kept.id}.blocks"


def _beginning(log: Log, known: StoredRecording, kept: PhoneRecording, path: Path) -> int | None:
    """How many samples of a recording that is in the log are those with which a phone's begins;
    None where it is another, or its sound is not there any more."""
    began = known.started_at
    same_time = began is not None and abs((began - kept.started_at).total_seconds()) < 1.0
    sound = log.sound_of(known) if known.complete and same_time else None
    if sound is None:
        return None
    at = 0
    try:
        for block in blocks(sound):
            pcm = as_pcm(block)
            if not np.array_equal(pcm, read_pcm(path, at, len(pcm))):
                return None
            at += len(pcm)
    except (SoundFileError, OSError):
        return None  # what is wrong with a kept file is for 'voicelog check'
    return at


def _vouched_for(wav: Path, listed: Path) -> dict[int, tuple[int, str]]:
    """The blocks that are in the file as the list says, from the first on without a gap."""
    try:
        lines = listed.read_text("ascii", errors="replace").splitlines()
    except OSError:
        lines = []
    pcm = read_pcm(wav).astype("<i2").tobytes()
    blocks: dict[int, tuple[int, str]] = {}
    at = 0
    for line in lines:
        found = re.fullmatch(r"(\d+) (\d+) ([0-9a-f]{64})", line)
        if found is None or int(found[1]) != at:
            break
        samples = int(found[2])
        if hashlib.sha256(pcm[2 * at : 2 * (at + samples)]).hexdigest() != found[3]:
            break
        blocks[at] = (samples, found[3])
        at += samples
    return blocks
