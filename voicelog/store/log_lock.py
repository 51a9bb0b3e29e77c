"""The lock of a log: one random key for all of it on the disk, and the passphrase that opens that.

The key is made once and never changes. It lies in `key.locked`, a file that the passphrase opens
(scrypt, then SQLCipher); so a new passphrase writes that file anew and nothing else. The same file
is called `key.locking` while the log is being locked and `key.opening` while its lock is being
taken off; what is on its way is finished when the log is next opened.

The key comes, in this order, from what this program has asked before, from VOICELOG_PASSPHRASE,
from the system's keyring where the log is remembered there, or from whoever is asked.
"""

from __future__ import annotations

import os
import secrets
import shutil
import threading
from collections.abc import Callable
from enum import Enum
from pathlib import Path

from voicelog.audio.locked_files import (
    KEY_BYTES,
    LockedFile,
    folder_key,
    forget_folder_key,
    note_folder_key,
    passphrase_key,
    salt_of,
)
from voicelog.store.database import LOCKED_FOLDER, sync_file, sync_folder
from voicelog.store.errors import LogError, translate_errors

__all__ = [
    "BUNDLE_PASSPHRASE",
    "INCOMING_FOLDER",
    "KEYS_FOLDER",
    "KEY_FILE",
    "LOCKING_FILE",
    "NEW_PASSPHRASE",
    "OPENING_FILE",
    "OUTGOING_FOLDER",
    "PASSPHRASE",
    "PHONE_FOLDER",
    "LockState",
    "LogLockedError",
    "PassphraseSource",
    "ShortPassphraseError",
    "WrongPassphraseError",
    "ask_passphrase_with",
    "check_length",
    "forget_in_keyring",
    "is_in_keyring",
    "known_key",
    "lock_alike",
    "lock_state",
    "needs_passphrase",
    "new_key",
    "note_log_key",
    "open_key_file",
    "passphrase_environment",
    "passphrase_for",
    "remember_in_keyring",
    "unlock",
    "unlock_with",
    "work_folder",
    "write_key_file",
]

KEY_FILE = "key.locked"
LOCKING_FILE = "key.locking"
INCOMING_FOLDER = "incoming"
"""Folder of files that the page receives, see `work_folder`."""
PHONE_FOLDER = "phone"
"""Folder of sound that phones send."""
KEYS_FOLDER = "keys"
"""Folder of the key by which this device signs, see `voicelog.store.share.signing`."""
OUTGOING_FOLDER = "outgoing"
"""Folder of what the page is sending."""
OPENING_FILE = "key.opening"
PASSPHRASE = "VOICELOG_PASSPHRASE"
"""Variable of the environment with the passphrase, for who cannot be asked."""
BUNDLE_PASSPHRASE = "VOICELOG_BUNDLE_PASSPHRASE"
"""The same for a bundle: it is told to whoever gets it, so it is another one."""
NEW_PASSPHRASE = "VOICELOG_NEW_PASSPHRASE"
"""The same for the passphrase that takes its place."""
SHORTEST = 12
"""Characters of a passphrase, at least (common practice, no source)."""
_SERVICE = "voicelog"
_SALT_BYTES = 16

PassphraseSource = Callable[[Path], str | None]
"""The folder of a log, or a locked file -> its passphrase; None where nobody can be asked."""


class LockState(Enum):
    """How a log lies on the disk."""

    PLAIN = "plain"
    LOCKED = "locked"
    LOCKING = "locking"
    """On its way to be locked."""
    OPENING = "opening"
    """Its lock is being taken off."""


_FILES = {
    LockState.LOCKED: KEY_FILE,
    LockState.LOCKING: LOCKING_FILE,
    LockState.OPENING: OPENING_FILE,
}


class LogLockedError(LogError):
    """A locked log, and no passphrase for it."""

    def __init__(self, place: Path, variable: str) -> None:
        or_else = "; or run 'voicelog lock remember' once where it can be typed"
        super().__init__(
            f"{place} is locked and nobody could be asked for its passphrase: set {variable}"
            f"{or_else if variable == PASSPHRASE else ''}."
        )
        self.place = place


class WrongPassphraseError(LogError):
    """It does not open what it is for."""

    def __init__(self, place: Path) -> None:
        super().__init__(
            f"{place} does not open with that passphrase: type it again, or set the right one "
            f"where the environment gives it ({PASSPHRASE}, {BUNDLE_PASSPHRASE})."
        )
        self.place = place


class ShortPassphraseError(LogError):
    """Too short to keep anybody out."""

    def __init__(self) -> None:
        super().__init__(
            f"Found a passphrase of less than {SHORTEST} characters, wanted more, since a "
            "thief of the disk may try as many as there are: take four words."
        )


def _nobody(_place: Path) -> str | None:
    return None


_source: PassphraseSource = _nobody
_said: dict[Path, str] = {}
_asking = threading.Lock()


def ask_passphrase_with(source: PassphraseSource) -> None:
    """Let `source` be asked for passphrases that are known from nowhere else."""
    global _source  # one face is at work in a program
    _source = source


def lock_state(folder: Path) -> LockState:
    """How the log in a folder lies there."""
    for state, name in _FILES.items():
        if (folder / name).exists():
            return state
    return LockState.PLAIN


def known_key(folder: Path) -> bytes | None:
    """The key of the log in a folder, None where it has none, or is not unlocked."""
    return folder_key(folder / LOCKED_FOLDER)


def work_folder(folder: Path) -> Path:
    """Where whoever works with the log in a folder keeps what it needs beside the log's own: there,
    or, of a locked log, in a folder of locked files (`voicelog.audio.locked_files`)."""
    return folder if known_key(folder) is None else folder / LOCKED_FOLDER


