"""Small invented logs, and a clock that stands still, for the tests of the log."""

from __future__ import annotations

import hashlib
import os
from datetime import UTC, datetime
from pathlib import Path

import voicelog
from voicelog.model import (
    Action,
    CueMeaning,
    Dog,
    Event,
    FieldEvent,
    Reading,
    Roster,
    SoundLevel,
    Transmitter,
    Utterance,
    Verdict,
)
from voicelog.store import Recording

NOON = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)

PLACES = (Path(__file__).parents[2], Path(voicelog.__file__).parents[1])
CHILD = os.environ | {"PYTHONPATH": os.pathsep.join(map(str, PLACES))}
"""Environment of a child program, so that it runs the code that is being tested."""


def clock() -> datetime:
    return NOON


def sha(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def recording(text: str = "a morning, invented", **changes: object) -> Recording:
    """A recording whose sound is the bytes of `text`, as a file would be taken in."""
    whole = {
        "id": sha(text),
        "sha256": sha(text),
        "file_name": "morning.wav",
        "sound": f"sound/{sha(text)}.wav",
        "started_at": datetime(2026, 3, 1, 7, 30),
        "duration_s": 61.5,
        "level": SoundLevel(peak_dbfs=-3.0, rms_dbfs=-21.5),
        "roster": Roster(dogs=(Dog(name="Bramble"),), handlers=("Wren",)),
        "settings": {"held_long_s": 3.0, "nested": {"list": [1, None, "é"]}},
        "listeners": ("quick 1.0",),
        "grammar": "en 1",
    }
    return Recording.model_validate(whole | changes)


def spoken(recording_id: str, number: int, words: str = "level three") -> tuple[Event, ...]:
    """What is committed for one utterance: itself, its reading and its verdict."""
    name = f"{recording_id[:8]}-{number}"
    return (
        Utterance(id=name, recording=recording_id, start_s=number * 2.0, end_s=number * 2 + 1.1),
        Reading(
            id=f"{name}-r",
            utterance=name,
            words=f"{words} {number}",
            by="listener",
            who="quick 1.0",
            confidence=0.1 + 0.2,  # not a short decimal: must come back to the last bit
        ),
        Verdict(
            id=f"{name}-v",
            utterance=name,
            status="doubtful",
            words=words,
            confidence=0.5,
            alternatives=("level free",),
            judge="judge 1",
        ),
    )


def one_of_each(recording_id: str) -> tuple[Event, ...]:
    """Every kind of event once, with every field used."""
    utterance, reading, verdict = spoken(recording_id, 1)
    return (
        utterance,
        reading,
        verdict,
        Action(
            id="confirmed",
            action="confirm",
            target=utterance.id,
            cause=utterance.id,
            value="level three",
            who="Wren",
            at=datetime(2026, 3, 1, 19, 5, tzinfo=UTC),
        ),
        Action(id="undone", action="undo", target="confirmed", who="Wren"),
        FieldEvent(id="tone", recording=recording_id, at_s=3.25, what="tone", detail="one"),
    )


BRAMBLE = Dog(
    name="Bramble",
    transmitter=Transmitter(top=18, step=1, cutoff_s=8.0),
    collar_number=2,
    cues=("here", "hup"),
    cue_meanings=(CueMeaning(cue="hup", meaning="sit"),),
    reached=("bird",),
    ceiling=6,
)
