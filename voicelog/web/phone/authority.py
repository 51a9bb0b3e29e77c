"""An authority of this machine's own, which a phone can be brought to trust, and leaves under it.

A browser gives no microphone to a page whose certificate it does not trust. So the authority is
made once, and installed once on each phone; what the page shows is a leaf for the addresses of the
day, signed by it, good for a week and made anew at each start. Should the authority's key be
stolen, it can vouch for no site out there: it is constrained to private addresses and local names
(RFC 5280, 4.2.1.10; RFC 1918, RFC 3927, RFC 4193, RFC 4291).
"""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from voicelog.model import VoicelogError
from voicelog.web.certificate import Certificate
from voicelog.web.self_signed import fingerprint

__all__ = ["LocalAuthority", "authority", "leaf", "may_vouch_for"]

AUTHORITY_VALID = timedelta(days=5 * 365)
LEAF_VALID = timedelta(days=7)
_RENEW = timedelta(days=90)
_NETWORKS = tuple(
    map(
        ipaddress.ip_network,
        (
            "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8",
            "fc00::/7", "fe80::/10", "::1/128",
        ),
    )
)  # fmt: skip
_DOMAINS = ("local", "localhost", "home.arpa", "internal")


@dataclass(frozen=True, slots=True)
class LocalAuthority:
    """The authority's certificate and key. `der` is the certificate as phones install it, and
    `fingerprint` its SHA-256 as they show it."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def der(self) -> bytes:
        return self.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def pem(self) -> bytes:
        return self.certificate.public_bytes(serialization.Encoding.PEM)

    @property
    def fingerprint(self) -> str:
        return fingerprint(self.certificate)


def may_vouch_for(name: str) -> bool:
    """Whether `name`, an address or a host, is one that the authority is constrained to."""
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return name.lower().rpartition(".")[2] in _DOMAINS or name.lower().endswith(".home.arpa")
    return any(address in network for network in _NETWORKS)


def authority(folder: Path, now: datetime) -> LocalAuthority:
    """The authority in `folder`, made where it is missing, cannot be read or is nearly over (then
    every phone has to install the new one). `now` is aware.

    Raises:
        VoicelogError: the folder cannot be written.
    """
    path, key_path = folder / "phone-authority.pem", folder / "phone-authority-key.pem"
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes())
        key = serialization.load_pem_private_key(key_path.read_bytes(), None)
        fits = isinstance(key, ec.EllipticCurvePrivateKey) and (
            key.public_key() == found.public_key()
        )
        if fits and found.not_valid_after_utc > now + _RENEW:
            assert isinstance(key, ec.EllipticCurvePrivateKey)
            return LocalAuthority(found, key)
    except (OSError, ValueError, TypeError):
        pass  # it is made anew
    new_key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"voicelog of {now:%Y-%m-%d}")])
    permitted: list[x509.GeneralName] = [x509.DNSName(domain) for domain in _DOMAINS]
    permitted += [x509.IPAddress(network) for network in _NETWORKS]
    made = (
        _builder(name, name, new_key, now, AUTHORITY_VALID)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), True)
        .add_extension(x509.NameConstraints(permitted, None), True)
        .add_extension(_usage(signs_certificates=True), True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(new_key.public_key()), False)
        .sign(new_key, hashes.SHA256())
    )
    _write(key_path, _private(new_key), path, made.public_bytes(serialization.Encoding.PEM))
    return LocalAuthority(made, new_key)


def leaf(folder: Path, by: LocalAuthority, names: Iterable[str], now: datetime) -> Certificate:
    """A certificate for the `names` that the authority may vouch for, with a key of its own, both
    in `folder`; good from an hour before `now`, for clocks that are behind.

    Raises:
        VoicelogError: the folder cannot be written.
    """
    path, key_path = folder / "phone-cert.pem", folder / "phone-key.pem"
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "voicelog phone page")])
    hosts = [_general(name) for name in sorted(set(names)) if may_vouch_for(name)]
    made = (
        _builder(subject, by.certificate.subject, key, now, LEAF_VALID)
        .add_extension(x509.SubjectAlternativeName(hosts), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(_usage(signs_certificates=False), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(by.key.public_key()), False
        )
        .sign(by.key, hashes.SHA256())
    )
    _write(key_path, _private(key), path, made.public_bytes(serialization.Encoding.PEM))
    return Certificate(path, key_path, fingerprint(made))


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    now: datetime,
    valid: timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + valid)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _private(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _write(key_path: Path, key: bytes, path: Path, certificate: bytes) -> None:
    """Both files, the key for this user only."""
    try:
        key_path.unlink(missing_ok=True)
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
        with os.fdopen(os.open(key_path, flags, 0o600), "wb") as file:
            file.write(key)
        path.write_bytes(certificate)
    except OSError as error:
        raise VoicelogError(
            f"Found no way to write {path} ({error.strerror}), wanted a place for the phone page's "
            "certificate; give write access to the log's folder."
        ) from error


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)