def note_log_key(folder: Path, key: bytes | None) -> None:
    """Say by which key the log in a folder is read from now on; None: it is not locked."""
    if key is None:
        forget_folder_key(folder / LOCKED_FOLDER)
    else:
        note_folder_key(folder / LOCKED_FOLDER, key)


def unlock(folder: Path) -> bytes | None:
    """Make the log in a folder readable, where it is locked; its key, None where it is plain.

    Raises:
        LogLockedError: nobody could be asked.
        WrongPassphraseError: what was said does not open it.
    """
    state = lock_state(folder)
    if state is LockState.PLAIN:
        note_log_key(folder, None)
        return None
    with _asking:
        key = known_key(folder)
        if key is None:
            file = folder / _FILES[state]
            key = _from_keyring(file) if PASSPHRASE not in os.environ else None
            if key is None:
                key = open_key_file(file, passphrase_for(folder))
            note_log_key(folder, key)
    return key


def needs_passphrase(folder: Path) -> bool:
    """Whether the log in a folder is locked and nothing but a person can open it now: no key is
    known, none is in the system's keyring, and the environment has no passphrase."""
    state = lock_state(folder)
    if state is LockState.PLAIN or known_key(folder) is not None or os.environ.get(PASSPHRASE):
        return False
    return _from_keyring(folder / _FILES[state]) is None


def unlock_with(folder: Path, passphrase: str) -> None:
    """Make the log in a folder readable by a passphrase that was typed.

    Raises:
        WrongPassphraseError: it does not open it; nothing is remembered.
    """
    state = lock_state(folder)
    if state is LockState.PLAIN:
        return
    with _asking:
        note_log_key(folder, open_key_file(folder / _FILES[state], passphrase))
        _said[folder] = passphrase


def passphrase_for(place: Path, variable: str = PASSPHRASE) -> str:
    """The passphrase of a log's folder, or of a locked file: from a variable of the environment,
    or from whoever can be asked. Raises LogLockedError."""
    said = os.environ.get(variable) or _source(place)
    if not said:
        raise LogLockedError(place, variable)
    if variable == PASSPHRASE:
        _said[place] = said
    return said


def passphrase_environment(folder: Path) -> dict[str, str]:
    """What a program needs in its environment to open the log in a folder as this one did; nothing
    where it needs nothing, or has it."""
    return {PASSPHRASE: _said[folder]} if folder in _said else {}


def lock_alike(folder: Path, other: Path) -> None:
    """Lock a log that is not there yet, in the folder `other`, as that of `folder` is."""
    other.mkdir(mode=0o700)
    shutil.copyfile(folder / KEY_FILE, other / KEY_FILE)
    note_log_key(other, known_key(folder))


def new_key() -> bytes:
    """A key that nobody can guess."""
    return secrets.token_bytes(KEY_BYTES)


def check_length(passphrase: str) -> None:
    """Raises ShortPassphraseError where it would keep nobody out."""
    if len(passphrase) < SHORTEST:
        raise ShortPassphraseError


def write_key_file(file: Path, key: bytes, passphrase: str) -> None:
    """Write a key so that a passphrase opens it: the file is there whole, or as it was.

    Raises:
        ShortPassphraseError: it would keep nobody out.
        LogPermissionError, DiskFullError, FileAccessError: as the disk refuses.
    """
    check_length(passphrase)
    part = file.with_name(f"{file.name}.part")
    salt = secrets.token_bytes(_SALT_BYTES)
    with translate_errors(file):
        with LockedFile(part, passphrase_key(passphrase, salt) + salt, "new") as out:
            out.write(key)
        sync_file(part)
        part.replace(file)
        sync_folder(file.parent)


def open_key_file(file: Path, passphrase: str) -> bytes:
    """The key in a key file.

    Raises:
        WrongPassphraseError: the passphrase does not open it, or the file is damaged.
        FileAccessError: it cannot be read.
    """
    with translate_errors(file):
        salt = salt_of(file)
    try:
        with LockedFile(file, passphrase_key(passphrase, salt)) as kept:
            key = kept.readall()
    except OSError as error:
        raise WrongPassphraseError(file.parent) from error
    if len(key) != KEY_BYTES:
        raise WrongPassphraseError(file.parent)
    return key


# --- the system's keyring ---------------------------------------------------------------


def remember_in_keyring(folder: Path, key: bytes) -> str | None:
    """Put a log's key into the system's keyring; why that could not be, else None."""
    try:
        # Of an extra, and slow to load.
        import keyring

        keyring.set_password(_SERVICE, _name(folder / KEY_FILE), key.hex())
        return None if is_in_keyring(folder) else "it does not keep what it is given"
    except Exception as error:  # whatever the system's own keyring raises
        return str(error).splitlines()[0].rstrip(".") if str(error) else type(error).__name__


def forget_in_keyring(folder: Path) -> bool:
    """Take a log's key out of the system's keyring; whether it was there."""
    try:
        import keyring  # as above

        keyring.delete_password(_SERVICE, _name(folder / KEY_FILE))
    except Exception:  # there is none, or it has no such key
        return False
    return True


def is_in_keyring(folder: Path) -> bool:
    """Whether the system's keyring has the key of the log in a folder."""
    return _from_keyring(folder / KEY_FILE) is not None


def _from_keyring(file: Path) -> bytes | None:
    try:
        import keyring  # as above

        said = keyring.get_password(_SERVICE, _name(file))
        return None if said is None else bytes.fromhex(said)
    except Exception:  # there is none, or it does not open: then somebody is asked
        return None


def _name(file: Path) -> str:
    return salt_of(file).hex()
