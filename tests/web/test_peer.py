"""Whose program asks, as the system says it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from voicelog.web import peer

pytestmark = pytest.mark.skipif(
    not Path("/proc/net/tcp").exists(), reason="only Linux says whose a connection is"
)
CALL = """
import os, socket, sys
if os.getuid() == 0:
    os.setuid(65534)  # nobody
kind, host = (socket.AF_INET6, "::ffff:127.0.0.1") if "mapped" in sys.argv else (
    socket.AF_INET, "127.0.0.1")
with socket.socket(kind) as own:
    own.connect((host, int(sys.argv[1])))
    print(own.getsockname()[1], flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def port() -> Iterator[int]:
    with socket.create_server(("127.0.0.1", 0)) as server:
        yield server.getsockname()[1]


def test_a_program_of_this_user_is_none_of_another(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port)) as own:
        assert not peer.is_another_user(own.getsockname()[1], port)


def test_what_the_system_does_not_say_is_not_held_against_anybody(
    port: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(peer, "_TABLES", (tmp_path / "none",))
    assert not peer.is_another_user(1, port)


@pytest.mark.parametrize("way", ["plain", "mapped"])
def test_a_program_of_another_user_is_told(
    port: int, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    """Run as another user where that is allowed, else seen by one that we are not."""
    here = os.getuid()
    if here != 0:
        monkeypatch.setattr(os, "getuid", lambda: here + 1)
    with subprocess.Popen(
        [sys.executable, "-I", "-c", CALL, str(port), way],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as caller:
        assert caller.stdout is not None
        theirs = int(caller.stdout.readline())
        assert peer.is_another_user(theirs, port)
        caller.communicate()
