"""Delete what the owner wants gone: entries, sound, a dog; every copy, and for good.

Three steps, each of which may be cut short and is then taken up again. Sound that is shared
with what stays is written anew with the rest silent. One transaction removes the rows and
lays tombstones, which keep the same things from ever coming back by a bundle or a backup.
Then the disk is swept: files go, free pages are overwritten, the write-ahead log is emptied,
the database is written anew. The next opening of the log sweeps again where that failed.

What the system keeps of a removed file (a journal, a snapshot, a worn cell of a flash disk)
is beyond this; so are backups and bundles, which are named and not touched.
"""

from __future__ import annotations

import shlex
from collections.abc import Collection, Sequence
from pathlib import Path

from sqlalchemy import Connection, delete, select, update

from voicelog.audio.errors import SoundFileError
from voicelog.audio.flac import write_flac
from voicelog.model import Event, FieldEvent, FrozenModel, Utterance
from voicelog.model.names import name_key
from voicelog.session.entries import recording_start
from voicelog.store import cache, contents, event_log, matter_log, sound_files, tombstones
from voicelog.store.commit_time import CommitClock, commit_time
from voicelog.store.errors import LogError, UnknownNameError
from voicelog.store.log import Log
from voicelog.store.recording_part import RecordingPart
from voicelog.store.records import StoredRecording
from voicelog.store.schema import events, hidden_events, profiles, recordings
from voicelog.store.share.asides import drop_gone

__all__ = [
    "DeletionResult",
    "IncompleteRecordingError",
    "delete_dog",
    "delete_parts",
    "delete_sound",
    "drop_sound",
    "leftovers",
    "silenced",
]


class IncompleteRecordingError(LogError):
    """Recordings that are not complete, so nobody can say whose they are."""

    def __init__(self, names: Collection[str]) -> None:
        self.names = tuple(names)
        first = shlex.quote(self.names[0])
        text = "--typed " if first.lower().endswith((".txt", ".tsv", ".csv", ".md")) else ""
        super().__init__(
            f"{', '.join(self.names)} is only half added, so it cannot be said what of it "
            f"belongs to whom: complete it with 'voicelog add {text}{first}', wait until that is "
            f"done, or delete it for good with 'voicelog delete half {first}'."
        )


class DeletionResult(FrozenModel):
    """What was deleted; `swept`: nothing of it is left in the log's folder."""

    recordings: int = 0
    events: int = 0
    sounds: int = 0
    swept: bool = True


def delete_parts(log: Log, recording_parts: Sequence[RecordingPart]) -> DeletionResult:
    """Delete parts of recordings: their events, and their sound.

    Raises:
        LogError: as the disk refuses; what is not deleted then is deleted by doing it again.
    """
    done = [_delete(log, part) for part in recording_parts]
    return _summed(done, log.sweep())


def delete_dog(
    log: Log, name: str, recording_parts: Sequence[RecordingPart], matters: Sequence[str] = ()
) -> DeletionResult:
    """Delete a dog: its sessions (`recording_parts`), its profile, its place in every roster, and
    these matter events, by their ids.

    Raises:
        IncompleteRecordingError: a recording is not complete.
        UnknownNameError: the log knows no such dog.
    """
    half = [one.file_name or one.id for one in log.each_recording() if not one.complete]
    if half:
        raise IncompleteRecordingError(half)
    done = [_delete(log, part) for part in recording_parts]
    key = name_key(name)
    with log.writing() as connection:
        rows = select(profiles.c.seq).where(profiles.c.kind == "dog", profiles.c.key == key)
        seqs = [str(seq) for seq in connection.scalars(rows)]
        cleared = [_clear(connection, one, key) for one in log.each_recording()]
        if not (recording_parts or seqs or any(cleared)):
            raise UnknownNameError("dog", name, [dog.name for dog in log.roster().dogs])
        tombstones.lay(connection, "profile", seqs, log.now())
        tombstones.lay_at(
            connection, "dog", tombstones.dog_id(name), _after_all(log, connection, key)
        )
        connection.execute(delete(profiles).where(profiles.c.seq.in_(map(int, seqs))))
        matter_log.drop(connection, matters, log.now())
        contents.drop_unused(connection)
    return _summed(done, log.sweep())


def delete_sound(log: Log, chosen: Sequence[StoredRecording]) -> DeletionResult:
    """Delete the sound of recordings; their entries stay."""
    files = 0
    for one in chosen:
        with log.writing() as connection:
            files += drop_sound(log, connection, one)
            tombstones.lay(connection, "hush", [one.id], log.now(), (0.0, 1e9))
    return _summed([DeletionResult(sounds=files)], log.sweep())


def leftovers(folder: Path) -> tuple[Path, ...]:
    """Copies of the database beside it, made before an upgrade: named, never touched."""
    return tuple(sorted(folder.glob("log-*.sqlite3")))


# --- within -----------------------------------------------------------------------------


def _delete(log: Log, part: RecordingPart) -> DeletionResult:
    if part.whole:
        return _delete_whole(log, part.recording)
    kept = log.recording(part.recording)
    if kept is None:
        return DeletionResult()
    sound = silenced(log, kept, part)
    began = recording_start(log.events(kept.id), kept.started_at)
    with log.writing() as connection:
        hidden = _hidden_with(connection, part)
        gone = _drop_events(log, connection, kept.id, part.events | hidden)
        drop_gone(connection)
        dropped = drop_sound(log, connection, kept, instead=sound)
        same = recordings.c.id == kept.id
        started = None if began is None else began.isoformat()
        connection.execute(update(recordings).where(same).values(started_at=started))
        for stretch in part.stretches:
            tombstones.lay(connection, "span", [kept.id], log.now(), stretch)
    return DeletionResult(events=gone, sounds=int(dropped))


