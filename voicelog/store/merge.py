"""Take another log's recordings and events into this one: the union of both.

What is here already is passed over, so doing it twice changes nothing. An event that both
logs hold was committed when the first of them committed it, so both come to the same order
and the same entries. What was deleted here stays deleted, and merging deletes nothing.

A recording goes in whole or not at all, in one transaction; cut short, it is done again. Before
that it is put in on trial, derived, and taken out again: what does not derive is left out, and
named with its reason.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, insert, select, update

from voicelog.audio.flac import overlay, write_flac
from voicelog.model import Dog, Event, FieldEvent, MatterEvent, Utterance, VoicelogError
from voicelog.store import (
    cache,
    contents,
    event_log,
    matter_log,
    roster_versions,
    sound_files,
    tombstones,
)
from voicelog.store.commit_time import commit_time
from voicelog.store.log import Log
from voicelog.store.records import StoredRecording
from voicelog.store.schema import events, recordings
from voicelog.store.set_aside import SetAsideError, UnreadableRecordingError

__all__ = [
    "DryRun",
    "IncomingRecording",
    "MergeResult",
    "merge",
    "merge_dog",
    "merge_matters",
    "merge_versions",
    "no_dry_run",
]

DryRun = Callable[[StoredRecording, Sequence[Event]], None]
"""Derives a recording as it would be here; raises SetAsideError when that cannot be done."""

StampedEvent = tuple[str, Event]
"""An event with the time it was committed, see `voicelog.store.commit_time`."""


@dataclass(frozen=True, slots=True)
class IncomingRecording:
    """A recording of another log, its events in their order, and a way to its sound.

    `sound` gives a file for as long as it is held, or None where there is none.
    """

    recording: StoredRecording
    events: Sequence[StampedEvent]
    sound: Callable[[], AbstractContextManager[Path | None]]
    whole: bool = False
    """It holds all of the recording."""


@dataclass(slots=True)
class MergeResult:
    """What came of a merge, counted."""

    recordings: int = 0
    """That were not here before."""
    events: int = 0
    sounds: int = 0
    deleted: int = 0
    """Events left out because they, or what they are about, were deleted here."""
    dogs: list[str] = field(default_factory=list)
    """Put on the roster."""
    left_out: list[tuple[str, str]] = field(default_factory=list)
    """What was not taken, by name, each with the reason."""
    refused: set[str] = field(default_factory=set)
    """Ids of the recordings among it."""


def no_dry_run(_kept: StoredRecording, _events: Sequence[Event]) -> None:
    """A trial that all pass: for a sender who is known to hold nothing else."""


def merge(
    log: Log, incoming_recordings: Iterable[IncomingRecording], trial: DryRun = no_dry_run
) -> MergeResult:
    """Take recordings in, one after the other, each after its trial."""
    done = MergeResult()
    for incoming_recording in incoming_recordings:
        with log.reading() as connection:
            gone = (
                tombstones.since(connection, "recording", incoming_recording.recording.id)
                is not None
            )
        if gone:
            done.deleted += len(incoming_recording.events)
            continue
        try:
            _try(log, incoming_recording, trial)
        except (SetAsideError, UnreadableRecordingError) as error:
            done.left_out.append((error.name, error.why))
            done.refused.add(incoming_recording.recording.id)
            continue
        name = _take_sound(log, incoming_recording)
        with log.writing() as connection:
            _merge_recording(log, connection, incoming_recording, name, done)
    log.drop_sounds()
    return done


def merge_dog(log: Log, dog: Dog) -> bool:
    """Put a dog on the roster, unless one of that name is there or was deleted."""
    with log.writing() as connection:
        gone = tombstones.since(connection, "dog", tombstones.dog_id(dog.name)) is not None
        if gone or roster_versions.known(connection, "dog", dog.name):
            return False
        roster_versions.put(connection, "dog", dog.name, dog.model_dump_json(), log.now())
    return True


def merge_versions(log: Log, versions: Iterable[roster_versions.RosterVersion]) -> None:
    """Take in versions of the roster, in their place by time."""
    with log.writing() as connection:
        spelt = roster_versions.spellings(connection)
        for version in versions:
            if version.kind == "dog":
                since = tombstones.since(connection, "dog", tombstones.dog_id(version.name))
                if since is not None and version.put_at <= since:
                    continue
            roster_versions.take(connection, version)
        now = roster_versions.spellings(connection)
        cache.drop_dogs(connection, [name for key, name in spelt.items() if now[key] != name])


def merge_matters(log: Log, incoming: Iterable[MatterEvent]) -> int:
    """Take in what was done about open matters elsewhere; how many events were not here."""
    with log.writing() as connection:
        return matter_log.take(connection, incoming)


# --- within -----------------------------------------------------------------------------


class _DryRunRollbackError(Exception):
    """Takes back what a trial put in."""


def _try(log: Log, incoming_recording: IncomingRecording, trial: DryRun) -> None:
    """Put a recording in, derive it, and take it out again. Raises as `trial` does."""
    kept = log.recording(incoming_recording.recording.id) or incoming_recording.recording
    try:
        with log.writing() as connection:
            _merge_recording(log, connection, incoming_recording, None, MergeResult())
            trial(kept, event_log.of_recording(connection, kept.id))
            raise _DryRunRollbackError
    except _DryRunRollbackError:
        return


def _merge_recording(
    log: Log,
    connection: Connection,
    incoming_recording: IncomingRecording,
    sound: str | None,
    done: MergeResult,
) -> None:
    row = incoming_recording.recording
    known = connection.execute(
        select(recordings.c.complete, recordings.c.sound).where(recordings.c.id == row.id)
    ).first()
    if known is None:
        values = _without_deleted_dogs(connection, row).model_dump(mode="json")
        values = contents.shared(connection, values | {"sound": sound})
        connection.execute(insert(recordings).values(values))
        done.recordings += 1
        done.sounds += sound is not None
    elif sound is not None and sound != known.sound:
        same = recordings.c.id == row.id
        connection.execute(update(recordings).where(same).values(sound=sound))
        if known.sound is not None:  # the part of it that we had is in the new one
            tombstones.lay(connection, "sound", [Path(known.sound).stem], log.now())
        done.sounds += 1
    changed = _merge_events(connection, incoming_recording, done)
    if known is not None and not known.complete and incoming_recording.whole and row.complete:
        connection.execute(
            update(recordings).where(recordings.c.id == row.id).values(complete=True)
        )
    if changed:
        cache.put(connection, row.id, [])


def _merge_events(
    connection: Connection, incoming_recording: IncomingRecording, done: MergeResult
) -> bool:
    """Whether anything changed: an event came, or one was committed earlier than known."""
    here = _here(connection, incoming_recording)
    gone = _gone(connection, incoming_recording, here)
    done.deleted += len(gone)
    changed = False
    taken: set[str] = set()
    for at, event in incoming_recording.events:
        if event.id in gone:
            continue
        body = event_log.event_json(event)
        row = here.get(event.id)
        if row is not None and not _same(row, incoming_recording.recording.id, event, body):
            if isinstance(event, Utterance):
                continue  # ours stands, and what is about it holds for both
            event = _beside(event, body)
            body = event_log.event_json(event)
            row = here.get(event.id)
        if row is None:
            if event.id in taken:  # twice in what comes, or beside one that comes: the first stands
                continue
            taken.add(event.id)
            event_log.put(connection, event, body, incoming_recording.recording.id, at)
            done.events += 1
            changed = True
        elif at < row.committed_at:
            same = events.c.id == event.id
            connection.execute(update(events).where(same).values(committed_at=at))
            changed = True
    return changed


def _here(connection: Connection, incoming_recording: IncomingRecording) -> dict[str, Row[Any]]:
    """Events that are here already: the recording's, and any other with an id that comes."""
    query = select(events)
    rows = list(
        connection.execute(query.where(events.c.recording == incoming_recording.recording.id))
    )
    wanted = sorted({event.id for _, event in incoming_recording.events} - {row.id for row in rows})
    for start in range(0, len(wanted), 500):
        some = events.c.id.in_(wanted[start : start + 500])
        rows += connection.execute(query.where(some))
    return {row.id: row for row in rows}


