"""What the commands of the lock say."""

from __future__ import annotations

from pathlib import Path

from voicelog.report.words import clean
from voicelog.store.log_lock import LockState

__all__ = [
    "CLOSED_AT_PAGE",
    "KEYRING_FORGOT",
    "KEYRING_HAD_NOT",
    "LOG_CLOSED",
    "LOST",
    "NOT_THE_SAME",
    "PASSPHRASE_CHANGED",
    "WRONG_AT_PAGE",
    "changing_words",
    "keyring_opens_words",
    "locked_words",
    "opened_words",
    "private_words",
    "situation_words",
]

LOST = (
    "Without the passphrase nobody can read the log again, you included: write it down, and keep "
    "it apart from this computer."
)
WRONG_AT_PAGE = "The log does not open with that passphrase: type it again."
NOT_THE_SAME = "Found two different passphrases, wanted the same twice; type both again."
PASSPHRASE_CHANGED = "The passphrase is changed; backups made before keep the old one."
KEYRING_FORGOT = "The keyring has forgotten it."
KEYRING_HAD_NOT = "The keyring did not have it."
CLOSED_AT_PAGE = "The log stays locked. Start voicelog again to open it."
LOG_CLOSED = "The log is closed now: load this page again, and type the passphrase where it asks."
_OLDER = (
    "Backups, bundles and exports that were made before, and what the disk still holds of "
    "deleted files, are not changed by this."
)


def locked_words(folder: Path) -> str:
    """After a log was locked."""
    return f"{clean(str(folder))} is locked: entries, sound, and every backup from now on. {_OLDER}"


def changing_words(done: int, total: int) -> str:
    """How far a change of the lock is: files `done`, and of how many (0: not known yet)."""
    return f"{done} of {total} files are done." if total else "The log is being closed."


def keyring_opens_words(folder: Path) -> str:
    """After the system's keyring took the key."""
    return f"The system's keyring opens {clean(str(folder))} from now on."


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
