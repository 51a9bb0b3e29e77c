"""A source on its way in: what is heard in it becomes events, in batches.

Each batch is committed before the next is asked for (`voicelog.app.commit`). The microphone, a
file of sound and a typed file are sources alike.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, Protocol

from voicelog.audio.files import AudioReader
from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.strange_names import begun_by_stranger
from voicelog.model import Event, Reading, Roster, Utterance, Verdict
from voicelog.safety.settings import Settings
from voicelog.session.entries import EntriesWalk
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.session.variants import VariantsWalk
from voicelog.store.records import Recording

__all__ = [
    "Batch",
    "HeardSoFar",
    "Intake",
    "RecognitionSetup",
    "Recognize",
    "RecognizedUtterance",
    "SoundFile",
    "Source",
    "printable_path",
    "told_blocks",
]

Batch = tuple[Event, ...]
"""What is committed together: an utterance, its readings, its verdict, what it asked for."""

RecognizedUtterance = tuple[Utterance, tuple[Reading, ...], Verdict]
HeardSoFar = Callable[[float, float | None], None]
"""(seconds of sound read, of how many; None: the file does not say) -> told."""

Recognize = Callable[[Iterable[Samples], str], Iterator[RecognizedUtterance]]
"""(blocks of sound, the recording's id) -> what was heard in them, in order."""


def told_blocks(
    blocks: Iterable[Samples], heard_so_far: HeardSoFar, total_s: float | None
) -> Iterator[Samples]:
    """The same blocks of sound; after each second of it `heard_so_far` is told, of `total_s`."""
    samples = 0
    for block in blocks:
        yield block
        whole_s, samples = samples // RATE, samples + len(block)
        if samples // RATE > whole_s:
            heard_so_far(samples / RATE, total_s)


def printable_path(path: Path) -> str:
    """A path as text; bytes in it that are no UTF-8 become replacement characters."""
    return os.fsencode(path).decode("utf-8", "replace")


@dataclass(frozen=True, slots=True)
class RecognitionSetup:
    """What a recording is heard with; copied into it as it is now.

    `dog` is the one worked while no session was started by voice; `listeners` names who
    listens, with versions.
    """

    grammar: Grammar
    settings: Settings
    dog: str | None = None
    listeners: tuple[str, ...] = ()

    @property
    def roster(self) -> Roster:
        return self.grammar.roster

    def recording(self, recording: str, **facts: Any) -> Recording:
        """The Recording of that id, with all that is copied into it and its own `facts`, which
        are fields of Recording."""
        return Recording(
            id=recording,
            dog=self.dog,
            roster=self.roster,
            settings=self.settings.model_dump(mode="json", exclude_defaults=True),
            grammar=self.grammar.name,
            **{"listeners": self.listeners} | facts,
        )


class Source(Protocol):
    """Where utterances come from: read once, then all is known of it."""

    @property
    def note(self) -> str | None:
        """What the user must know of it once all is heard, in a sentence or two, else None."""

    @property
    def id(self) -> str:
        """The content's hash: the same sound is the same recording."""

    def heard(self) -> Iterator[RecognizedUtterance]:
        """What is heard in it, in order."""

    def facts(self) -> Mapping[str, Any]:
        """Fields of the Recording that the source knows, complete after `heard`."""


class Intake:
    """A source on its way in: iterate once for batches of events, then ask for `recording`.

    `at` is when it began, whatever the source says. `begun` are the events of one that was cut
    short. They stand, whatever is heard now: what comes again is passed over, and only what is
    missing is given out. `numbered`: the source's utterances keep their ids whoever hears them
    (typed lines), so what comes again is known by its id alone.
    """

    def __init__(
        self,
        source: Source,
        setup: RecognitionSetup,
        *,
        at: datetime | None = None,
        begun: Sequence[Event] = (),
        numbered: bool = False,
    ) -> None:
        self.id = source.id
        self._source, self._setup, self._at, self._numbered = source, setup, at, numbered
        self._events: list[Event] = list(begun)
        self._entries = EntriesWalk(setup.grammar.interpret)
        by_stranger = partial(begun_by_stranger, setup.grammar)
        self._variants = VariantsWalk(setup.roster, dog=setup.dog, by_stranger=by_stranger)
        self._there = [event for event in begun if isinstance(event, Utterance)]

    def __iter__(self) -> Iterator[Batch]:
        for utterance, readings, verdict in self._source.heard():
            if self._is_there(utterance):
                continue
            batch: list[Event] = [utterance, *readings, verdict]
            self._events.extend(batch)
            action = self._asked(utterance, verdict)
            if action is not None:
                batch.append(action)
                self._events.append(action)
            yield tuple(batch)

    @property
    def events(self) -> Batch:
        """Every event of it so far, those of before included."""
        return tuple(self._events)

    @property
    def note(self) -> str | None:
        """What the user must know of the source once all is heard, else None."""
        return self._source.note

    @property
    def recording(self) -> Recording:
        """What is known of the recording by now; all of it after the last batch."""
        facts = {"sha256": self.id} | dict(self._source.facts())
        if self._at is not None:
            facts["started_at"] = self._at
        return self._setup.recording(self.id, **facts)

    def _is_there(self, utterance: Utterance) -> bool:
        """Whether it was committed before the cut: under its id, or, where other listeners cut
        the sound otherwise, as what covers its middle."""
        if any(one.id == utterance.id for one in self._there):
            return True
        middle_s = (utterance.start_s + utterance.end_s) / 2
        return not self._numbered and any(
            one.start_s <= middle_s < one.end_s for one in self._there
        )

    def _asked(self, utterance: Utterance, verdict: Verdict) -> Event | None:
        """What a spoken edit aims at, settled now, since that never moves."""
        setup = self._setup
        interpret = setup.grammar.interpret
        phrases = interpret(verdict.words) if verdict.status == "accepted" else None
        if not any(phrase.kind == "edit" for phrase in phrases or ()):
            return None
        entries = self._entries.entries(self._events)
        last = len(entries) - 1
        place = next(i for i in range(last, -1, -1) if entries[i].id == utterance.id)
        return resolve_spoken_edit(
            entries[place], entries[:place], setup.roster, dog=setup.dog, walk=self._variants
        )


class SoundFile:
    """A recording from disk as a source. Raises the errors of voicelog.audio when opened or read.

    `content` are the bytes of the file where it is not on this machine, else None.
    `recognizer_note` says, once all is heard, in one sentence what the recognizers lacked.
    `heard_so_far` is told of every second of sound that is read.
    """

    def __init__(
        self,
        path: Path,
        hear: Recognize,
        *,
        content: bytes | None = None,
        recognizer_note: Callable[[], str | None] = lambda: None,
        heard_so_far: HeardSoFar = lambda done_s, total_s: None,
    ) -> None:
        self._reader = AudioReader(path, content)
        self._hear, self._recognizer_note = hear, recognizer_note
        self._heard_so_far = heard_so_far
        self._meter = LevelMeter()
        self._path = path

    @property
    def id(self) -> str:
        return self._reader.recording.sha256

    @property
    def note(self) -> str | None:
        """What the user must know, else None: sound that is missing, a recognizer that failed."""
        notes = (self._reader.recording.note, self._recognizer_note())
        return " ".join(filter(None, notes)) or None

    def heard(self) -> Iterator[RecognizedUtterance]:
        with self._reader:
            yield from self._hear(self._metered(), self.id)

    def facts(self) -> Mapping[str, Any]:
        recording = self._reader.recording
        return {
            "file_name": printable_path(Path(self._path.name)),
            "started_at": recording.started_at,
            "duration_s": recording.duration_s or 0.0,
            "level": self._meter.result(),
        }

    def _metered(self) -> Iterator[Samples]:
        for block in told_blocks(self._reader, self._heard_so_far, self._reader.likely_s):
            self._meter.add(block)
            yield block
