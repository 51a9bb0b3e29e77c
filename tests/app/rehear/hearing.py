"""Hearings made by hand: what a listener might have heard in a recording, and its log."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from voicelog.app.derive import derive
from voicelog.app.intake import Intake, RecognitionSetup, RecognizedUtterance
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Event, Reading, Rep, Roster, Utterance, Verdict
from voicelog.safety.settings import Settings
from voicelog.store import StoredRecording

__all__ = ["GRAMMAR", "RECORDING", "ROSTER", "events_of", "heard", "reps", "said"]

ROSTER = Roster(dogs=(Dog(name="Bracken"),))
GRAMMAR = Grammar.load(roster=ROSTER)
RECORDING = StoredRecording(
    id="r" * 64,
    dog="Bracken",
    roster=ROSTER,
    added_at=datetime(2026, 4, 18),
    complete=True,
    listeners=("quick 1",),
)


def said(
    start_s: float,
    words: str,
    status: str = "accepted",
    *,
    end_s: float | None = None,
    who: str = "quick 1",
    alternatives: tuple[str, ...] = (),
    confidence: float = 0.9,
) -> RecognizedUtterance:
    """An utterance with one listener's reading of it; 2 s long unless it ends elsewhere."""
    utterance = Utterance(
        id=f"u-{RECORDING.id[:12]}-{round(start_s * 16000):09d}",
        recording=RECORDING.id,
        start_s=start_s,
        end_s=start_s + 2.0 if end_s is None else end_s,
    )
    name = hashlib.sha256(f"{utterance.id} {who} {words} {status}".encode()).hexdigest()[:8]
    reading = Reading(
        id=f"r-{name}", utterance=utterance.id, words=words, by="listener", who=who
    )  # fmt: skip
    verdict = Verdict.model_validate(
        {
            "id": f"v-{name}",
            "utterance": utterance.id,
            "status": status,
            "words": words,
            "confidence": confidence,
            "alternatives": alternatives,
            "judge": "judge 1",
        }
    )
    return utterance, (reading,), verdict


class _Source:
    note: str | None = None
    id = RECORDING.id

    def __init__(self, heard: Sequence[RecognizedUtterance]) -> None:
        self._heard = heard

    def heard(self) -> Iterator[RecognizedUtterance]:
        return iter(self._heard)

    def facts(self) -> Mapping[str, Any]:
        return {}


def events_of(*heard: RecognizedUtterance) -> tuple[Event, ...]:
    """The events that adding such a recording commits."""
    setup = RecognitionSetup(grammar=GRAMMAR, settings=Settings(), dog=RECORDING.dog)
    return tuple(event for batch in Intake(_Source(heard), setup) for event in batch)


def reps(events: Iterable[Event]) -> list[str]:
    """The reps that events come to, without the ids that they go by."""
    derived = derive(RECORDING, events, GRAMMAR).line.reps
    return [_plain(rep) for rep in derived]


def _plain(rep: Rep) -> str:
    return rep.model_copy(update={"id": "", "session": "", "entries": ()}).model_dump_json()


def heard(*rows: tuple[float, str]) -> list[RecognizedUtterance]:
    """Accepted notes by the time they start (s)."""
    return [said(start, words) for start, words in rows]
