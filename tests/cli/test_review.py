"""`voicelog review`: what is said before the page is there, and how it is opened."""

from __future__ import annotations

import builtins
import plistlib
import re
import socket
import subprocess
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.cli.run import Voicelog
from voicelog.app.launcher import desktop_entry, write_launcher
from voicelog.report.words import another_port

pytest.importorskip("uvicorn", reason="the page needs voicelog[review]")

import uvicorn

from voicelog.web.running_page import noted_page, running_page


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
        "serve the page at; close what uses it, or start the same command with --port "
        f"{port + 1}.\n"
    )


def test_the_ports_of_a_phones_page_in_use_name_no_other_command(voicelog: Voicelog) -> None:
    with socket.socket() as taken:
        taken.bind(("0.0.0.0", 0))
        taken.listen()
        port = min(taken.getsockname()[1], 65534)
        result = voicelog("phone", "--port", port, "--address", "127.0.0.1")
    assert result.code == 2
    assert result.err == (
        f"voicelog: Found port {port} or {port + 1} of this machine not free, wanted both for "
        "phones; close what uses them, or start the same command with --port "
        f"{another_port(port, 10)}.\n"
    )
    assert [another_port(port) for port in (8137, 65534, 65535)] == [8138, 65533, 65534]


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


def exec_line(value: str) -> list[str]:
    """The arguments of an Exec value, read back as the Desktop Entry Specification has it: first
    the escapes of a value of type string, then quotes, then field codes."""
    for code, meant in (("\\\\", "\0"), ("\\s", " "), ("\\n", "\n"), ("\\t", "\t")):
        value = value.replace(code, meant)
    value = value.replace("\0", "\\")
    found = re.findall(r'"((?:[^"\\]|\\.)*)"|([^ "]+)', value)
    read = [re.sub(r"\\(.)", r"\1", quoted) or bare for quoted, bare in found]
    assert all(re.fullmatch(r"[^ \t\n\"'\\><~|&;$*?#()`]*", bare) for _, bare in found)
    assert not any(re.search(r"(?<!%)(%%)*%(?!%)", one) for one in read)
    return [one.replace("%%", "%") for one in read]


ODD = st.text("ab %$`\"'\\~;&|é\u00a0-=/", min_size=1, max_size=8)


@given(st.lists(ODD, min_size=1, max_size=3))
@settings(max_examples=50)
def test_the_menu_runs_just_the_command(command: list[str]) -> None:
    entry = dict(line.split("=", 1) for line in desktop_entry(command).splitlines()[1:])
    assert exec_line(entry["Exec"]) == command


def test_a_launcher_is_an_entry_of_the_desktop_specification(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    result = voicelog("review", "--launcher", "--data-dir", tmp_path / "my log")
    path = tmp_path / "share/applications/voicelog.desktop"
    assert result.out.startswith(f"voicelog is in your menu now: {path}.")
    first, *lines = path.read_text(encoding="utf-8").splitlines()
    assert first == "[Desktop Entry]"
    assert all(re.fullmatch(r"[A-Za-z0-9-]+=.+", line) for line in lines)
    entry = dict(line.split("=", 1) for line in lines)
    assert len(entry) == len(lines)
    assert (entry["Type"], entry["Terminal"], entry["Version"]) == ("Application", "false", "1.5")
    assert entry["Categories"] == "Office;"  # a main category of the Desktop Menu Specification
    assert exec_line(entry["Exec"])[-2:] == ["review", f"--data-dir={tmp_path / 'my log'}"]
    icon = tmp_path / "share/icons/hicolor/scalable/apps" / f"{entry['Icon']}.svg"
    assert icon.read_text().startswith("<svg")
    assert not (tmp_path / "my log").exists()
    monkeypatch.setenv("XDG_DATA_HOME", "relative")  # to be ignored, as the base directories say
    monkeypatch.setenv("HOME", str(tmp_path))
    voicelog("review", "--launcher")
    assert (tmp_path / ".local/share/applications/voicelog.desktop").is_file()


def test_the_bundle_of_a_mac_runs_the_command(tmp_path: Path) -> None:
    command = ["/bin/echo", "it's", "a b"]
    bundle = write_launcher(
        command, Path("mark.svg"), platform="darwin", home=tmp_path, environment={}
    )
    about = plistlib.loads((bundle / "Contents/Info.plist").read_bytes())
    ran = subprocess.run(
        [bundle / "Contents/MacOS" / about["CFBundleExecutable"]], capture_output=True, check=True
    )
    assert ran.stdout == b"it's a b\n"


def test_started_again_from_the_menu_it_opens_the_page_that_is_open(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    monkeypatch.setattr("voicelog.cli.review.open_in_browser", opened.append)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        (tmp_path / "data").mkdir()
        with noted_page(tmp_path / "data", port) as note:
            note.tell("http://127.0.0.1:1/open/x")
            assert (tmp_path / f"data/page-{port}.address").stat().st_mode & 0o077 == 0
            result = voicelog("review", "--port", port)
        assert (result.code, opened) == (0, ["http://127.0.0.1:1/open/x"])
        assert voicelog("review", "--port", port).code == 2
        assert running_page(tmp_path / "data", port) is None
