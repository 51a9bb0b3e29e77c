"""A certificate of the log's own, so that nobody on the network can read along.

It is signed by nobody but itself: a browser will warn once, and its fingerprint is shown to be
compared. The key can be read by this user only.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path

from voicelog.model import UsageError, VoicelogError
from voicelog.report.words import day

__all__ = ["Certificate", "certificate"]

VALID = timedelta(days=398)


class Certificate:
    """Files of a certificate and its key, and the certificate's SHA-256 fingerprint."""

    def __init__(self, path: Path, key: Path, fingerprint: str) -> None:
        self.path, self.key, self.fingerprint = path, key, fingerprint


def certificate(folder: Path, names: Iterable[str], now: datetime) -> Certificate:
    """The certificate in `folder`, made anew when missing, nearly over or for other names.

    Raises:
        UsageError: the `cryptography` library is not installed.
        VoicelogError: the folder cannot be written.
    """
    try:
        # An extra is needed for it, which a page for this machine alone does without.
        from voicelog.web import self_signed
    except ImportError as error:
        raise UsageError(
            "Found no 'cryptography' library, wanted it to encrypt the page on the network; "
            "install it: pip install 'voicelog[review]'."
        ) from error
    path, key = folder / "review-cert.pem", folder / "review-key.pem"
    wanted = sorted(set(names))
    try:
        found = self_signed.read(path) if key.exists() else None
    except (OSError, ValueError):
        found = None
    if (
        found is None
        or self_signed.names(found) != wanted
        or found.not_valid_after_utc < now + timedelta(7)
    ):
        try:
            found = self_signed.make(path, key, wanted, now, now + VALID)
        except OSError as error:
            raise VoicelogError(
                f"Found no way to write {path} ({error.strerror}) on {day(now)}, wanted a place "
                "for the page's certificate; give write access to the log's folder."
            ) from error
    return Certificate(path, key, self_signed.fingerprint(found))
