"""The whole log as one file, made while it is in use, and taken back in.

A backup is a bag: the database as SQLite's own backup copies it, with what was committed by
then and nothing half done; every sound file, also those that still grow; the settings file. It
is taken back by merging it into a log, an empty one or one that has gone on since, so nothing
that is there is lost.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Collection, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from datetime import datetime
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from voicelog.audio.locked_files import driver_errors
from voicelog.model import FrozenModel
from voicelog.safety.settings_file import SettingsError, load_settings
from voicelog.store import sound_files
from voicelog.store.bagit import BagItArchive, BagItError, open_bagit, write_bagit
from voicelog.store.commit_time import COMMIT_TIME_PATTERN
from voicelog.store.database import LOCKED_FOLDER, connect_database
from voicelog.store.errors import LogError, NewerLogError, translate_errors
from voicelog.store.known_schema import odd_in_schema, refuse_long_values
from voicelog.store.log import Log
from voicelog.store.log_lock import (
    KEY_FILE,
    WrongPassphraseError,
    known_key,
    note_log_key,
    open_key_file,
    passphrase_for,
)
from voicelog.store.merge import (
    DryRun,
    IncomingRecording,
    MergeResult,
    merge,
    merge_matters,
    merge_versions,
    no_dry_run,
)

__all__ = ["BackupResult", "is_locked_backup", "restore", "take_key_file", "write_backup"]

KIND = "voicelog backup 1"
_DATABASE = "log.sqlite3"
_LIVE = "live"
"""Folder of the sound of live sessions under way."""


class BackupResult(FrozenModel):
    """What a backup holds, and what it should hold but could not."""

    recordings: int
    sounds: int
    missing: tuple[str, ...]
    """Recordings whose sound is not there any more, by file name."""
    changed: tuple[str, ...]
    """Recordings whose sound is not what it was when it was kept; saved as it is."""
    settings: bool


def write_backup(
    log: Log,
    path: Path,
    settings: Path | None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> BackupResult:
    """Write everything to `path`, which is there only when it is whole.

    `progress` is told before each recording how many are written, and of how many.

    Raises:
        LogError: as the disk refuses.
    """
    how = "locked by the log's passphrase" if log.locked else "unencrypted"
    info = {
        "External-Description": "The whole of a training log: entries, sound, settings. It "
        f"holds people's names and voices, {how}.",
        "Voicelog-Kind": KIND,
    }
    missing, changed, count = [], [], 0
    sounds = f"{LOCKED_FOLDER}/" if log.locked else "sound/"
    growing_sounds = f"{LOCKED_FOLDER}/live" if log.locked else _LIVE
    with _alike_folder(known_key(log.folder)) as folder:
        copy = folder / _DATABASE
        kept = _copy_database(log, copy)
        with write_bagit(path, log.now(), info) as bag:
            if log.locked:
                bag.add_file(KEY_FILE, log.folder / KEY_FILE, as_it_lies=True)
            bag.add_file(_DATABASE, copy, packed=not log.locked, as_it_lies=True)
            for done, (name, sound) in enumerate(kept):
                progress(done, len(kept))
                if sound is None:
                    continue
                file = log.sound_folder / Path(sound).name
                if not sound_files.NAME.fullmatch(sound) or not file.is_file():
                    missing.append(name)
                    continue
                if sound_files.sha256_of(file) != file.stem:
                    changed.append(name)
                bag.add_file(f"{sounds}{file.name}", file, as_it_lies=True)
                count += 1
            for growing in sorted(log.live_folder.glob("*.wav")):
                still = folder / LOCKED_FOLDER / growing.name
                sound_files.copy_bytes(growing, still)
                bag.add_file(f"{growing_sounds}/{growing.name}", still, as_it_lies=True)
                still.unlink()
            if settings is not None:
                bag.add_file("settings.toml", settings, packed=True)
    return BackupResult(
        recordings=len(kept),
        sounds=count,
        missing=tuple(missing),
        changed=tuple(changed),
        settings=settings is not None,
    )


def restore(
    log: Log, path: Path, settings: Path, trial: DryRun = no_dry_run
) -> tuple[MergeResult, bool]:
    """Merge a backup into a log, each recording after its trial.

    `settings` is where its settings file goes, if none is there and this one is good.

    Returns:
        What came of it, and whether the settings were taken.

    Raises:
        BagItError: the backup is not whole, not safe, or not one; nothing was taken.
        LogError: as the disk refuses; what was not taken then is taken by doing it again.
    """
    with open_bagit(path) as bag, _alike_folder(None) as folder:
        if _DATABASE not in bag.names:
            raise BagItError(path, "is a bag, but not a backup of voicelog")
        _unpack(bag, _DATABASE, folder / _DATABASE)
        if KEY_FILE in bag.names:
            _unpack(bag, KEY_FILE, folder / KEY_FILE)
            _unlock(path, folder, known_key(log.folder))
        with _opened(path, folder, log.now) as then:
            merge_versions(log, then.versions())
            merge_matters(log, then.matter_events())
            unread = then.unreadable()
            done = merge(log, _incoming_recordings(bag, then, unread), trial)
            done.left_out += [(error.name, error.why) for error in unread.values()]
            _take_growing(log, bag, then.locked, folder)
        taken = False
        if "settings.toml" in bag.names and not settings.exists():
            try:
                _take_settings(log, bag, settings)
                taken = True
            except SettingsError as error:
                done.left_out.append(("settings.toml", error.fault.rstrip(".")))
    return done, taken


def is_locked_backup(path: Path) -> bool:
    """Whether a backup is one of a locked log. Raises as `restore` where it is none."""
    with open_bagit(path) as bag:
        return KEY_FILE in bag.names


def take_key_file(path: Path, folder: Path) -> None:
    """Put the key of a locked log's backup into a folder, whose log is locked alike from then on.
    Raises as `restore`."""
    with open_bagit(path) as bag:
        _unpack(bag, KEY_FILE, folder / KEY_FILE)


# --- within -----------------------------------------------------------------------------


def _copy_database(log: Log, copy: Path) -> list[tuple[str, str | None]]:
    """Copy the database without what is derived; its recordings' names and sounds."""
    with (
        translate_errors(copy),
        closing(connect_database(log.folder / _DATABASE)) as here,
        closing(connect_database(copy)) as there,
    ):
        here.backup(there)
        there.execute("PRAGMA journal_mode = DELETE")
        there.execute("DELETE FROM derived")
        there.execute("VACUUM")
        rows = there.execute("SELECT file_name, sound FROM recordings ORDER BY seq")
        return [(name, sound) for name, sound in rows]


