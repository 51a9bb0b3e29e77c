"""`voicelog review`: what is said before the page is there, and how it is opened."""

from __future__ import annotations

import builtins
import re
import socket
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import ModuleType

import pytest

from tests.cli.run import Voicelog

pytest.importorskip("uvicorn", reason="the page needs voicelog[review]")

import uvicorn


@pytest.fixture
def not_served(monkeypatch: pytest.MonkeyPatch) -> None:
    """The server stops as soon as it is started."""
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: None)


def test_a_port_in_use_is_said_in_a_sentence(voicelog: Voicelog) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        result = voicelog("review", "--port", port, "--no-browser")
    assert result.code == 2
    assert result.err == (
        f"voicelog: Found 127.0.0.1 port {port} not free (Address already in use), wanted one to "
        "serve the page at; close what uses it, or choose another: voicelog review --port "
        f"{port + 1}.\n"
    )


def test_the_page_is_for_this_machine_alone(voicelog: Voicelog, not_served: None) -> None:
    result = voicelog("review", "--port", 0, "--no-browser")
    assert result.code == 0
    assert re.match(r"The page is at http://127\.0\.0\.1:\d+/open/[\w-]{43} ", result.out)
    assert "opens the page once" in result.out
    again = voicelog("review", "--port", 0, "--no-browser")
    assert again.out.split("/open/")[1][:43] != result.out.split("/open/")[1][:43]
    assert "code" not in result.out
    assert threading.active_count() < 5


def test_on_the_network_it_says_what_that_means(
    voicelog: Voicelog, not_served: None, tmp_path: Path
) -> None:
    result = voicelog("review", "--port", 0, "--no-browser", "--network")
    assert result.code == 0
    assert "The page is at https://127.0.0.1:" in result.out
    assert "Access code: " in result.out
    assert "Anyone with this code can hear, read and change the whole log." in result.out
    assert "SHA-256 " in result.out
    assert (tmp_path / "data" / "review-key.pem").stat().st_mode & 0o077 == 0


def test_without_its_libraries_it_says_how_to_get_them(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(
        name: str,
        globals: Mapping[str, object] | None = None,  # noqa: A002
        locals: Mapping[str, object] | None = None,  # noqa: A002
        fromlist: Sequence[str] | None = (),
        level: int = 0,
    ) -> ModuleType:
        if name == "voicelog.web.server":
            raise ModuleNotFoundError("No module named 'uvicorn'", name="uvicorn")
        return real(name, globals, locals, fromlist or (), level)

    monkeypatch.setattr(builtins, "__import__", without)
    result = voicelog("review")
    assert result.code == 2
    assert result.err == (
        "voicelog: Found no 'uvicorn' library, wanted it for the page; install it: pip install "
        "'voicelog[review]'.\n"
    )
