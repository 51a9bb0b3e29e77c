"""What the commands of the lock say."""

from __future__ import annotations

from pathlib import Path

from voicelog.report.words import clean
from voicelog.store.log_lock import LockState

__all__ = ["LOST", "locked_words", "opened_words", "private_words", "situation_words"]

LOST = (
    "Without the passphrase nobody can read the log again, you included: write it down, and keep "
    "it apart from this computer."
)
_OLDER = (
    "Backups, bundles and exports that were made before, and what the disk still holds of "
    "deleted files, are not changed by this."
)


def locked_words(folder: Path) -> str:
    """After a log was locked."""
    return f"{clean(str(folder))} is locked: entries, sound, and every backup from now on. {_OLDER}"


def opened_words(folder: Path) -> str:
    """After its lock was taken off."""
    return f"{clean(str(folder))} is not locked any more."


def situation_words(folder: Path, state: LockState, remembered: bool) -> str:
    """How a log lies on the disk."""
    place = clean(str(folder))
    match state:
        case LockState.PLAIN:
            return f"{place} is not locked: anyone who has the disk can read it."
        case LockState.OPENING:
            return f"The lock of {place} is being taken off; the next command finishes that."
        case LockState.LOCKING:
            return f"{place} is being locked; the next command finishes that."
        case LockState.LOCKED:
            how = "the system's keyring opens it" if remembered else "its passphrase opens it"
            return f"{place} is locked; {how}."


def private_words(place: Path) -> str:
    """That others could read the log until now."""
    return (
        f"{clean(str(place))} was open to other users of this computer; now only you can open it."
    )
