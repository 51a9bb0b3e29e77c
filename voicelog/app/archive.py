"""The log as files: a backup of all of it, and bundles, which hand a dog's sessions over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from voicelog.app.open_log import SETTINGS_NAME
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import parts_of_sessions, sessions_of_dog
from voicelog.model import UsageError, VoicelogError
from voicelog.report.merge_words import left_out_words, merged_words
from voicelog.store import Log
from voicelog.store.backup import BackupResult, restore, write_backup
from voicelog.store.backup_proof import note_backup
from voicelog.store.bundle import BundleResult, merge_bundle, write_bundle
from voicelog.store.merge import MergeResult

__all__ = [
    "WrittenBundle",
    "backup_log",
    "export_bundle",
    "import_bundle",
    "make_folder",
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


def export_bundle(
    catalog: SessionCatalog, folder: Path, dog: str, day: date | None = None
) -> WrittenBundle:
    """Write a dog's sessions, of one day or all, as one file into a folder, made where missing.

    Raises:
        VoicelogError: the dog has no such session, or the folder cannot be made.
        LogError: as the disk refuses.
    """
    rows = sessions_of_dog(catalog, dog, day)
    if not rows:
        raise VoicelogError(
            f"Found no session of '{dog}'{f' on {day}' if day else ''}; see "
            "'voicelog summary --all'."
        )
    make_folder(folder)
    name = rows[0].dog or dog
    path = folder / f"{_file_name(name)}{f'-{day}' if day else ''}.zip"
    parts = parts_of_sessions(catalog, {row.key for row in rows})
    return WrittenBundle(path, name, len(rows), write_bundle(catalog.log, path, parts, [name]))


def import_bundle(log: Log, path: Path) -> MergeResult:
    """Take a bundle into a log, all of it.

    Raises:
        BagItError: the file is not whole, not safe, or no bundle; nothing was taken.
        VoicelogError: something of it was left out, which is named with its reason.
    """
    done = merge_bundle(log, path, SessionCatalog(log).trial)
    if done.left_out:
        raise VoicelogError(f"{path.name}: {merged_words(done)} {left_out_words(done, path)}")
    return done


def make_folder(folder: Path) -> None:
    """Make a folder to write to, where it is not there.

    Raises:
        VoicelogError: it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise VoicelogError(
            f"Found no way to make the folder '{folder}' ({error.strerror}); name another."
        ) from error


def _file_name(name: str) -> str:
    """A name as part of a file name."""
    return "".join(c if c.isalnum() else "-" for c in name.casefold()).strip("-") or "dog"
