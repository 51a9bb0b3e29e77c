"""The log itself: recordings, their events, the roster, and a cache of what is derived.

Every method is one transaction, on disk when it returns. Values reach SQL as bound
parameters only. A log may be used from several threads and several programs at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from sqlalchemy import (
    ColumnElement,
    Connection,
    Engine,
    RowMapping,
    delete,
    insert,
    or_,
    select,
    update,
)

from voicelog.model import Dog, Event, MatterEvent, Roster, SoundLevel
from voicelog.model.names import name_key
from voicelog.store import (
    cache,
    chain,
    contents,
    event_log,
    matter_log,
    roster_versions,
    sound_files,
    tombstones,
)
from voicelog.store.cache import CacheListing, SessionFilter
from voicelog.store.database import LOCKED_FOLDER, open_database, vacuum_database, writing
from voicelog.store.errors import (
    ConcurrentChangeError,
    DamagedLogError,
    DeletedError,
    LogError,
    UnknownTargetError,
    translate_errors,
)
from voicelog.store.folder import ready_folder
from voicelog.store.locking import unlock_and_finish
from voicelog.store.log_lock import known_key
from voicelog.store.records import (
    CacheHeading,
    CacheRow,
    Recording,
    RecordingFile,
    StoredRecording,
)
from voicelog.store.schema import derived, recordings
from voicelog.store.set_aside import SetAsideError, UnreadableRecordingError, reason

__all__ = ["Log"]

Made = TypeVar("Made")


class Log:
    """A folder with `log.sqlite3` and `sound/`; open it with `Log.open`."""

    def __init__(self, folder: Path, engine: Engine, now: Callable[[], datetime]) -> None:
        self.folder = folder
        self._path = folder / "log.sqlite3"
        self._engine = engine
        self._now = now
        self._grown = False
        self._contents: contents.ContentCache = {}
        self._parsed = event_log.ParsedEvents()

    @classmethod
    def open(cls, folder: Path, *, now: Callable[[], datetime]) -> Log:
        """Open the log in `folder`, making it when there is none.

        An older log is copied beside itself, then brought up to date. `now` is the wall
        clock that commit times are taken from.

        Raises:
            LogError: in one sentence, when the folder holds something else, a newer log or
                a damaged one, or may not be written.
        """
        folder = ready_folder(folder)
        unlock_and_finish(folder)
        log = cls(folder, open_database(folder / "log.sqlite3", now), now)
        try:
            log.sweep()  # what an earlier deletion could not finish
        except BaseException:
            log.close()
            raise
        return log

    @classmethod
    def beside(cls, folder: Path) -> Log:
        """Open a log that another process has open and keeps in order, only to read from it.

        Raises:
            LogError: as `open` does.
        """
        now = datetime.now  # of a reader nothing is dated
        return cls(folder, open_database(folder / "log.sqlite3", now), now)

    def close(self) -> None:
        """Let go of the database. Nothing is lost without it; a later use opens it again."""
        if self._grown and self._path.is_file():
            with suppress(LogError):  # the end noted before still holds, and tells less
                self.note_chain()
            self._grown = False
        self._engine.dispose()

    def note_chain(self, *, anew: bool = False) -> None:
        """Note the end of the chain beside the database, unless the one that is noted there is not
        of this chain: that is for a person to settle, who says `anew`."""
        noted = chain.noted_end(self.folder)
        with self._read() as connection:
            if anew or noted is None or chain.holds(connection, noted):
                chain.note_end(self.folder, chain.chain_end(connection))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # --- recordings ----------------------------------------------------------------

    def begin_recording(self, recording: Recording) -> bool:
        """Take a recording in, before its events.

        One whose adding was cut short is taken up again: it keeps its events, its place and
        its `added_at`, and everything else is as given now.

        Returns:
            False, with nothing changed, when that id is already here and complete, or, where
            the content alone is the id, that sha256.

        Raises:
            DeletedError: it was deleted from this log.
        """
        same = recordings.c.id == recording.id
        if recording.sha256 == recording.id:
            same = or_(same, recordings.c.sha256 == recording.sha256)
        with self._write() as connection:
            row = contents.shared(connection, recording.model_dump(mode="json"))
            self._refuse_deleted(connection, recording.id)
            if connection.scalar(select(recordings.c.id).where(same, recordings.c.complete)):
                return False
            begun = update(recordings).where(recordings.c.id == recording.id).values(row)
            if not connection.execute(begun).rowcount:
                row |= {"added_at": self._now().isoformat(), "complete": False}
                connection.execute(insert(recordings).values(row))
        return True

    def finish_recording(
        self,
        recording: str,
        *,
        sha256: str | None = None,
        sound: str | None = None,
        duration_s: float | None = None,
        level: SoundLevel | None = None,
        roster: Roster | None = None,
    ) -> None:
        """Mark a recording complete, with what was only known at its end (None: as begun).

        `roster` is for one that is heard again with words that were not known then.

        Raises:
            UnknownTargetError: there is no such recording.
        """
        late = {
            "sha256": sha256,
            "sound": sound,
            "duration_s": duration_s,
            "level": level,
            "roster": roster,
        }
        with self._write() as connection:
            kept = self._kept(connection, recording)
            if kept is None:
                raise UnknownTargetError("The end of a recording", recording)
            given = {name: value for name, value in late.items() if value is not None}
            whole = self._whole(connection, dict(kept) | given | {"complete": True})
            connection.execute(
                update(recordings)
                .where(recordings.c.id == recording)
                .values(contents.shared(connection, whole.model_dump(mode="json")))
            )

    def recordings(self) -> tuple[StoredRecording, ...]:
        """Every recording that can be read (`unreadable`), in the order they were first begun."""
        return tuple(self.each_recording())

    def each_recording(self) -> Iterator[StoredRecording]:
        """The same one by one, some at a time in memory; what is begun meanwhile comes too."""
        return (one for one in self._each(self._if_readable) if one is not None)

    def recording(self, recording: str) -> StoredRecording | None:
        """The recording of that id, or None.

        Raises:
            UnreadableRecordingError: its row is not as this program knows it.
        """
        with self._read() as connection:
            row = self._kept(connection, recording)
            return None if row is None else self._whole(connection, row)

    def files(self, ids: Collection[str]) -> list[RecordingFile]:
        """What is known of the files of these recordings; nothing else of their rows is read."""
        columns = (recordings.c[name] for name in RecordingFile._fields)
        query, wanted = select(*columns), sorted(ids)
        found = []
        with self._read() as connection:
            for start in range(0, len(wanted), _PAGE):
                some = query.where(recordings.c.id.in_(wanted[start : start + _PAGE]))
                for name, file_name, sound, heard_by in connection.execute(some):
                    found.append(RecordingFile(name, file_name, sound, tuple(heard_by)))
        return found

    def heard_by(self, listeners: Sequence[str]) -> frozenset[str]:
        """The ids of the recordings that were heard by these listeners and no others."""
        with self._read() as connection:
            kinds = connection.scalars(select(recordings.c.listeners).distinct())
            same = [one for one in kinds if tuple(one) == tuple(listeners)]
            query = select(recordings.c.id).where(recordings.c.listeners.in_(same))
            return frozenset(connection.scalars(query))

    def of_content(self, sha256: str) -> tuple[StoredRecording, ...]:
        """The recordings of that content, in the order they were first begun.

        Raises:
            UnreadableRecordingError: the row of one is not as this program knows it.
        """
        same = or_(recordings.c.id == sha256, recordings.c.sha256 == sha256)
        with self._read() as connection:
            rows = connection.execute(_KEPT.where(same).order_by(recordings.c.seq)).mappings().all()
            return tuple(self._whole(connection, row) for row in rows)

    def unreadable(self) -> dict[str, UnreadableRecordingError]:
        """The recordings whose row or events are not as this program knows them, by id. All
        events are read for this."""

        def fault(
            connection: Connection, row: Mapping[str, Any]
        ) -> UnreadableRecordingError | None:
            try:
                self._whole(connection, row)
                event_log.of_recording(connection, row["id"])
            except UnreadableRecordingError as error:
                return error
            return None

        told = self._each(lambda connection, row: (row["id"], fault(connection, row)))
        return {name: error for name, error in told if error is not None}

    def store_sound(self, path: Path, sha256: str, recording: str | None = None) -> Path:
        """Copy a sound file into the log, see `voicelog.store.sound_files.keep`; its new path.

        Do it before `begin_recording`, which takes the path relative to `folder`. Raises
        DeletedError where that recording (None: whose id is its sound's hash) was deleted from
        this log.
        """
        with self._read() as connection:
            self._refuse_deleted(connection, recording or sha256)
        return sound_files.keep(path, sha256, self.sound_folder)

    def sound_of(self, recording: StoredRecording) -> Path | None:
        """The kept file of a recording, None where it has none or the file is not there."""
        return self.sound_path(recording.sound)

    def sound_path(self, sound: str | None) -> Path | None:
        """The same by `Recording.sound`."""
        if sound is None or not sound_files.NAME.fullmatch(sound):
            return None
        path = self.sound_folder / Path(sound).name
        return path if path.is_file() else None

    @property
    def locked(self) -> bool:
        """Whether it lies encrypted on the disk."""
        return known_key(self.folder) is not None

    @property
    def sound_folder(self) -> Path:
        """Where the sound lies; that of a locked log is read by `voicelog.audio.locked_files`."""
        return self.folder / (LOCKED_FOLDER if self.locked else "sound")

    @property
    def live_folder(self) -> Path:
        """Where sound grows that is not in the log yet."""
        return self.folder / LOCKED_FOLDER / "live" if self.locked else self.folder / "live"

    @staticmethod
    def place(kept: Path) -> str:
        """What a recording calls a file in the folder of sound, locked or not."""
        return f"sound/{kept.name}"

    # --- events --------------------------------------------------------------------

    def append(self, new: Sequence[Event], *, seen: tuple[str, int] | None = None) -> int:
        """Commit events, all or none; on disk when this returns.

        An event that is already here is passed over, so a step done twice counts once. `seen`
        is a recording and the number of its newest event that whoever asks has seen.

        Returns:
            How many were not here before.

        Raises:
            EventConflictError: an id is here already with another content.
            UnknownTargetError: an event's recording, utterance or target is not in the log.
            ConcurrentChangeError: the recording has newer events than were seen; nothing is kept.
            ValueError: an event holds a number that JSON cannot (infinity, not-a-number).
        """
        rows = [(event, event_log.event_json(event)) for event in new]
        with self._write() as connection:
            if seen is not None and event_log.newest(connection, seen[0]) != seen[1]:
                raise ConcurrentChangeError(seen[0])
            return event_log.add(connection, rows, self._now())

    def events(self, recording: str) -> tuple[Event, ...]:
        """The events of a recording, in the order they were committed.

        Raises:
            UnreadableRecordingError: one of them is not as this program knows events.
        """
        with self._read() as connection:
            return event_log.of_recording(connection, recording, self._parsed)

    def stamped_events(self, recording: str) -> tuple[tuple[str, Event], ...]:
        """The same, each with the time it was committed, see `voicelog.store.commit_time`."""
        with self._read() as connection:
            return event_log.stamped_of(connection, recording)

    def event_count(self) -> int:
        """How many events there are."""
        with self._read() as connection:
            return event_log.count(connection)

    def event_seq(self, recording: str | None = None) -> int:
        """Number of the newest event of a recording, or of all; 0 when there is none.

        It grows with every event committed, and so dates whatever is derived from them.
        """
        with self._read() as connection:
            return event_log.newest(connection, recording)

    def read_by_people(self) -> tuple[str, ...]:
        """The recordings in which a person has read or done something, in their order."""
        with self._read() as connection:
            return event_log.read_by_people(connection)

    # --- roster --------------------------------------------------------------------

    def roster(self) -> Roster:
        """The dogs and handlers as last put, in the order they were first put."""
        with self._read() as connection:
            return roster_versions.roster(connection)

    def spellings(self) -> dict[str, str]:
        """How each dog is spelt that was ever put on the roster, by its `name_key`."""
        with self._read() as connection:
            return roster_versions.spellings(connection)

    def versions(self) -> tuple[roster_versions.RosterVersion, ...]:
        """Everything that was ever put on the roster or taken off it, oldest first."""
        with self._read() as connection:
            return roster_versions.versions(connection)

    def put_dog(self, dog: Dog) -> None:
        """Add a dog, or a new version of the one of that name (letter case aside)."""
        with self._write() as connection:
            known = roster_versions.spellings(connection).get(name_key(dog.name), dog.name)
            roster_versions.put(connection, "dog", dog.name, dog.model_dump_json(), self._now())
            cache.drop_dogs(connection, {known} - {dog.name})

    def remove_dog(self, name: str) -> None:
        """Take a dog off the roster; its recordings and older versions stay.

        Raises:
            UnknownNameError: it is not on the roster.
        """
        with self._write() as connection:
            roster_versions.remove(connection, "dog", name, self._now())

    def put_handler(self, name: str) -> None:
        """Add a handler, or a new spelling of the same name (letter case aside)."""
        with self._write() as connection:
            roster_versions.put(connection, "handler", name, None, self._now())

    def remove_handler(self, name: str) -> None:
        """Take a handler off the roster.

        Raises:
            UnknownNameError: it is not on the roster.
        """
        with self._write() as connection:
            roster_versions.remove(connection, "handler", name, self._now())

    # --- open matters ----------------------------------------------------------------

    def matter_events(self) -> tuple[MatterEvent, ...]:
        """What people did about open matters, in the order in which it came into this log."""
        with self._read() as connection:
            return matter_log.read_all(connection)

    def append_matters(self, new: Sequence[MatterEvent]) -> None:
        """Commit matter events, all or none; on disk when this returns."""
        with self._write() as connection:
            matter_log.add(connection, new, self._now())

    def session_matters(self, dog: str | None, *, stop: bool = False) -> list[str]:
        """What a dog's sessions leave of matters, as JSON, of those that leave any; None: what is
        of no session. `stop`: only of those that leave one that says stop."""
        with self._read() as connection:
            return cache.matters(connection, dog, stop=stop)

    def recording_with(self, event: str) -> str | None:
        """The recording that holds the event of that id, or None."""
        with self._read() as connection:
            return event_log.recording_with(connection, event)

    # --- the cache of what is derived ----------------------------------------------

    def derived_get(self, recording: str) -> tuple[CacheRow, ...]:
        """What was last derived from a recording; compare its stamps before you trust it."""
        return self._derived(derived.c.recording == recording)

    def derived_of_dog(self, dog: str) -> tuple[CacheRow, ...]:
        """What was derived for a dog, over all recordings, oldest first."""
        return self._derived(derived.c.dog == dog)

    def derived_row(self, key: str) -> CacheRow | None:
        """The row of that key, or None."""
        return next(iter(self._derived(derived.c.key == key)), None)

    def derived_before(self, row: CacheHeading) -> CacheRow | None:
        """The row of the same dog just before this one, or None."""
        with self._read() as connection:
            return cache.before(connection, row)

    def headings(
        self, wanted: SessionFilter, *, limit: int | None = None, skip: int = 0
    ) -> CacheListing:
        """What is listed, newest first, and how many there are in all."""
        with self._read() as connection:
            return cache.headings(connection, wanted, limit, skip)

    def listed_dogs(self) -> tuple[str, ...]:
        """The dogs that rows are of, by first appearance."""
        with self._read() as connection:
            return cache.dogs(connection)

    def session_dogs(self) -> list[tuple[str, str]]:
        """The id of every session and its dog, as last derived, by dog, oldest first."""
        with self._read() as connection:
            return cache.session_dogs(connection)

    def traces(self, dog: str, *, before: datetime, but: str) -> tuple[str, ...]:
        """Traces of a dog's rows before a moment, oldest first, without those of one recording."""
        with self._read() as connection:
            return cache.traces(connection, dog, before, but)

    def stale(self, stamp: str, dogs: Collection[str] | None = None) -> tuple[str, ...]:
        """Complete recordings whose rows are not good, oldest first.

        Good rows are not stale, and their head's stamp is `stamp`, a slash and the number of
        the recording's newest event. With `dogs`, those are left out in which other dogs were
        worked and none of these, where nothing changed but the program, and which leave no matter
        that is of no session.
        """
        with self._read() as connection:
            return cache.stale(connection, stamp, dogs)

    def dogs_worked(self, names: Collection[str]) -> dict[str, set[str | None]]:
        """The dogs that each of these recordings (ids) is known to be of: those of its sessions as
        they were derived last, else the one that was chosen, None where nobody did."""
        with self._read() as connection:
            return cache.dogs_worked(connection, names)

    def digests(self, dog: str) -> tuple[str, ...]:
        """Digests of a dog without their bodies, oldest first."""
        with self._read() as connection:
            return cache.digests(connection, dog)

    def digests_of(self, keys: Sequence[str]) -> tuple[str, ...]:
        """Digests of the rows with these keys, oldest first."""
        with self._read() as connection:
            return cache.digests_of(connection, keys)

    def counts(self, dog: str | None = None) -> list[tuple[str, str, bool, Mapping[str, int]]]:
        """Key, dog and counts of every session, or of a `dog`'s, by dog, oldest first; nothing else
        is read."""
        with self._read() as connection:
            return cache.counts(connection, dog)

    def derived_put(self, recording: str, rows: Sequence[CacheRow]) -> None:
        """Put these rows in place of all that was derived from a recording.

        Rows of other recordings go stale where they come after a row of the same dog whose
        trace or moment is not what it was.

        Raises:
            ValueError: a row belongs to another recording.
        """
        if any(row.recording != recording for row in rows):
            raise ValueError(f"derived rows of another recording than {recording}")
        with self._write() as connection:
            cache.put(connection, recording, rows)

    def asides(self) -> dict[str, SetAsideError]:
        """The recordings that did not derive when that was last tried, by id."""
        with self._read() as connection:
            return cache.asides(connection)

    def derived_is_fresh(self, recording: str) -> None:
        """Say of stale rows that they are good after all."""
        with self._write() as connection:
            cache.fresh(connection, recording)

    def derived_clear(self) -> None:
        """Forget everything derived; it can all be derived again."""
        with self._write() as connection:
            connection.execute(delete(derived))

    # --- for the other modules of this room ------------------------------------------

    def now(self) -> datetime:
        """The wall clock."""
        return self._now()

    def reading(self) -> AbstractContextManager[Connection]:
        """A transaction that reads."""
        return self._read()

    def writing(self) -> AbstractContextManager[Connection]:
        """A transaction that waits its turn, then writes: all of it or nothing."""
        return self._write()

    def sweep(self) -> bool:
        """Leave nothing on the disk of what was deleted; whether that was possible now.

        It is not while another program reads the log, or while the disk is too full to
        write the database anew. The next opening tries again.
        """
        with self._read() as connection:
            if not tombstones.unswept(connection):
                return True
        self.drop_sounds()
        if not vacuum_database(self._engine):
            return False
        with self._write() as connection:
            tombstones.mark_swept(connection)
        return True

    def drop_sounds(self) -> None:
        """Remove the sound files that no recording has any more."""
        with self._read() as connection:
            gone = tombstones.unswept_sounds(connection)
            names = connection.scalars(select(recordings.c.sound)) if gone else ()
            gone -= {Path(name).stem for name in names if name}
        if not gone:
            return
        with translate_errors(self.sound_folder):
            for stem in gone:
                sound_files.remove(stem, self.sound_folder)
        with self._write() as connection:
            tombstones.mark_swept(connection, gone)

    # --- within --------------------------------------------------------------------

    @contextmanager
    def _read(self) -> Iterator[Connection]:
        with translate_errors(self._path), self._readable(), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _write(self) -> Iterator[Connection]:
        with (
            translate_errors(self._path),
            self._readable(),
            writing(self._engine).begin() as connection,
        ):
            chain.begin(connection)
            yield connection
            chain.link(connection)
            self._grown = True

    @contextmanager
    def _readable(self) -> Iterator[None]:
        """What was written here reads back, or the disk has changed it."""
        try:
            yield
        except ValueError as error:
            raise DamagedLogError(self._path, "a row of it cannot be read") from error

    def _refuse_deleted(self, connection: Connection, recording: str) -> None:
        since = tombstones.since(connection, "recording", recording)
        if since is not None:
            raise DeletedError(recording, since)

    def _kept(self, connection: Connection, recording: str) -> RowMapping | None:
        return connection.execute(_KEPT.where(recordings.c.id == recording)).mappings().first()

    def _whole(self, connection: Connection, row: Mapping[Any, Any]) -> StoredRecording:
        try:
            return StoredRecording.model_validate(contents.filled(connection, row, self._contents))
        except (ValueError, TypeError, KeyError) as error:
            name = str(row["file_name"] or row["id"][:12])
            raise UnreadableRecordingError(name, reason(error)) from error

    def _if_readable(
        self, connection: Connection, row: Mapping[Any, Any]
    ) -> StoredRecording | None:
        try:
            return self._whole(connection, row)
        except UnreadableRecordingError:
            return None

    def _each(self, made: Callable[[Connection, Mapping[str, Any]], Made]) -> Iterator[Made]:
        """What is `made` of the row of every recording, in order; some are read at a time."""
        last: int | None = -1
        while last is not None:
            rows = _KEPT.add_columns(recordings.c.seq).where(recordings.c.seq > last)
            with self._read() as connection:
                query = rows.order_by(recordings.c.seq).limit(_PAGE)
                page = [dict(row) for row in connection.execute(query).mappings()]
                last = page[-1]["seq"] if page else None
                found = [
                    made(connection, {name: row[name] for name in row if name != "seq"})
                    for row in page
                ]
            yield from found

    def _derived(self, condition: ColumnElement[bool]) -> tuple[CacheRow, ...]:
        query = select(*cache.WHOLE).where(condition).order_by(derived.c.moment, derived.c.key)
        with self._read() as connection:
            rows = connection.execute(query).mappings()
            return tuple(CacheRow.model_validate(dict(row)) for row in rows)


_PAGE = 500
"""Recordings that are read at once."""
_KEPT = select(*(column for column in recordings.c if column.name != "seq"))
