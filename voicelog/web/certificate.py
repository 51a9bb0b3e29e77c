"""A certificate of the log's own, so that nobody on the network can read along.

It is signed by nobody but itself: a browser will warn once, and its fingerprint is shown to be
compared. The key can be read by this user only.
"""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog.model import UsageError, VoicelogError
from voicelog.report.words import day

if TYPE_CHECKING:
    from cryptography import x509

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
        from cryptography import x509
        from cryptography.hazmat.primitives import hashes
    except ImportError as error:
        raise UsageError(
            "Found no 'cryptography' library, wanted it to encrypt the page on the network; "
            "install it: pip install 'voicelog[review]'."
        ) from error
    path, key = folder / "review-cert.pem", folder / "review-key.pem"
    wanted = sorted(set(names))
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes()) if key.exists() else None
    except (OSError, ValueError):
        found = None
    if found is None or _names(found) != wanted or found.not_valid_after_utc < now + timedelta(7):
        try:
            found = _make(path, key, wanted, now)
        except OSError as error:
            raise VoicelogError(
                f"Found no way to write {path} ({error.strerror}) on {day(now)}, wanted a place "
                "for the page's certificate; give write access to the log's folder."
            ) from error
    digest = found.fingerprint(hashes.SHA256()).hex(":").upper()
    return Certificate(path, key, digest)


def _names(found: x509.Certificate) -> list[str]:
    from cryptography import x509

    names = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return sorted(str(name.value) for name in names)


def _make(path: Path, key_path: Path, names: list[str], now: datetime) -> x509.Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "voicelog review")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + VALID)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .sign(key, hashes.SHA256())
    )
    secret = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    key_path.unlink(missing_ok=True)
    with os.fdopen(os.open(key_path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(secret)
    path.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return made


def _general(name: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
