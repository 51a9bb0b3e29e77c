"""Nothing leaves the machine: no command that works on the log asks for a network."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import pytest

from tests.cli.run import typed_file
from tests.log.log_cases import CHILD
from tests.sound.making import encode
from voicelog.grammar.places import shipped

WATCHED = """
import json, sys
def refuse(event, args):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.sendto", "socket.gethostbyname"):
        print(f"network asked for: {event} {args}", file=sys.stderr)
        sys.stderr.flush()
        __import__("os")._exit(99)
sys.addaudithook(refuse)
from voicelog.cli import main
for command in json.loads(sys.argv[1]):
    sys.argv = ["voicelog", *command]
    try:
        main()
    except SystemExit as stop:
        if stop.code:
            raise
"""


def watched(*commands: tuple[object, ...], head: tuple[str, ...] = ()) -> str:
    """Run commands in a child that ends at once when one asks for a network; what they said."""
    told = json.dumps([[str(part) for part in command] for command in commands])
    done = subprocess.run(
        [*head, sys.executable, "-c", WATCHED, told], env=CHILD, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_watch_sees_a_network_that_is_asked_for() -> None:
    program = WATCHED.partition("from voicelog")[0] + "import socket\n"
    program += "socket.create_connection(('192.0.2.1', 80), 0.1)\n"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert "network asked for" in done.stderr


@pytest.fixture
def spoken(tmp_path: Path) -> Path:
    """The first ten seconds of the demo."""
    source = shipped("demo_audio") / "day1-bracken" / "day1-bracken.opus"
    pieces = []
    with av.open(str(source)) as container:
        for frame in container.decode(audio=0):
            pieces.append(frame.to_ndarray()[0])
            if sum(map(len, pieces)) > 10 * 48_000:
                break
    return encode(tmp_path / "a.flac", np.concatenate(pieces), 48_000, "flac")


def test_hearing_keeping_and_handing_over_ask_for_none(tmp_path: Path, spoken: Path) -> None:
    data = ("--data-dir", tmp_path / "data")
    typed = typed_file(tmp_path, "start session bracken", "level three came")
    said = watched(
        ("dogs", "put", "Bracken", "--top", "20", *data),
        ("add", spoken, "--dog", "Bracken", *data),
        ("add", "--typed", typed, "--at", "2026-04-18T07:30", *data),
        ("summary", "--all", "--format", "html", "--output", tmp_path / "s.html", *data),
        ("export", tmp_path / "out", "--format", "bundle", "--dog", "Bracken", *data),
        ("backup", tmp_path / "b.zip", *data),
        ("restore", tmp_path / "b.zip", "--data-dir", tmp_path / "new"),
        ("check", *data),
    )
    assert said.count("notes sure") == 2
    assert said.endswith("the database is whole.\n")
    page = (tmp_path / "s.html").read_text("utf-8")
    for mark in ("src=", 'href="http', "@import", "url(", "<script"):
        assert mark not in page, "a page of ours loads something"


def test_it_works_where_the_network_is_cut_off(tmp_path: Path) -> None:
    heads = [("unshare", "-n"), ("unshare", "-Urn")] if shutil.which("unshare") else []
    for head in heads:
        if subprocess.run([*head, "true"], capture_output=True).returncode == 0:
            break
    else:
        pytest.xfail("this system does not let a test cut a program off from the network")
    typed = typed_file(tmp_path, "start session bracken", "level three came")
    command = ("read", "--typed", typed, "--dog", "Bracken", "--data-dir", tmp_path / "data")
    assert "Bracken" in watched(command, head=head)