@contextmanager
def _opened(path: Path, folder: Path, now: Callable[[], datetime]) -> Iterator[Log]:
    """The database of a backup, as a log of its own, brought up to date and read once."""
    try:
        with closing(connect_database(folder / _DATABASE)) as connection:
            connection.execute("PRAGMA trusted_schema = OFF")
            odd = odd_in_schema(connection)
            if odd:
                raise BagItError(path, f"holds a database with parts of its own ({odd[0]!a})")
            refuse_long_values(connection)
            row = connection.execute("PRAGMA integrity_check").fetchone()
            if row is None or row[0] != "ok":
                raise BagItError(path, "holds a damaged database")
        then = Log.open(folder, now=now)
    except BagItError:
        raise
    except NewerLogError as error:
        raise BagItError(path, "was made by a newer voicelog, which is to be installed") from error
    except (SQLAlchemyError, LogError) as error:
        raise BagItError(path, "holds a database that cannot be opened") from error
    except driver_errors() as error:
        raise BagItError(path, "holds a database that cannot be opened") from error
    with then:
        try:
            _read_through(then)
        except (SQLAlchemyError, LogError, ValueError, TypeError) as error:
            raise BagItError(path, "holds a log that cannot be read") from error
        yield then


def _read_through(then: Log) -> None:
    then.roster()
    then.matter_events()
    stamps = [version.put_at for version in then.versions()]
    unread = then.unreadable()
    for kept in then.each_recording():
        if kept.id in unread:
            continue
        stamps += [at for at, _ in then.stamped_events(kept.id)]
    for stamp in stamps:
        if not COMMIT_TIME_PATTERN.fullmatch(stamp):
            raise ValueError(f"no time of commit: {stamp}")


