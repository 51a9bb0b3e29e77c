"""Two trainers' logs, and what a person does in them, for the tests of merging."""

from __future__ import annotations

import wave
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from tests.store.log_cases import NOON, spoken
from voicelog.model import Action, Dog, Reading, Roster
from voicelog.store import Log, Recording, sound_files
from voicelog.store.recording_part import RecordingPart, recording_part


def ticking(start: datetime = NOON, step_s: float = 1.0) -> Callable[[], datetime]:
    """A clock that goes on by `step_s` each time it is asked."""
    now = [start]

    def clock() -> datetime:
        now[0] += timedelta(seconds=step_s)
        return now[0]

    return clock


def wav(path: Path, seconds: float = 4.0, seed: int = 1) -> Path:
    """Noise as 16 kHz mono."""
    sound = np.random.default_rng(seed).integers(-9000, 9000, round(seconds * 16_000))
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes(sound.astype("<i2").tobytes())
    return path


def taken_in(log: Log, sound: Path, utterances: int = 2, dog: str = "Bramble") -> str:
    """A recording with its sound and some utterances, whole; its id."""
    sha256 = sound_files.sha256_of(sound)
    kept = log.store_sound(sound, sha256)
    log.begin_recording(
        Recording(
            id=sha256,
            sha256=sha256,
            file_name=sound.name,
            sound=log.place(kept),
            duration_s=4.0,
            dog=dog,
            roster=Roster(dogs=(Dog(name=dog), Dog(name="Other")), handlers=("Wren",)),
            settings={"dog": {dog: {"presses_adult": 9}, "Other": {"presses_adult": 8}}},
        )
    )
    for number in range(utterances):
        log.append(spoken(sha256, number))
    log.finish_recording(sha256)
    return sha256


def corrected(log: Log, recording: str, number: int, words: str, who: str) -> None:
    """A person reads an utterance otherwise."""
    name, at = f"{recording[:8]}-{number}", log.now()
    log.append(
        [
            Reading(
                id=f"{who}-{at.isoformat()}",
                utterance=name,
                words=words,
                by="person",
                who=who,
                at=at,
            )
        ]
    )


def undone(log: Log, target: str, who: str) -> None:
    name = f"undo-{who}-{log.now().isoformat()}"
    log.append([Action(id=name, action="undo", target=target, who=who)])


def whole(log: Log, recording: str) -> RecordingPart:
    return recording_part(recording, log.events(recording), (), ())


def part_of(recording: str, log: Log, number: int) -> RecordingPart:
    """The part of an utterance alone: its two seconds."""
    name = f"{recording[:8]}-{number}"
    ids = {e.id for e in log.events(recording) if e.id.startswith(name)}
    stretch = (number * 2.0, number * 2.0 + 2.0)
    return RecordingPart(
        recording=recording, events=frozenset(ids), stretches=(stretch,), whole=False
    )
