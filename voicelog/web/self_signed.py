"""Certificates that nobody but themselves signs: made, read, and told apart."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

__all__ = ["fingerprint", "make", "names", "read"]


def read(path: Path) -> x509.Certificate:
    """The certificate in a PEM file.

    Raises:
        OSError: the file cannot be read.
        ValueError: it holds no certificate.
    """
    return x509.load_pem_x509_certificate(path.read_bytes())


def names(found: x509.Certificate) -> list[str]:
    """The hosts and addresses that a certificate is for, sorted."""
    given = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return sorted(str(name.value) for name in given)


def fingerprint(found: x509.Certificate) -> str:
    """The SHA-256 of a certificate, as browsers show it: pairs of digits with colons between."""
    return found.fingerprint(hashes.SHA256()).hex(":").upper()


def make(
    path: Path, key_path: Path, hosts: Sequence[str], now: datetime, until: datetime
) -> x509.Certificate:
    """Make a certificate for hosts and addresses, good from a day before `now`, and its key.

    Both are written as PEM, the key for this user only.

    Raises:
        OSError: a file cannot be written.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "voicelog review")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(until)
        .add_extension(x509.SubjectAlternativeName([_general(host) for host in hosts]), False)
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
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
