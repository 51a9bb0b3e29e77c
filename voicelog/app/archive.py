"""The log as files: a backup of all of it, and bundles, which hand a dog's sessions over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from voicelog.app.open_log import SETTINGS_NAME, open_log
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import parts_of_sessions, sessions_of_dog
from voicelog.model import UsageError, VoicelogError
from voicelog.report.merge_words import left_out_words, merged_words
from voicelog.report.words import date_words
from voicelog.store import Log
from voicelog.store.backup import (
    BackupResult,
    is_locked_backup,
    restore,
    take_key_file,
    write_backup,
)
from voicelog.store.backup_proof import note_backup
from voicelog.store.bagit import LOCKED_SUFFIX
from voicelog.store.bundle import BundleResult, merge_bundle, write_bundle
from voicelog.store.errors import LogError
from voicelog.store.folder import default_folder, ready_folder
from voicelog.store.log_lock import (
    BUNDLE_PASSPHRASE,
    KEY_FILE,
    LockState,
    lock_state,
    passphrase_for,
)
from voicelog.store.merge import MergeResult

__all__ = [
    "WrittenBundle",
    "backup_log",
    "export_bundle",
    "import_bundle",
    "make_folder",
    "open_log_for_restore",
    "restore_log",
    "saved_copy",
]


@dataclass(frozen=True, slots=True)
class WrittenBundle:
    """A bundle as it was written."""

    path: Path
    dog: str
    sessions: int
    content: BundleResult


def backup_log(
    log: Log,
    file: Path | None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> tuple[Path, BackupResult]:
    """Write the whole log as one file: entries, sound and settings.

    Args:
        file: the file, or a folder for it; None: a file named for this moment, in the folder
            in which the program runs.
        progress: is told how many recordings are written, and of how many.

    Returns:
        The file, and what it holds.

    Raises:
        UsageError: the file is there already.
        LogError: as the disk refuses.
    """
    name = f"voicelog-backup-{log.now():%Y%m%d-%H%M%S}.zip"
    path = Path(name) if file is None else file / name if file.is_dir() else file
    if path.exists():
        raise UsageError(f"Found {path} there already; name another file for the backup.")
    saved = _write(log, path, progress)
    note_backup(log, path)
    return path, saved


def _write(log: Log, path: Path, progress: Callable[[int, int], None]) -> BackupResult:
    settings = log.folder / SETTINGS_NAME
    return write_backup(log, path, settings if settings.is_file() else None, progress)


def saved_copy(log: Log, folder: Path) -> Path:
    """Write a backup into a `folder` from which it is taken elsewhere at once, and return its file.

    It is not noted as a backup to be proven, since nobody can say where it will be.

    Raises:
        LogError: as the disk refuses.
    """
    path = folder / f"voicelog-backup-{log.now():%Y%m%d-%H%M%S}.zip"
    _write(log, path, lambda done, total: None)
    return path


def restore_log(log: Log, file: Path) -> tuple[MergeResult, bool]:
    """Take a backup into a log, which may be empty or have gone on since.

    Returns:
        What came of it, and whether the settings in it were taken.

    Raises:
        BagItError: the file is not whole, not safe, or no backup; nothing was taken.
        LogError: as the disk refuses.
    """
    return restore(log, file, log.folder / SETTINGS_NAME, SessionCatalog(log).trial)


def open_log_for_restore(data_dir: Path | None, file: Path) -> Log:
    """Open the log that a backup goes into; one that is not there yet is locked as the backup's.

    Raises:
        BagItError: the file is not whole, not safe, or no backup.
        LogError: the log, or the backup, cannot be opened.
    """
    folder = ready_folder(data_dir or default_folder())
    if (folder / "log.sqlite3").exists() or lock_state(folder) is not LockState.PLAIN:
        return open_log(folder)
    if not is_locked_backup(file):
        return open_log(folder)
    take_key_file(file, folder)
    try:
        return open_log(folder)
    except LogError:
        (folder / KEY_FILE).unlink()
        raise


def export_bundle(
    catalog: SessionCatalog,
    folder: Path,
    dog: str,
    day: date | None = None,
    passphrase: str | None = None,
) -> WrittenBundle:
    """Write a dog's sessions, of one day or all, as one file into a folder, made where missing;
    with a `passphrase`, so that only that opens it.

    Raises:
        VoicelogError: the dog has no such session, or the folder cannot be made.
        LogError: as the disk refuses.
    """
    rows = sessions_of_dog(catalog, dog, day)
    if not rows:
        raise VoicelogError(
            f"There is no session of '{dog}'{f' on {date_words(day)}' if day else ''}; see "
            "'voicelog summary --all'."
        )
    make_folder(folder)
    name = rows[0].dog or dog
    suffix = ".zip" if passphrase is None else LOCKED_SUFFIX
    path = folder / f"{_file_name(name)}{f'-{day}' if day else ''}{suffix}"
    parts = parts_of_sessions(catalog, {row.key for row in rows})
    packed = write_bundle(catalog.log, path, parts, [name], passphrase)
    return WrittenBundle(path, name, len(rows), packed)


def import_bundle(log: Log, path: Path) -> MergeResult:
    """Take a bundle into a log, all of it; a passphrase that it has is asked for.

    Raises:
        LogLockedError, WrongPassphraseError: it is locked.
        BagItError: the file is not whole, not safe, or no bundle; nothing was taken.
        VoicelogError: something of it was left out, which is named with its reason.
    """
    said = passphrase_for(path, BUNDLE_PASSPHRASE) if path.suffix == LOCKED_SUFFIX else None
    done = merge_bundle(log, path, SessionCatalog(log).trial, said)
    if done.left_out:
        raise VoicelogError(f"{path.name}: {merged_words(done)} {left_out_words(done, path)}")
    return done


def make_folder(folder: Path) -> None:
    """Make a folder to write to, where it is not there.

    Raises:
        VoicelogError: it cannot be made.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)  # what goes into it is private
    except OSError as error:
        raise VoicelogError(
            f"Found no way to make the folder '{folder}' ({error.strerror}); name another."
        ) from error


def _file_name(name: str) -> str:
    """A name as part of a file name."""
    return "".join(c if c.isalnum() else "-" for c in name.casefold()).strip("-") or "dog"