def _gone(
    connection: Connection, incoming_recording: IncomingRecording, here: Mapping[str, object]
) -> set[str]:
    """Ids of events that may not come in: deleted here, or about what is not there."""
    ids = {event.id for _, event in incoming_recording.events}
    spans = tombstones.stretches(connection, incoming_recording.recording.id, "span")
    gone = tombstones.find(connection, "event", ids)
    gone |= {e.id for _, e in incoming_recording.events if e.id not in here and _inside(e, spans)}
    about: dict[str, list[str]] = {}
    for _, event in incoming_recording.events:
        target = event_log.about(event)
        if target is None:
            continue
        about.setdefault(target, []).append(event.id)
        if target not in here and target not in ids:
            gone.add(event.id)
    waiting = list(gone)
    while waiting:  # what is about something that is gone goes too
        more = [one for one in about.get(waiting.pop(), ()) if one not in gone]
        gone.update(more)
        waiting += more
    return gone


def _same(row: Row[Any], recording: str, event: Event, body: str) -> bool:
    if row.recording != recording:
        return False
    return row.body == body or event_log.read(row.body) == event


def _beside(event: Event, body: str) -> Event:
    """An event whose id is taken by another content, under an id of its own."""
    digest = hashlib.sha256(body.encode()).hexdigest()[:12]
    return event.model_copy(update={"id": f"{event.id}~{digest}"})


