"""The authority of this machine, its leaves, and what neither can do."""

from __future__ import annotations

import ssl
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest

pytest.importorskip("cryptography", reason="the phone page needs voicelog[review]")

from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from voicelog.web.phone.authority import LEAF_VALID, authority, leaf, may_vouch_for

NOW = datetime.now(UTC)


def verified(by: x509.Certificate, path: Path, name: str, at: datetime = NOW) -> bool:
    """By the rules of RFC 5280 and the CA/Browser Forum, as the cryptography library has them."""
    is_address = name[0].isdigit()
    subject = x509.IPAddress(ip_address(name)) if is_address else x509.DNSName(name)
    verifier = PolicyBuilder().store(Store([by])).time(at).build_server_verifier(subject)
    try:
        verifier.verify(x509.load_pem_x509_certificate(path.read_bytes()), [])
    except VerificationError:
        return False
    return True


def test_a_leaf_is_good_for_its_addresses_for_a_week_and_for_nothing_else(tmp_path: Path) -> None:
    own = authority(tmp_path, NOW)
    names = ["localhost", "192.168.1.30", "truck.local", "8.8.8.8", "example.com", "truck"]
    made = leaf(tmp_path, own, names, NOW)
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(made.path, made.key)
    good = [name for name in names if verified(own.certificate, made.path, name)]
    assert good == ["localhost", "192.168.1.30", "truck.local"] == [*filter(may_vouch_for, names)]
    later = NOW + LEAF_VALID + timedelta(hours=1)
    assert not verified(own.certificate, made.path, "localhost", later)
    (tmp_path / "other").mkdir()
    other = authority(tmp_path / "other", NOW)
    assert not verified(other.certificate, made.path, "localhost")


def test_it_is_made_once_and_its_keys_are_for_this_user_alone(tmp_path: Path) -> None:
    own = authority(tmp_path, NOW)
    assert authority(tmp_path, NOW).fingerprint == own.fingerprint
    leaf(tmp_path, own, ["localhost"], NOW)
    for name in ("phone-authority-key.pem", "phone-key.pem"):
        assert (tmp_path / name).stat().st_mode & 0o077 == 0
    assert authority(tmp_path, NOW + timedelta(days=5 * 365)).fingerprint != own.fingerprint
    (tmp_path / "phone-authority.pem").write_text("no certificate")
    assert authority(tmp_path, NOW).fingerprint != own.fingerprint