def _incoming_recordings(
    bag: BagItArchive, then: Log, unread: Collection[str]
) -> Iterator[IncomingRecording]:
    for kept in then.each_recording():
        if kept.id in unread:
            continue
        name = kept.sound
        if name is not None and not sound_files.NAME.fullmatch(name):
            name = None
        if name is not None and then.locked:
            name = f"{LOCKED_FOLDER}/{Path(name).name}"
        if name not in bag.names:
            name = None
        yield IncomingRecording(
            kept.model_copy(update={"sound": None}),
            then.stamped_events(kept.id),
            _lent(bag, name, known_key(then.folder)),
            whole=True,
        )


def _lent(
    bag: BagItArchive, name: str | None, key: bytes | None
) -> Callable[[], AbstractContextManager[Path | None]]:
    @contextmanager
    def lent() -> Iterator[Path | None]:
        if name is None:
            yield None
            return
        with _alike_folder(key) as folder:
            path = folder / LOCKED_FOLDER / Path(name).name
            _unpack(bag, name, path)
            yield path

    return lent


def _take_growing(log: Log, bag: BagItArchive, locked: bool, folder: Path) -> None:
    """Sound of live sessions that were under way, where they are not complete here either.
    `locked`: as it lies in the bag; `folder`: of the bag's own, for what is needed meanwhile."""
    half = {one.id for one in log.each_recording() if not one.complete}
    place = f"{LOCKED_FOLDER}/live" if locked else _LIVE
    for name in bag.names:
        path = log.live_folder / Path(name).name
        if name == f"{place}/{path.name}" and path.stem in half and not path.exists():
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            still = folder / LOCKED_FOLDER / path.name
            _unpack(bag, name, still)
            part = path.with_suffix(".part")
            sound_files.copy_bytes(still, part)
            part.replace(path)
            still.unlink()


def _take_settings(log: Log, bag: BagItArchive, settings: Path) -> None:
    """Put the settings file in its place. Raises SettingsError when it is not a good one."""
    with translate_errors(settings):
        part = settings.with_name(f"{settings.name}.part")
        try:
            _unpack(bag, "settings.toml", part)
            load_settings(part, [dog.name for dog in log.roster().dogs])
            part.replace(settings)
        finally:
            part.unlink(missing_ok=True)


@contextmanager
def _alike_folder(key: bytes | None) -> Iterator[Path]:
    """A folder for a while, for a database and, in `LOCKED_FOLDER`, sound, both by that key."""
    with tempfile.TemporaryDirectory(prefix="voicelog-") as name:
        folder = Path(name)
        (folder / LOCKED_FOLDER).mkdir()
        note_log_key(folder, key)
        try:
            yield folder
        finally:
            note_log_key(folder, None)


def _unlock(path: Path, folder: Path, ours: bytes | None) -> None:
    """Make the database of a backup readable: by the key of the log here, or its passphrase.

    Raises:
        LogLockedError, WrongPassphraseError: there is no passphrase, or it is another.
    """
    if ours is not None:
        note_log_key(folder, ours)
        try:
            with closing(connect_database(folder / _DATABASE)) as connection:
                connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
                return
        except driver_errors():
            pass  # it was locked by another key
    try:
        key = open_key_file(folder / KEY_FILE, passphrase_for(path))
    except WrongPassphraseError as error:
        raise WrongPassphraseError(path) from error
    note_log_key(folder, key)


def _unpack(bag: BagItArchive, name: str, path: Path) -> None:
    with translate_errors(path), path.open("wb") as file:
        path.chmod(0o600)  # nobody else's business
        for chunk in bag.chunks(name):
            file.write(chunk)
