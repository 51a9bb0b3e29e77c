"""Lock the log that lies on this disk: its passphrase, and the keyring of the system."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicelog.audio.locked_files import locked_driver
from voicelog.model import UsageError
from voicelog.store import log_lock
from voicelog.store.errors import LogError
from voicelog.store.folder import default_folder, ready_folder
from voicelog.store.locking import lock_log, take_lock_off, unlock_and_finish
from voicelog.store.log_lock import (
    KEY_FILE,
    LockState,
    forget_in_keyring,
    is_in_keyring,
    lock_state,
    remember_in_keyring,
    unlock,
    write_key_file,
)

__all__ = [
    "KeyringFailedError",
    "LockSituation",
    "change_passphrase",
    "check_passphrase",
    "folder_to_lock",
    "forget_key",
    "lock_situation",
    "lock_whole_log",
    "needs_passphrase",
    "open_whole_log",
    "remember_key",
    "replace_passphrase",
    "unlock_with",
]

Told = Callable[[int, int], None]


class KeyringFailedError(LogError):
    """The system's keyring does not take a key."""

    def __init__(self, why: str) -> None:
        super().__init__(
            f"Found no keyring of the system that takes the key ({why}): type the passphrase each "
            "time, or set VOICELOG_PASSPHRASE for a service that nobody can be asked by."
        )
        self.why = why


@dataclass(frozen=True, slots=True)
class LockSituation:
    """How the log in a folder lies there, and whether the system's keyring opens it."""

    folder: Path
    state: LockState
    remembered: bool


def lock_situation(data_dir: Path | None) -> LockSituation:
    """Of the log in the folder given, or this user's own; nothing is opened or asked."""
    folder = (data_dir or default_folder()).expanduser().absolute()
    state = lock_state(folder)
    remembered = state is LockState.LOCKED and is_in_keyring(folder)
    return LockSituation(folder, state, remembered)


def folder_to_lock(data_dir: Path | None) -> Path:
    """The folder of a log that is not locked yet. Raises UsageError where it is."""
    folder = ready_folder(data_dir or default_folder())
    if lock_state(folder) is not LockState.PLAIN:
        raise UsageError(
            f"Found {folder} locked already; see 'voicelog lock state', or change the passphrase "
            "with 'voicelog lock passphrase'."
        )
    return folder


def lock_whole_log(folder: Path, passphrase: str, told: Told) -> None:
    """Lock a log: all that is in it, and all that will be. `told`: files done, and of how many.

    Raises:
        NoLockLibraryError, ShortPassphraseError, LogBusyError, LogError: it stays as it was.
    """
    lock_log(folder, passphrase, told)


def open_whole_log(data_dir: Path | None, told: Told) -> Path:
    """Take the lock off a log; whoever holds the passphrase may. `told` as above.

    Raises:
        UsageError: it is not locked.
        LogBusyError, LogError: as the disk or another program refuses.
    """
    folder = _locked_folder(data_dir)
    unlock_and_finish(folder)
    forget_in_keyring(folder)
    take_lock_off(folder, told)
    return folder


def change_passphrase(data_dir: Path | None, passphrase: Callable[[], str]) -> bool:
    """Give a log another passphrase, `passphrase`, which is asked for once the one that it has was
    said; whether the keyring still opens it.

    Raises:
        UsageError: it is not locked.
        WrongPassphraseError, ShortPassphraseError: it stays as it was.
    """
    folder = _locked_folder(data_dir)
    unlock_and_finish(folder)
    key = unlock(folder)
    if key is None:
        return False
    said = passphrase()
    remembered = forget_in_keyring(folder)
    write_key_file(folder / KEY_FILE, key, said)
    return remembered and remember_in_keyring(folder, key) is None


def needs_passphrase(folder: Path) -> bool:
    """Whether only a passphrase that a person types opens the log in a folder."""
    return log_lock.needs_passphrase(folder)


def unlock_with(folder: Path, passphrase: str) -> None:
    """Open a locked log by what was typed. Raises WrongPassphraseError; it stays locked."""
    log_lock.unlock_with(folder, passphrase)


def check_passphrase(passphrase: str) -> None:
    """Raises ShortPassphraseError where a new one would keep nobody out, and NoLockLibraryError
    where nothing here can lock."""
    locked_driver()
    log_lock.check_length(passphrase)


def replace_passphrase(folder: Path, old: str, new: str) -> None:
    """Give the locked log in a folder another passphrase, while it is open or not.

    Raises:
        WrongPassphraseError, ShortPassphraseError: it stays as it was.
    """
    file = _locked_folder(folder) / KEY_FILE
    key = log_lock.open_key_file(file, old)
    remembered = forget_in_keyring(folder)
    write_key_file(file, key, new)
    if remembered:
        remember_in_keyring(folder, key)
    log_lock.unlock_with(folder, new)


def remember_key(data_dir: Path | None) -> Path:
    """Let the system's keyring open a log, so that nobody is asked.

    Raises:
        UsageError: it is not locked.
        KeyringFailedError: there is no keyring that can.
    """
    folder = _locked_folder(data_dir)
    key = unlock(folder)
    why = None if key is None else remember_in_keyring(folder, key)
    if why is not None:
        raise KeyringFailedError(why)
    return folder


def forget_key(data_dir: Path | None) -> bool:
    """Take a log's key out of the system's keyring; whether it was there. Raises UsageError where
    the log is not locked."""
    return forget_in_keyring(_locked_folder(data_dir))


def _locked_folder(data_dir: Path | None) -> Path:
    folder = ready_folder(data_dir or default_folder())
    if lock_state(folder) is LockState.PLAIN:
        raise UsageError(f"Found {folder} not locked; lock it with 'voicelog lock on'.")
    return folder
