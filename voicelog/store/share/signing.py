"""Each device signs what it writes into a share that asks for it: Ed25519 (RFC 8032).

A device's private key lies beside the log for its user alone, or, where the log is locked, with it.
A key is known to people by its fingerprint, five groups of four digits of its SHA-256 (80 bits).
The key of the device that began the share is in the share's own name, which every device remembers,
so that no file in the folder can put another in its place.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from pydantic import Field

from voicelog.audio.locked_files import open_bytes, write_bytes
from voicelog.model import FrozenModel, UsageError
from voicelog.store.database import sync_file
from voicelog.store.errors import translate_errors
from voicelog.store.log_lock import KEYS_FOLDER, work_folder

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

__all__ = [
    "DeviceKey",
    "KeySeal",
    "PublicKey",
    "SegmentSeals",
    "fingerprint",
    "holds",
    "is_signed_kennel",
    "kennel_of",
    "own_key",
    "same_fingerprint",
]

_FILE = "signing.key"
_GROUPS, _DIGITS = 5, 4

PublicKey = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
"""The 32 bytes of a public key, in hexadecimal."""


class KeySeal(FrozenModel):
    """A signature and the public key that it is of, in hexadecimal."""

    key: PublicKey
    signature: Annotated[str, Field(pattern="^[0-9a-f]{128}$")]


class SegmentSeals(FrozenModel):
    """Who signed a segment: its author, for its id; and who wrote this file of it, for every byte
    of its text, whose SHA-256 is `text`. A device that hands on another's segment is its writer."""

    author: KeySeal
    writer: KeySeal
    text: Annotated[str, Field(pattern="^[0-9a-f]{64}$")] = ""


@dataclass(frozen=True, slots=True)
class DeviceKey:
    """A device's own key; `public` is what others know it by."""

    public: str
    _private: Ed25519PrivateKey = field(repr=False, compare=False)

    def seal(self, message: str) -> KeySeal:
        """Sign a message."""
        return KeySeal(key=self.public, signature=self._private.sign(message.encode()).hex())


class _NoSignLibraryError(UsageError):
    """What signs is not installed."""

    def __init__(self) -> None:
        super().__init__(
            "Found no library for signatures (cryptography), wanted it for a signed share; install "
            "it with: pip install 'voicelog[lock]'"
        )


def own_key(log_folder: Path) -> DeviceKey:
    """The key of the device whose log is in a folder; it is made where there is none.

    Raises:
        UsageError: the library is not installed, or the key's file is damaged.
        LogError: as the disk refuses.
    """
    try:
        # An extra, and of use in a signed share alone.
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    except ImportError as error:
        raise _NoSignLibraryError from error
    folder = work_folder(log_folder) / KEYS_FOLDER
    path = folder / _FILE
    with translate_errors(path):
        if path.exists():
            with open_bytes(path) as file:
                secret = file.readall()
        else:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            secret = Ed25519PrivateKey.generate().private_bytes_raw()
            part = path.with_name(f"{path.name}.part")
            part.unlink(missing_ok=True)
            part.touch(mode=0o600)
            with write_bytes(part) as out:
                out.write(secret)
            sync_file(part)
            part.replace(path)
    if len(secret) != 32:
        raise UsageError(
            f"Found {path} damaged, wanted this device's signing key; move it away, and let the "
            "first device allow the new key that is made then."
        )
    private = Ed25519PrivateKey.from_private_bytes(secret)
    return DeviceKey(private.public_key().public_bytes_raw().hex(), private)


def holds(seal: KeySeal, message: str) -> bool:
    """Whether a message was signed by the key that a seal names."""
    try:
        # As above.
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError as error:
        raise _NoSignLibraryError from error
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(seal.key))
        key.verify(bytes.fromhex(seal.signature), message.encode())
    except (InvalidSignature, ValueError):
        return False
    return True


def kennel_of(first: str) -> str:
    """The name of the share that the device with the public key `first` began."""
    return hashlib.sha256(bytes.fromhex(first)).hexdigest()


def is_signed_kennel(kennel: str) -> bool:
    """Whether a share of that name is signed; other shares have shorter names."""
    return len(kennel) == 64


def fingerprint(key: str) -> str:
    """By what people know a public key, as "1f0c-93ab-..."; `key` in hexadecimal."""
    digits = kennel_of(key)
    return "-".join(digits[at : at + _DIGITS] for at in range(0, _GROUPS * _DIGITS, _DIGITS))


def same_fingerprint(typed: str, key: str) -> bool:
    """Whether a fingerprint as typed, with any signs between its digits, is that of a key."""
    digits = "".join(one for one in typed.casefold() if one in "0123456789abcdef")
    return digits == fingerprint(key).replace("-", "")
