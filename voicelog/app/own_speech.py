"""What was heard while the program itself spoke.

Its words may come back through the microphone, and hers lie under them. Nothing of that is
sure: at best it is doubtful, and the program's own words coming back are no note at all.
With an earphone that the microphone cannot hear, none of this is needed.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass

from voicelog.app.intake import RecognizedUtterance
from voicelog.model import Event, FieldEvent, Utterance

__all__ = [
    "EARPIECE",
    "OwnSpeech",
    "field_event_text",
    "lower_overlapping_verdict",
    "own_speech_in",
]

EARPIECE = "earpiece: the microphone cannot hear what is said"
"""Detail of the field event that says so; kept when a recording begins."""

JUDGE = "own voice 1"
OWN_SPEECH_MARGIN_S = 0.3
"""Seconds around its own speech that may still hold some of it: echo, a late start."""

_SAID = re.compile(r"(?:[\w-]+ )?said for (\d+\.\d+) s: (.*)")


@dataclass(frozen=True, slots=True)
class OwnSpeech:
    """Words of the program, and when it spoke them (s in the recording)."""

    start_s: float
    end_s: float
    words: str


def field_event_text(spoken: OwnSpeech, rule: str | None = None) -> str:
    """How it is kept as the detail of a field event; `rule` is what a warning speaks for."""
    lasted = f"said for {spoken.end_s - spoken.start_s:.2f} s: {spoken.words}"
    return f"{rule} {lasted}" if rule else lasted


def own_speech_in(events: Iterable[Event]) -> tuple[OwnSpeech, ...]:
    """What the program said in a recording, from its field events."""
    found = []
    for event in events:
        match = _SAID.fullmatch(event.detail) if isinstance(event, FieldEvent) else None
        if match is not None and isinstance(event, FieldEvent):
            found.append(OwnSpeech(event.at_s, event.at_s + float(match[1]), match[2]))
    return tuple(found)


def lower_overlapping_verdict(
    heard: RecognizedUtterance, spoken: Iterable[OwnSpeech]
) -> RecognizedUtterance:
    """The same utterance, its verdict lowered where the program was speaking at that time.

    Rejected where its words are the program's own, else doubtful at best; the utterance itself
    (not a copy) where nothing changes.
    """
    utterance, readings, verdict = heard
    over = _over(utterance, spoken)
    if not over or verdict.status == "rejected":
        return heard
    echo = any(f" {verdict.words} " in f" {_words(one.words)} " for one in over)
    if not echo and verdict.status == "doubtful":
        return heard
    digest = hashlib.sha256(f"{verdict.id} {JUDGE} {echo}".encode()).hexdigest()
    lowered = verdict.model_copy(
        update={
            "id": f"v-{digest[:16]}",
            "status": "rejected" if echo else "doubtful",
            "confidence": 0.0 if echo else verdict.confidence,
            "judge": f"{verdict.judge}, {JUDGE}",
        }
    )
    return utterance, readings, lowered


def is_over_own_speech(heard: RecognizedUtterance, spoken: Iterable[OwnSpeech]) -> bool:
    """Whether the program was speaking while an utterance was said, or just before or after."""
    return bool(_over(heard[0], spoken))


def _over(utterance: Utterance, spoken: Iterable[OwnSpeech]) -> list[OwnSpeech]:
    return [
        one
        for one in spoken
        if one.start_s - OWN_SPEECH_MARGIN_S < utterance.end_s
        and utterance.start_s < one.end_s + OWN_SPEECH_MARGIN_S
    ]


def _words(text: str) -> str:
    return " ".join(re.findall(r"[\w'-]+", text.casefold()))
