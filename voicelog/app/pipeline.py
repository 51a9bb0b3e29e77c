"""The one path: a source becomes events, and events become sessions and findings.

`Intake` is the first verb: it hears a recording, or reads a typed one, and gives its events
out in batches, each to be committed before the next. `derive` is the second: a pure
function of what was kept, for live work, the log and the stateless reader alike.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

from voicelog.audio.files import AudioReader, read_bytes
from voicelog.audio.level_meter import LevelMeter
from voicelog.audio.resampling import Samples
from voicelog.grammar.fuzzy_match import fuzzy_matches
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.typed_names import unknown_name
from voicelog.model import (
    LONGEST_S,
    Entry,
    EntryOutput,
    Event,
    Finding,
    FrozenModel,
    Reading,
    RecordingOutput,
    Roster,
    Session,
    SessionOutput,
    Status,
    Utterance,
    Verdict,
    VoicelogError,
)
from voicelog.model.phrases import phrase_slots
from voicelog.safety.check import findings
from voicelog.safety.history import PastSession, history_after, past_session
from voicelog.safety.settings import Settings, stored_settings
from voicelog.session.entries import fold, recording_start
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.session.variants import SessionVariants, session_variants, with_other_dog_doubt
from voicelog.store.records import Recording

__all__ = [
    "TYPED",
    "Derivation",
    "Intake",
    "NotOnRosterError",
    "PastSessionLookup",
    "RecognitionSetup",
    "SoundFile",
    "Source",
    "TypedFile",
    "TypedFormatError",
    "derive",
    "judge_typed",
    "shown",
    "typed_id",
]

Batch = tuple[Event, ...]
"""What is committed together: an utterance, its readings, its verdict, what it asked for."""

RecognizedUtterance = tuple[Utterance, tuple[Reading, ...], Verdict]
Recognize = Callable[[Iterable[Samples], str], Iterator[RecognizedUtterance]]
"""(blocks of sound, the recording's id) -> what was heard in them, in order."""

PastSessionLookup = Callable[[str], Sequence[PastSession]]
"""A dog's name -> what its earlier sessions left behind, oldest first."""

TYPED = "typed 1"
"""Name and version of the reader of typed recordings."""
_TYPED_CONFIDENCE: Mapping[Status, float] = {"accepted": 1.0, "doubtful": 0.5, "rejected": 0.0}


class TypedFormatError(VoicelogError):
    """A typed recording with a line that is none."""

    def __init__(self, path: Path, line: int, found: str) -> None:
        self.path, self.line, self.found = path, line, found
        super().__init__(
            f"{path}, line {line}: found '{found}', wanted start_s, end_s and the words, "
            "parted by tabs, with the end not before the start; correct the line."
        )


class NotOnRosterError(VoicelogError):
    """A typed recording with a name that is not on the roster. Names are not guessed, and
    without this one the reps after it would be another dog's."""

    def __init__(self, path: Path, line: int, name: str, roster: Roster) -> None:
        self.path, self.line, self.name = path, line, name
        have = ", ".join((*(dog.name for dog in roster.dogs), *roster.handlers))
        super().__init__(
            f"{path}, line {line}: found '{name}' where a name belongs, wanted one that may be "
            f"said ({have}); correct the line, put the dog on the roster with 'voicelog dogs "
            "put', or where --dog is given give it for this one too."
        )


def shown(path: Path) -> str:
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


class Source(Protocol):
    """Where utterances come from: read once, then all is known of it."""

    @property
    def note(self) -> str | None:
        """One sentence where some of it is missing, else None."""

    @property
    def id(self) -> str:
        """The content's hash: the same sound is the same recording."""

    def heard(self) -> Iterator[RecognizedUtterance]:
        """What is heard in it, in order."""

    def facts(self) -> Mapping[str, Any]:
        """Fields of the Recording that the source knows, complete after `heard`."""


class Intake:
    """A source on its way in: iterate once for batches of events, then ask for `recording`.

    `begun` are the events of one that was cut short. They stand, whatever is heard now: what
    comes again is passed over, and only what is missing is given out.
    """

    def __init__(
        self,
        source: Source,
        setup: RecognitionSetup,
        *,
        at: datetime | None = None,
        begun: Sequence[Event] = (),
    ) -> None:
        self.id = source.id
        self._source, self._setup, self._at = source, setup, at
        self._events: list[Event] = list(begun)
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
        """One sentence for the user where some of the source is missing, else None."""
        return self._source.note

    @property
    def recording(self) -> Recording:
        """What is known of the recording by now; all of it after the last batch."""
        setup = self._setup
        facts = {"sha256": self.id} | dict(self._source.facts())
        if self._at is not None:
            facts["started_at"] = self._at
        return Recording(
            id=self.id,
            dog=setup.dog,
            roster=setup.roster,
            settings=setup.settings.model_dump(mode="json", exclude_defaults=True),
            listeners=setup.listeners,
            grammar=setup.grammar.name,
            **facts,
        )

    def _is_there(self, utterance: Utterance) -> bool:
        """Whether it was committed before the cut: under its id, or, where other listeners cut
        the sound otherwise, as what covers its middle. Typed lines keep their numbers."""
        if any(one.id == utterance.id for one in self._there):
            return True
        middle_s = (utterance.start_s + utterance.end_s) / 2
        return not isinstance(self._source, TypedFile) and any(
            one.start_s <= middle_s < one.end_s for one in self._there
        )

    def _asked(self, utterance: Utterance, verdict: Verdict) -> Event | None:
        """What a spoken edit aims at, settled now, since that never moves."""
        setup, interpret = self._setup, self._setup.grammar.interpret
        phrases = interpret(verdict.words) if verdict.status == "accepted" else None
        if not any(phrase.kind == "edit" for phrase in phrases or ()):
            return None
        entries = fold(self._events, interpret)
        place = next(i for i, entry in enumerate(entries) if entry.id == utterance.id)
        return resolve_spoken_edit(entries[place], entries[:place], setup.roster, dog=setup.dog)


class SoundFile:
    """A recording from disk as a source. Raises the sound room's errors when opened or read."""

    def __init__(self, path: Path, hear: Recognize) -> None:
        self._reader = AudioReader(path)
        self._hear = hear
        self._meter = LevelMeter()
        self._path = path

    @property
    def id(self) -> str:
        return self._reader.recording.sha256

    @property
    def note(self) -> str | None:
        """One sentence where sound is missing, else None."""
        return self._reader.recording.note

    def heard(self) -> Iterator[RecognizedUtterance]:
        with self._reader:
            yield from self._hear(self._metered(), self.id)

    def facts(self) -> Mapping[str, Any]:
        recording = self._reader.recording
        return {
            "file_name": shown(Path(self._path.name)),
            "started_at": recording.started_at,
            "duration_s": recording.duration_s or 0.0,
            "level": self._meter.result(),
        }

    def _metered(self) -> Iterator[Samples]:
        for block in self._reader:
            self._meter.add(block)
            yield block


class TypedFile:
    """A typed recording as a source: lines of start_s, end_s and words, parted by tabs.

    Empty lines and lines that begin with "#" are passed over. Words that are a note are
    accepted, near misses are mended (but for names) and doubtful, anything else is rejected.
    Raises NotTypedError at the first line that is none.

    The same words are easily typed twice, so it is one recording for each day that they are said
    to be of, which `day` is part of the id. `known_as` is the id it has in the log already.
    """

    note: str | None = None

    def __init__(
        self,
        path: Path,
        grammar: Grammar,
        *,
        day: date | None = None,
        known_as: str | None = None,
    ) -> None:
        self._path, self._grammar = path, grammar
        data = read_bytes(path)
        self._sha256 = hashlib.sha256(data).hexdigest()
        self._id = known_as or typed_id(self._sha256, day)
        try:
            lines = data.decode("utf-8-sig").splitlines()
        except UnicodeDecodeError as error:
            raise TypedFormatError(path, 1, "bytes that are not UTF-8") from error
        self._lines = [
            (number, *_typed_line(path, number, line))
            for number, line in enumerate(lines, start=1)
            if line.strip() and not line.startswith("#")
        ]

    @property
    def id(self) -> str:
        return self._id

    def check_names(self) -> None:
        """Raise StrangeNameError at the first line with a name that is not on the roster."""
        for number, _, _, words in self._lines:
            name = unknown_name(self._grammar, words)
            if name is not None:
                raise NotOnRosterError(self._path, number, name, self._grammar.roster)

    def facts(self) -> Mapping[str, Any]:
        end_s = max((end_s for _, _, end_s, _ in self._lines), default=0.0)
        return {
            "sha256": self._sha256,
            "file_name": shown(Path(self._path.name)),
            "duration_s": end_s,
        }

    def heard(self) -> Iterator[RecognizedUtterance]:
        for number, start_s, end_s, words in self._lines:
            name = f"u-{self.id[:12]}-{number:06d}"
            status, reading, alternatives = judge_typed(self._grammar, words)
            yield (
                Utterance(id=name, recording=self.id, start_s=start_s, end_s=end_s),
                (
                    Reading(
                        id=f"{name}.r",
                        utterance=name,
                        words=words,
                        by="listener",
                        who=TYPED,
                        grammar=self._grammar.name,
                    ),
                ),
                Verdict(
                    id=f"{name}.v",
                    utterance=name,
                    status=status,
                    words=reading,
                    confidence=_TYPED_CONFIDENCE[status],
                    alternatives=alternatives,
                    judge=TYPED,
                ),
            )


def typed_id(sha256: str, day: date | None) -> str:
    """The id of typed words of that hash: the hash itself, or one of it and the day."""
    return sha256 if day is None else hashlib.sha256(f"{sha256} {day}".encode()).hexdigest()


def _typed_line(path: Path, number: int, line: str) -> tuple[float, float, str]:
    fields = line.split("\t")
    try:
        start_s, end_s = float(fields[0]), float(fields[1])
        words = fields[2].strip()
    except (ValueError, IndexError) as error:
        raise TypedFormatError(path, number, line[:60]) from error
    if not 0 <= start_s <= end_s < LONGEST_S:
        raise TypedFormatError(path, number, line[:60])
    return start_s, end_s, words


def judge_typed(grammar: Grammar, words: str) -> tuple[Status, str, tuple[str, ...]]:
    """What typed words become: how sure, the reading, and what else it may have been."""
    as_spoken = grammar.verbalize(words)
    if grammar.interpret(as_spoken) is not None:
        return "accepted", as_spoken, ()
    near = [repair.words for repair in fuzzy_matches(grammar, as_spoken)]
    if near:
        return "doubtful", near[0], tuple(near[1:])
    return "rejected", as_spoken, ()


# --- derive ----------------------------------------------------------------------------


class Derivation(FrozenModel):
    """All that follows from a recording's events: the contract, and the whole sessions."""

    line: RecordingOutput
    sessions: tuple[Session, ...]
    entries: tuple[Entry, ...]


def derive(
    recording: Recording,
    events: Iterable[Event],
    grammar: Grammar,
    past: PastSessionLookup = lambda dog: (),
) -> Derivation:
    """Entries, sessions, reps and findings of one recording; pure.

    `past` is asked for the earlier sessions of each dog that has one here; sessions of the same
    recording that come before are added. Roster and settings are those kept with the
    recording, and so is its clock, unless a person has set it.
    """
    events = tuple(events)
    settings = stored_settings(recording.settings)
    entries = fold(events, grammar.interpret)
    seen = session_variants(
        entries,
        recording.roster,
        dog=recording.dog,
        temperature_unit=settings.temperature_unit,
    )
    sessions = tuple(world.with_doubtful for world in seen)
    entries = with_other_dog_doubt(entries, sessions)
    started_at = recording_start(events, recording.started_at)
    found = _found(seen, started_at, settings, past)
    line = RecordingOutput(
        audio=recording.file_name,
        sha256=recording.sha256 or recording.id,
        started_at=started_at,
        duration_s=round(recording.duration_s, 3),
        listeners=recording.listeners,
        grammar=recording.grammar,
        dog=recording.dog,
        sound=recording.level,
        sessions=tuple(
            SessionOutput(
                id=session.id,
                dog=session.dog.name,
                start_s=session.start_s,
                end_s=session.end_s,
                conditions=session.conditions,
            )
            for session in sessions
        ),
        entries=_entry_lines(entries, sessions),
        reps=tuple(rep for session in sessions for rep in session.reps),
        findings=found,
    )
    return Derivation(line=line, sessions=sessions, entries=entries)


def _found(
    seen: Sequence[SessionVariants],
    started_at: datetime | None,
    settings: Settings,
    past: PastSessionLookup,
) -> tuple[Finding, ...]:
    earlier: dict[str, list[PastSession]] = {}
    found: list[Finding] = []
    for world in seen:
        session = world.with_doubtful
        began = started_at + timedelta(seconds=session.start_s) if started_at else None
        dog = session.dog.name
        if dog not in earlier:
            earlier[dog] = list(past(dog))
        history = history_after(earlier[dog], began)
        found += findings(world.sure, session, world.uncorrected, history, settings)
        earlier[dog].append(past_session(began, session))
    return tuple(found)


def _entry_lines(entries: Sequence[Entry], sessions: Sequence[Session]) -> tuple[EntryOutput, ...]:
    session_of = {entry: session.id for session in sessions for entry in session.entries}
    placed = {entry for session in sessions for entry in session.placed}
    return tuple(
        EntryOutput(
            id=entry.id,
            session=session_of.get(entry.id),
            start_s=entry.start_s,
            end_s=entry.end_s,
            heard=entry.heard,
            reading=entry.reading,
            status=entry.status,
            confidence=entry.confidence,
            alternatives=entry.alternatives,
            kind="+".join(phrase.kind for phrase in entry.phrases),
            slots=_merged(entry),
            by=entry.by,
            voided=entry.voided,
            placed=entry.id in placed,
        )
        for entry in entries
    )


def _merged(entry: Entry) -> dict[str, Any]:
    """The values of all phrases; a name said more than once holds them all, in order."""
    slots: dict[str, Any] = {}
    for phrase in entry.phrases:
        for name, value in phrase_slots(phrase).items():
            if name not in slots:
                slots[name] = value
            elif isinstance(slots[name], list):
                slots[name].append(value)
            else:
                slots[name] = [slots[name], value]
    return slots
