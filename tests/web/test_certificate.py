"""The page's own certificate: made when needed, kept while good, its key for this user only."""

from __future__ import annotations

import ssl
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

pytest.importorskip("cryptography", reason="the page on the network needs voicelog[review]")

from voicelog.web.certificate import VALID, certificate

NOW = datetime.now(UTC)
NAMES = ("localhost", "127.0.0.1", "laptop.local")


def test_it_is_made_once_and_again_when_nearly_over_or_for_other_names(tmp_path: Path) -> None:
    first = certificate(tmp_path, NAMES, NOW)
    assert certificate(tmp_path, reversed(NAMES), NOW).fingerprint == first.fingerprint
    assert certificate(tmp_path, (*NAMES, "10.0.0.7"), NOW).fingerprint != first.fingerprint
    third = certificate(tmp_path, NAMES, NOW)
    assert certificate(tmp_path, NAMES, NOW + VALID).fingerprint != third.fingerprint
    third.path.write_text("not a certificate")
    certificate(tmp_path, NAMES, NOW + timedelta(days=1))


def test_a_server_can_use_it_and_only_this_user_can_read_its_key(tmp_path: Path) -> None:
    made = certificate(tmp_path, NAMES, NOW)
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(made.path, made.key)
    assert made.key.stat().st_mode & 0o077 == 0
    assert len(made.fingerprint.split(":")) == 32
