"""Which share a log is in, and whose signatures count there: what the folder says of itself is not
believed, but what a person said on this device.

A share that was signed from the start has the first device's key in its name. One that was signed
later has not: there this log remembers the key, and a folder that says otherwise is refused.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from voicelog.model import UsageError
from voicelog.store import Log
from voicelog.store.share.admission import KeyState, allow_key, key_states
from voicelog.store.share.exchange import author_of, first_of
from voicelog.store.share.outbox import Author
from voicelog.store.share.place import SharePlace
from voicelog.store.share.signing import fingerprint, is_signed_kennel, same_fingerprint

__all__ = [
    "SignedSinceError",
    "SignedState",
    "allow_device",
    "carry_signature",
    "check_first",
    "joined",
    "not_as_signed",
    "not_shared",
    "opened",
    "signed_state",
]


@dataclass(frozen=True, slots=True)
class SignedState:
    """Who may write in a signed share: the fingerprints of the first device's key and of this
    device's own, and what is known of all keys but the first."""

    first: str
    own: str
    keys: tuple[KeyState, ...]


class SignedSinceError(UsageError):
    """The share was signed after this log had joined it, and nobody has said so here."""


def joined(log: Log) -> tuple[Author, SharePlace]:
    """The share of a log, signed by whom a person here said that it is.

    Raises:
        SignedSinceError: the folder is signed, and nobody here has said so.
        UsageError: as `opened`, or the signature is not what it was.
    """
    author, place = opened(log)
    if is_signed_kennel(place.kennel) or place.first == (held := first_of(log, place.kennel)):
        return author, place
    if held is not None:
        raise not_as_signed(place)
    raise SignedSinceError(
        f"Found the share in {place.folder} signed by one of its devices since, wanted a person to "
        "say that this is right; take the key from that device's screen and run 'voicelog share "
        "sign --first KEY'."
    )


def not_as_signed(place: SharePlace) -> UsageError:
    """What is said of a folder that says other than was said here: `place` is it."""
    return UsageError(
        f"Found {place.folder / 'kennel.json'} without the signature that this log knows, wanted "
        "it as it was; find out who changed it, and run 'voicelog share sign' on the device that "
        "signed the share, which writes it again."
    )


def carry_signature(place: SharePlace, other: SharePlace) -> None:
    """Bring it to the other copy of the share's folder that the share is signed, or back."""
    if place.first == other.first:
        return
    if place.first is not None and other.first is not None:
        raise UsageError(
            f"Found the share in {other.folder} signed by another first device than the one in "
            f"{place.folder}, wanted one and the same; find out who changed it."
        )
    source, target = (place, other) if other.first is None else (other, place)
    if source.first is not None and source.key is not None:
        target.sign(source.first, source.key)


def opened(log: Log) -> tuple[Author, SharePlace]:
    """The share of a log as its folder is, whoever signed that; for `joined`, and for who signs.

    Raises:
        UsageError: the log is not shared, or the folder is not there or is another kennel's.
    """
    known = author_of(log)
    if known is None:
        raise not_shared()
    author, folder = known
    place = SharePlace.open(Path(folder), log.folder, make=False)
    if place.kennel != author.kennel:
        raise UsageError(
            f"Found the share of another kennel in {folder}, wanted the one that was joined; put "
            "it back, or run 'voicelog share leave'."
        )
    return author, place


def check_first(place: SharePlace, first: str | None, *, signed: bool) -> None:
    """Refuse a share that is there and is not the one that was meant."""
    if place.first is None:
        if first is not None or signed:
            raise UsageError(
                f"Found a share in {place.folder} that is not signed, wanted a signed one; if it "
                "was one before, somebody has changed it, else join it without that and run "
                "'voicelog share sign'."
            )
        return
    if place.key is not None and place.key.public == place.first:
        return
    if first is None:
        raise UsageError(
            f"Found a signed share in {place.folder}, wanted the key of the device that began it, "
            "which 'voicelog share status' shows there; add it with --first KEY."
        )
    if not same_fingerprint(first, place.first):
        raise UsageError(
            f"Found the share of another first device in {place.folder}, wanted that of the key "
            f"{first}; compare it with that device's screen, and do not join if it differs."
        )


def not_shared() -> UsageError:
    """What is said of a log that is not shared."""
    return UsageError(
        "Found a log that is not shared, wanted one that is; run 'voicelog share start FOLDER'."
    )


def signed_state(log: Log, place: SharePlace) -> SignedState | None:
    """Who may write in a share, None where it is not signed."""
    if place.first is None or place.key is None:
        return None
    first, own = fingerprint(place.first), fingerprint(place.key.public)
    return SignedState(first, own, key_states(log, place))


def allow_device(log: Log, typed: str, *, allowed: bool) -> KeyState:
    """Say, on the first device of a signed share, whether what another device signs counts.

    Args:
        log: the log of that device.
        typed: the fingerprint of the other device's key, as its screen shows it.
        allowed: it counts, or its key is withdrawn.

    Raises:
        UsageError: the log is not in a signed share, it is not its first device, or no such key has
            come.
        LogError: as the disk refuses.
    """
    _, place = joined(log)
    return allow_key(log, place, typed, allowed=allowed)