def _inside(event: Event, spans: Sequence[tombstones.TimeInterval]) -> bool:
    """Whether something heard lies in a stretch that was deleted."""
    match event:
        case Utterance():
            return any(start <= event.start_s < end for start, end in spans)
        case FieldEvent():
            return any(start <= event.at_s < end for start, end in spans)
        case _:
            return False


def _without_deleted_dogs(connection: Connection, row: StoredRecording) -> StoredRecording:
    gone = {
        dog.name
        for dog in row.roster.dogs
        if (since := tombstones.since(connection, "dog", tombstones.dog_id(dog.name)))
        and commit_time(row.added_at) <= since
    }
    dogs = tuple(dog for dog in row.roster.dogs if dog.name not in gone)
    return row.model_copy(update={"roster": row.roster.model_copy(update={"dogs": dogs})})


def _take_sound(log: Log, incoming_recording: IncomingRecording) -> str | None:
    """Bring a recording's sound into the log's folder; its name there, None to leave it."""
    kept = log.recording(incoming_recording.recording.id)
    with log.reading() as connection:
        hush = tombstones.stretches(connection, incoming_recording.recording.id, "span", "hush")
    ours = log.sound_of(kept) if kept is not None else None
    if any(start <= 0 and end >= 1e9 for start, end in hush):
        return None
    if ours is not None and (kept is None or ours.stem == kept.sha256):
        return None  # it is whole
    with (
        incoming_recording.sound() as theirs,
        sound_files.partial(log.sound_folder, "in") as copy,
    ):
        if theirs is None:
            return None
        try:
            suffix = _join(ours, theirs, hush, copy)
        except VoicelogError:  # not sound: a typed recording
            if ours is not None or hush:
                return None
            sound_files.copy_bytes(theirs, copy)
            suffix = theirs.suffix
        path = sound_files.adopt(copy, suffix)
    return log.place(path)


def _join(
    ours: Path | None, theirs: Path, hush: Sequence[tombstones.TimeInterval], copy: Path
) -> str:
    """Write what both files hold, and silence where it was deleted; the suffix."""
    if ours is not None:
        overlay(ours, theirs, copy)
    if hush:
        with sound_files.partial(copy.parent, "in") as between:
            write_flac(copy if ours is not None else theirs, between, hush)
            between.replace(copy)
    if ours is None and not hush:
        sound_files.copy_bytes(theirs, copy)
        return theirs.suffix
    return ".flac"