def _delete_whole(log: Log, recording: str) -> DeletionResult:
    """Delete all of a recording, also of one that cannot be read."""
    with log.writing() as connection:
        columns = select(recordings.c.id, recordings.c.sha256, recordings.c.sound)
        row = connection.execute(columns.where(recordings.c.id == recording)).first()
        if row is None:
            return DeletionResult()
        gone = _drop_events(log, connection, recording, None)
        if row.sound is not None:
            tombstones.lay(connection, "sound", [Path(row.sound).stem], log.now())
        tombstones.lay(connection, "recording", {row.id, row.sha256 or row.id}, log.now())
        connection.execute(delete(recordings).where(recordings.c.id == recording))
        contents.drop_unused(connection)
        drop_gone(connection)
    return DeletionResult(recordings=1, events=gone, sounds=int(row.sound is not None))


def _hidden_with(connection: Connection, part: RecordingPart) -> set[str]:
    """What goes with a part of a recording and is not shown, so that the part does not name it: of
    another hearing of the same sound, or set aside. Ids of events."""
    query = select(events.c.id, events.c.body).where(
        events.c.recording == part.recording, events.c.id.in_(select(hidden_events.c.id))
    )
    told = [event_log.read(row.body) for row in connection.execute(query)]
    gone = {one.id for one in told if _lies_in(one, part.stretches)}
    grown = True
    while grown:
        about = part.events | gone
        more = {one.id for one in told if event_log.about(one) in about} - gone
        gone |= more
        grown = bool(more)
    return gone


def _lies_in(event: Event, stretches: Sequence[tombstones.TimeInterval]) -> bool:
    at_s = event.start_s if isinstance(event, Utterance) else None
    at_s = event.at_s if isinstance(event, FieldEvent) else at_s
    return at_s is not None and any(start <= at_s < end for start, end in stretches)


def _drop_events(
    log: Log, connection: Connection, recording: str, chosen: Collection[str] | None
) -> int:
    """Delete events of a recording, all (None) or the chosen ones; how many those were."""
    ids = set(connection.scalars(select(events.c.id).where(events.c.recording == recording)))
    gone = sorted(one for one in ids if chosen is None or one.partition("#")[0] in chosen)
    named = {*gone, *(one.partition("#")[0] for one in gone)}  # see `event_log.variant`
    tombstones.lay(connection, "event", sorted(named), log.now())
    for start in range(0, len(gone), 500):
        some = events.c.id.in_(gone[start : start + 500])
        connection.execute(delete(events).where(some))
    cache.put(connection, recording, [])
    return len(gone)


def drop_sound(
    log: Log, connection: Connection, kept: StoredRecording, instead: Path | None = None
) -> bool:
    """Take a recording's sound away, or put another file in its place."""
    put = None if instead is None else log.place(instead)
    if kept.sound is None or kept.sound == put:
        return False
    same = recordings.c.id == kept.id
    connection.execute(update(recordings).where(same).values(sound=put))
    tombstones.lay(connection, "sound", [Path(kept.sound).stem], log.now())
    return True


def _after_all(log: Log, connection: Connection, key: str) -> str:
    """A time of commit after all that is known of a dog by its key, whatever the clock says: what
    was there goes in every log, and what is put in later stays."""
    put = select(profiles.c.put_at).where(profiles.c.kind == "dog", profiles.c.key == key)
    added = (commit_time(one.added_at) for one in log.each_recording())
    known = [*connection.scalars(put), *added]
    return CommitClock(max(known, default=None)).of(log.now())


def silenced(log: Log, kept: StoredRecording, part: RecordingPart) -> Path | None:
    """A copy of a recording's sound with a part of it silent, in the log; None if it has none.

    What cannot be decoded cannot be shared out, and goes as a whole.
    """
    path = log.sound_of(kept)
    if path is None:
        return None
    with sound_files.partial(log.sound_folder, path.stem) as copy:
        try:
            write_flac(path, copy, part.stretches)
            return sound_files.adopt(copy, ".flac")
        except SoundFileError:
            lines = sound_files.typed_lines(path, part.stretches)
            if lines is None:
                return None
            sound_files.copy_bytes(path, copy, lines)
            return sound_files.adopt(copy, path.suffix)


def _clear(connection: Connection, kept: StoredRecording, key: str) -> bool:
    """Take a dog out of what a recording keeps beside its events."""
    dogs = tuple(dog for dog in kept.roster.dogs if name_key(dog.name) != key)
    settings = dict(kept.settings)
    own = settings.get("dog")
    if isinstance(own, dict):
        settings["dog"] = {name: one for name, one in own.items() if name_key(name) != key}
    rest = kept.model_copy(
        update={
            "roster": kept.roster.model_copy(update={"dogs": dogs}),
            "settings": settings,
            "dog": None if kept.dog is not None and name_key(kept.dog) == key else kept.dog,
        }
    )
    if rest == kept:
        return False
    row = rest.model_dump(mode="json", include={"roster", "settings", "dog"})
    row = contents.shared(connection, row)
    connection.execute(update(recordings).where(recordings.c.id == kept.id).values(row))
    cache.put(connection, kept.id, [])
    return True


def _summed(parts: Sequence[DeletionResult], swept: bool) -> DeletionResult:
    return DeletionResult(
        recordings=sum(part.recordings for part in parts),
        events=sum(part.events for part in parts),
        sounds=sum(part.sounds for part in parts),
        swept=swept,
    )
