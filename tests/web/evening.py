"""Small invented evenings for the tests of the page: recordings whose entries are given."""

from __future__ import annotations

import hashlib
import io
import wave
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from voicelog.model import CueMeaning, Dog, Reading, Roster, Transmitter, Utterance, Verdict
from voicelog.store import Log, Recording

__all__ = ["FULL", "LEVELS", "NOW", "QUEUE", "ROSTER", "SIXTY", "keep", "tone"]

NOW = datetime(2026, 4, 20, 20, 0, tzinfo=UTC)
UNIT = Transmitter(top=20)
ROSTER = Roster(
    dogs=(Dog(name="Bracken", transmitter=UNIT), Dog(name="Wren", transmitter=UNIT)),
    handlers=("Anna",),
)
FULL = Dog(
    name="Fern",
    transmitter=Transmitter(top=18, lowest=2, step=3, modes=("tone",), cutoff_s=8.0),
    collar_number=4,
    cues=("whoa", "fern here"),
    cue_meanings=(CueMeaning(cue="whoa", meaning="stand still"),),
    default_mode="momentary",
    born=date(2024, 5, 1),
    reached=("gun",),
    ceiling=9,
    heat_traits=("dark",),
    client="Mrs Hollis",
    litter="Spring",
    identification="chip 12",
)
"""A dog of whom everything is known, and nothing is as it is unless said."""
STEP_S, LENGTH_S = 4.0, 1.5

LEVELS = (
    "start session bracken",
    "drill recall",
    "here",
    "?level nineteen | level nine",
    "ear flick came",
    "here level three came",
    "x good girl come on",
    "?yelped | head turn",
)
"""A short session in which a level and a sign are doubtful; the true level is nine."""


def _sixty() -> tuple[str, ...]:
    lines = ["start session bracken", "drill recall", "collar fitted", "contact solid"]
    while len(lines) < 60:
        lines += ["here", "level three", "ear flick", "came"]
    wrong = {
        5: "?level five | level nine",
        9: "?level two | level ten",
        13: "?level fifteen | level fifty | level five",
        17: "?level seven",
        22: "?head turn",
        27: "?ignored",
        31: "?came | tail tucked",
        33: "?level three | level free",
        38: "?ear flick | head turn",
        43: "?came | here",
    }
    return tuple(wrong.get(place, line) for place, line in enumerate(lines[:60]))


def _queue(wrong: Mapping[int, str]) -> tuple[str, ...]:
    lines = ["start session wren", "drill recall"]
    for rep in range(20):
        lines += ["here", wrong.get(rep, "?level three"), "came"]
    return tuple(lines)


QUEUE = tuple(
    _queue(wrong)
    for wrong in (
        {4: "?level five | level nine", 11: "?level seven"},
        {2: "?level two | level four | level ten", 15: "?level six | level nine"},
        {0: "?level fifteen | level fifty | level five", 19: "?level seven"},
    )
)
"""Three sessions of Wren with sixty entries to check, of which six are wrong: where they say seven
it was twelve, which is not on offer, and else it was the last that is on offer."""

SIXTY = _sixty()
"""Sixty entries; ten are to check, and the six at places 5 to 27 are wrong."""


def tone(seconds: float, rate: int = 16_000) -> bytes:
    """A WAV file, mono and 16 bits, in which the sound says when it is: rising, 100 Hz a second."""
    at = np.arange(int(seconds * rate)) / rate
    samples = (0.3 * 32767 * np.sin(2 * np.pi * 50 * at**2)).astype("<i2")
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.tobytes())
    return out.getvalue()


def keep(
    log: Log,
    lines: Sequence[str],
    name: str = "morning",
    *,
    at: datetime | None = datetime(2026, 4, 20, 7, 30),
    sound: bytes | None = None,
    listeners: tuple[str, ...] = ("quick 1",),
    heard: Mapping[int, str] | None = None,
    roster: Roster = ROSTER,
) -> str:
    """Keep a recording of these lines, and return its id.

    A leading "?" marks a line doubtful, "x" one that was rejected; after "|" come alternatives.
    Each line is 1.5 s long and begins 4 s after the one before. `heard` gives, by its place, what
    the listener took a line to say where that is other than how it was judged.
    """
    data = sound if sound is not None else name.encode()
    recording = hashlib.sha256(data).hexdigest()
    kept = None
    if sound is not None:
        source = Path(log.folder) / f"{name}.wav"
        source.write_bytes(sound)
        kept = str(log.store_sound(source, recording).relative_to(log.folder))
        source.unlink()
    log.begin_recording(
        Recording(
            id=recording,
            sha256=recording,
            file_name=f"{name}.wav",
            sound=kept,
            started_at=at,
            duration_s=STEP_S * len(lines),
            roster=roster,
            listeners=listeners,
            grammar="en-0",
        )
    )
    told = heard or {}
    events = [_heard(recording, place, line, told.get(place)) for place, line in enumerate(lines)]
    log.append([event for one in events for event in one])
    log.finish_recording(recording)
    return recording


def _heard(
    recording: str, number: int, line: str, heard: str | None
) -> tuple[Utterance, Reading, Verdict]:
    status = {"?": "doubtful", "x": "rejected"}.get(line[0], "accepted")
    words, *others = (part.strip() for part in line.lstrip("?").removeprefix("x ").split("|"))
    name = f"u-{recording[:12]}-{number:06d}"
    start_s = STEP_S * number
    return (
        Utterance(id=name, recording=recording, start_s=start_s, end_s=start_s + LENGTH_S),
        Reading(id=f"{name}.r", utterance=name, words=heard or words, by="listener", who="quick 1"),
        Verdict.model_validate(
            {
                "id": f"{name}.v",
                "utterance": name,
                "status": status,
                "words": words,
                "confidence": {"accepted": 0.9, "doubtful": 0.5, "rejected": 0.01}[status],
                "alternatives": others,
                "judge": "test",
            }
        ),
    )
