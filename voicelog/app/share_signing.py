"""Sign an existing share: from then on files count only if an allowed device signed them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share import ShareResult, share_now
from voicelog.app.share_trust import SignedState, check_first, not_as_signed, opened
from voicelog.model import UsageError
from voicelog.store.share.admission import introduce
from voicelog.store.share.exchange import first_of, remember_first, repair
from voicelog.store.share.signing import fingerprint, is_signed_kennel, own_key

__all__ = ["SignResult", "sign_share"]


@dataclass(frozen=True, slots=True)
class SignResult:
    """What came of signing a share that was there: who may write now; of this device and of others
    the files that it signed; and, on the device that signed first, what it took in before."""

    state: SignedState
    own: int
    others: int
    before: ShareResult | None


def sign_share(
    catalog: SessionCatalog,
    first: str | None = None,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> SignResult:
    """Sign an existing share: from now on files count only if an allowed device signed them.

    The device that begins with it takes in what has come, and signs all that its log has then: that
    counts. What lies in the folder unsigned besides is set aside until its own device signs too.

    Args:
        catalog: that of the log.
        first: None on the device that begins with it and is to allow the others; elsewhere the
            fingerprint of that device's key, as its screen shows it.
        progress: as of `share_now`.

    Raises:
        UsageError: the log is not shared, the share was signed from the start, another device has
            begun with it, or `first` is not its key.
        LogError: as the disk refuses; run again, it goes on.
    """
    log = catalog.log
    author, place = opened(log)
    if is_signed_kennel(place.kennel):
        raise UsageError(
            "Found a share that is signed since it began, wanted one that is not; see 'voicelog "
            "share status'."
        )
    before = None
    if first is None:
        key = own_key(log.folder)
        if {place.first, first_of(log, place.kennel)} - {None, key.public}:
            raise UsageError(
                "Found a share that another device signed, wanted the key of that one, which "
                "'voicelog share status' shows there; add it with --first KEY."
            )
        if place.first is None and first_of(log, place.kennel) is None:
            before = share_now(catalog, progress)
            author = opened(log)[0]
        place = place.sign(key.public, key)
    elif place.first is None:
        raise UsageError(
            f"Found no signature in {place.folder} yet, wanted that of the key that --first "
            "speaks of; wait until the folder is in step."
        )
    else:
        check_first(place, first, signed=True)
        if first_of(log, place.kennel) not in (None, place.first):
            raise not_as_signed(place)
    assert place.first is not None
    assert place.key is not None
    fresh = first_of(log, place.kennel) is None
    remember_first(log, place.first)
    if fresh and place.key.public != place.first:
        introduce(log, place.key.public, author.name)
    own, others = repair(log, place, author)
    state = SignedState(fingerprint(place.first), fingerprint(place.key.public), ())
    return SignResult(state, own, others, before)
