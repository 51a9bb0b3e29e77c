"""Nothing leaves the machine: no command opens a connection to another one.

Held twice. Every module's imports are read: those by which a program could reach out are few, each
with its reason. And every command is run under a watch, with all processes it starts: Python
says which networks it is asked for, on every system, and strace, where it may, what libraries
ask the system for.
"""

from __future__ import annotations

import ast
import json
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from urllib.request import HTTPCookieProcessor, HTTPSHandler, build_opener

import pytest

import voicelog
from tests.audio.making import encode
from tests.bench.crash import may_trace
from tests.cli.run import typed_file
from tests.live.pulse import Pulse, pulse
from tests.recognition.speaking import demo
from tests.recognition.vosk_files import vosk_folder
from tests.store.log_cases import CHILD
from voicelog.audio.resampling import RATE, Samples
from voicelog.cli.app import COMMANDS, load_command

# --- what the sources import

PACKAGE = Path(voicelog.__file__).parent

TALKS = {
    *("_socket", "socket", "socketserver", "ssl", "select", "selectors", "asyncio", "http"),
    *("urllib", "ftplib", "imaplib", "poplib", "smtplib", "telnetlib", "xmlrpc", "webbrowser"),
    *("aiohttp", "anyio", "h11", "httpcore", "httpx", "huggingface_hub", "requests", "urllib3"),
    *("uvicorn", "websockets", "wsproto", "dask", "distributed", "tornado"),
    "onnxruntime",  # looks up a host of its makers some seconds after it was loaded
}
"""Modules by which a program talks to another machine, or is talked to, whole or in part."""
HANDS_ON = {"ctypes", "subprocess"}
"""Modules by which it has libraries and programs do so for it."""

AS_TEXT = "takes a text apart or puts one together; opens nothing"
ESPEAK = "eSpeak NG, a library that speaks and no more"
AS_NAMED = "loads the module of a command, of those that a table in it names"
ALLOWED = {
    ("cli/app.py", "importlib"): AS_NAMED,
    ("cli/app.py", "importlib.import_module"): AS_NAMED,
    ("app/cluster.py", "dask"): "as the next: its settings",
    ("app/cluster.py", "distributed"): "the scheduler that --cluster names, and nothing else",
    ("app/cluster.py", "urllib.parse"): AS_TEXT,
    ("app/launcher.py", "subprocess"): "the system's own way to make a shortcut, on Windows alone",
    (
        "app/command_process.py",
        "subprocess",
    ): "a live session or the phone page: this program, in a process of its own",
    ("cli/browser.py", "webbrowser"): "shows the page's own address, or a file of this machine",
    ("web/app.py", "urllib.parse"): AS_TEXT,
    ("web/security.py", "asyncio"): "limits how long a request may take to arrive",
    ("web/security.py", "http.cookies"): AS_TEXT,
    ("web/peer.py", "socket"): "writes this machine's address as the system's table has it",
    ("web/entrance.py", "urllib.parse"): AS_TEXT,
    ("web/responses.py", "urllib.parse"): AS_TEXT,
    ("web/server.py", "socket"): "listens where the user asked; asks the system for own names",
    ("web/server.py", "uvicorn"): "the page's server: it answers and asks nobody",
    ("web/phone/server.py", "uvicorn"): "the phone page's server: it answers and asks nobody",
    (
        "audio/sound_server.py",
        "ctypes",
    ): "the desktop's sound server, where the user's settings have it",
    ("live/speech_synthesis.py", "ctypes"): ESPEAK,
    ("live/speech_synthesis.py", "subprocess"): "the system's own speaking program",
}
"""(source, module) -> why it may import it."""


def imported(source: str) -> set[str]:
    """The modules that a source imports of those, by their whole names, wherever it does so."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(aliases):
                names.update(alias.name for alias in aliases)
            case ast.ImportFrom(module=str(module), names=aliases):
                names.add(module)
                names.update(
                    f"{module}.{alias.name}"
                    for alias in aliases
                    if module in ("importlib", "multiprocessing.connection")
                )
    searched = {name for name in names if name.partition(".")[0] in TALKS | HANDS_ON}
    by_name = {"importlib", "importlib.import_module"}  # would import what cannot be seen here
    sockets = {"multiprocessing.connection.Client", "multiprocessing.connection.Listener"}
    return searched | names & (by_name | sockets)


def test_the_search_finds_imports_wherever_they_are() -> None:
    source = "import socket as s\ndef f():\n    from urllib.request import urlopen\n"
    source += "if x:\n    import http.client, json\nfrom importlib import import_module, metadata\n"
    source += "from multiprocessing.connection import Client, Connection\n"
    assert imported(source) == {
        *("socket", "urllib.request", "http.client"),
        *("importlib", "importlib.import_module", "multiprocessing.connection.Client"),
    }
    assert imported("import os, socketry\nfrom sslang import x\nfrom . import http\n") == set()


def test_nothing_that_could_reach_out_is_imported_without_a_reason() -> None:
    found = {
        (path.relative_to(PACKAGE).as_posix(), name)
        for path in sorted(PACKAGE.rglob("*.py"))
        for name in imported(path.read_text("utf-8"))
    }
    assert found == set(ALLOWED), "allowed and not imported any more, or imported and not allowed"


# --- what the commands do

WATCH = """
import os, sys
BY_ADDRESS = ("socket.connect", "socket.sendto", "socket.sendmsg")
BY_NAME = ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr")
def note(event, args):
    if event in BY_ADDRESS or event in BY_NAME:
        with open(os.environ["WATCH_NOTES"], "a") as notes:
            print(event, args[-1] if event in BY_ADDRESS else args[0], file=notes)
sys.addaudithook(note)
"""
"""Python runs this first in every process that finds it, also in those that a command starts."""

PROGRAM = """
import json, sys
from voicelog.cli import main
for command in json.loads(sys.argv[1]):
    sys.argv = ["voicelog", *command]
    try:
        main()
    except SystemExit as stop:
        if stop.code:
            raise
"""
MAIN = (sys.executable, "-c", "from voicelog.cli import main; main()")
TRACED = ("strace", "-f", "-qq", "--seccomp-bpf", "-e", "trace=connect,sendto,sendmsg,sendmmsg")
TO_ANOTHER = re.compile(r'.*\binet_(?:addr\("(?!127\.)|pton\(AF_INET6, "(?!::1")).*')
"""A call of the system with an address that is not of this machine alone."""


@dataclass(frozen=True)
class Watch:
    """Runs programs, and knows which networks they and their children asked for."""

    folder: Path
    environment: dict[str, str]
    head: tuple[str, ...]

    def asked(self) -> list[str]:
        """What was asked for, by Python and then by any library; a line each."""
        return [*self.asked_by_python(), *self.asked_of_the_system()]

    def asked_by_python(self) -> list[str]:
        notes = self.folder / "notes"
        return notes.read_text().splitlines() if notes.exists() else []

    def asked_of_the_system(self) -> list[str]:
        calls = self.folder / "calls"
        lines = calls.read_text(errors="replace").splitlines() if calls.exists() else []
        return [line for line in lines if TO_ANOTHER.match(line)]

    def run(self, *command: str, head: tuple[str, ...] = ()) -> str:
        """Run a program that ends well; what it printed."""
        done = subprocess.run(
            [*self.head, *head, *command], env=self.environment, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def commands(self, *commands: tuple[object, ...], head: tuple[str, ...] = ()) -> str:
        """Run commands of voicelog, one after the other; what they printed."""
        told = json.dumps([[str(part) for part in command] for command in commands])
        return self.run(sys.executable, "-c", PROGRAM, told, head=head)

    @contextmanager
    def started(self, *command: str) -> Iterator[IO[str]]:
        """A command that goes on until Ctrl-C, which every process of a terminal gets: what it
        prints meanwhile. It is pressed at the end."""
        with subprocess.Popen(
            [*self.head, *MAIN, *command],
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            start_new_session=True,
        ) as running:
            try:
                assert running.stdout is not None
                yield running.stdout
                os.killpg(running.pid, signal.SIGINT)
                running.stdout.read()
                running.wait(timeout=60)
            finally:
                if running.poll() is None:
                    os.killpg(running.pid, signal.SIGKILL)


@pytest.fixture
def watch(tmp_path: Path) -> Watch:
    """A watch over programs whose log and models are in folders of their own."""
    folder = tmp_path / "watch"
    folder.mkdir()
    (folder / "sitecustomize.py").write_text(WATCH)
    environment = CHILD | {
        "PYTHONPATH": os.pathsep.join((str(folder), CHILD["PYTHONPATH"])),
        "WATCH_NOTES": str(folder / "notes"),
        "VOICELOG_DATA": str(tmp_path / "data"),
        "VOICELOG_MODELS": str(tmp_path / "models"),
    }
    head = (*TRACED, "-o", str(folder / "calls")) if may_trace() else ()
    return Watch(folder, environment, head)


@pytest.fixture
def spoken() -> Samples:
    """The first ten seconds of the demo."""
    return demo("day1-bracken", 10.0)


def test_the_watch_sees_a_process_in_a_process_that_asks(watch: Watch) -> None:
    asks = "import socket; s = socket.socket(type=socket.SOCK_DGRAM); s.connect(('192.0.2.1', 9))"
    starts = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {asks!r}])"
    watch.run(sys.executable, "-c", starts)
    assert watch.asked_by_python() == ["socket.connect ('192.0.2.1', 9)"]
    assert len(watch.asked_of_the_system()) == bool(watch.head)


def test_the_watch_sees_a_library_that_asks(watch: Watch) -> None:
    if not watch.head:
        pytest.xfail("this system does not let a test follow what a program asks it for")
    asks = "import ctypes, socket; s = socket.socket(type=socket.SOCK_DGRAM)\n"
    asks += "to = b'\\2\\0\\0\\11' + bytes((192, 0, 2, 1)) + bytes(8)\n"
    asks += "ctypes.CDLL(None).connect(s.fileno(), to, 16)"
    watch.run(sys.executable, "-c", asks)
    (line,) = watch.asked()
    assert "192.0.2.1" in line


def test_the_watch_lets_this_machine_alone_pass(watch: Watch) -> None:
    call = "7 connect(3, {sa_family=%s}, 16) = 0"
    here = [
        'AF_INET, sin_addr=inet_addr("127.0.0.1")',
        'AF_INET6, inet_pton(AF_INET6, "::1", &sin6_addr)',
        'AF_UNIX, sun_path="/run/pulse"',
    ]
    there = [
        'AF_INET, sin_addr=inet_addr("192.0.2.1")',
        'AF_INET6, inet_pton(AF_INET6, "2001:db8::1", &sin6_addr)',
    ]
    assert [one for one in here + there if TO_ANOTHER.match(call % one)] == there


def leaves(command: Any, *names: str) -> Iterator[str]:
    """The names of all commands, those of groups with their group's."""
    if hasattr(command, "commands"):
        for name, sub in command.commands.items():
            yield from leaves(sub, *names, name)
    else:
        yield " ".join(names)


EVERY = frozenset(leaf for name in COMMANDS for leaf in leaves(load_command(name), name))
OF_THEIR_OWN = {"demo", "review", "phone", "listen", "soundcheck"}
"""Commands that a test of their own runs, below."""


def an_evening(folder: Path, sound: Samples) -> tuple[tuple[object, ...], ...]:
    """Every other command, in an order in which each has something to do."""
    heard = encode(folder / "a.flac", sound, RATE, "flac")
    typed = typed_file(folder, "start session bracken", "level three came")
    if not (PACKAGE.parent / "manual").is_dir():  # a clone that was not installed
        make_site = PACKAGE.parent / "docs" / "make_site.py"  # apart: Sphinx warns of its own code
        subprocess.run([sys.executable, str(make_site)], check=True, capture_output=True)
    (folder / "brought").mkdir()
    shutil.copy(heard, folder / "brought")
    name = "vosk-model-small-en-us-0.15"
    vosk_folder(folder / "made" / name)
    model = shutil.make_archive(str(folder / name), "zip", folder / "made", name)
    dog, day = "Bracken", ("--day", "2026-04-18")
    return (
        ("dogs", "put", dog, "--top", 20),
        ("dogs", "put", "Wren"),
        ("dogs", "handler", "Anna"),
        ("dogs", "list"),
        ("words", "list"),
        ("words", "card"),
        ("words", "check"),
        ("words", "try", "level three came"),
        ("settings",),
        ("manual", "--no-browser", "--folder", folder / "manual"),
        ("voice", "--card"),
        ("listeners", "list"),
        ("read", heard, "--dog", dog),
        ("add", heard, "--dog", dog),
        ("add", "--typed", typed, "--at", "2026-04-18T07:30"),
        ("watch", folder / "brought", "--once", "--settle", 0, "--every", 0.1, "--dog", dog),
        ("summary", "--all", "--format", "html", "--output", folder / "s.html"),
        ("correct", dog, *day),
        ("questions", dog),
        ("matters", "list"),
        ("matters", "close", "--help"),  # which ids there are is not known here
        ("matters", "reopen", "--help"),
        ("progress", dog),
        ("plan", dog),
        ("kennel",),
        ("owner", dog, "--output", folder / "o.pdf"),
        ("learn",),
        ("rehear", "--yes"),
        ("export", folder / "out", "--format", "bundle", "--dog", dog),
        ("backup", folder / "b.zip"),
        ("restore", folder / "b.zip", "--data-dir", folder / "new"),
        ("rebuild",),
        ("check",),
        ("share", "start", folder / "share", "--as", "Anna"),
        ("share", "now"),
        ("share", "status"),
        ("share", "allow", "--help"),  # of a signed share, in tests of its own
        ("share", "withdraw", "--help"),
        ("share", "carry", folder / "stick"),
        ("share", "repair"),
        ("share", "sign"),
        ("share", "leave"),
        ("lock", "on"),
        ("lock", "state"),
        ("lock", "passphrase", "--help"),  # the system's keyring is not ours to try here
        ("lock", "remember", "--help"),
        ("lock", "forget", "--help"),
        ("lock", "off"),
        ("delete", "sound", "--older-than", 0, "--unread", "--yes"),
        ("delete", "half"),
        ("delete", "aside", "--yes"),
        ("delete", "session", dog, *day, "--yes"),
        ("delete", "dog", dog, "--yes"),
        ("dogs", "remove", "Wren"),
        ("listeners", "install", model),
        ("listeners", "verify"),
    )


@pytest.mark.timeout(300)  # thirty commands, two of which hear
def test_no_command_asks_for_a_network(tmp_path: Path, watch: Watch, spoken: Samples) -> None:
    commands = an_evening(tmp_path, spoken)
    run = {" ".join(map(str, command[:count])) for command in commands for count in (1, 2)}
    assert run & EVERY == EVERY - OF_THEIR_OWN, "a command that no test here runs"
    watch.environment["VOICELOG_PASSPHRASE"] = "four plain words here"
    said = watch.commands(*commands)
    assert watch.asked() == []
    assert said.count("notes sure") == 2
    assert "the database is whole.\n" in said
    assert said.endswith(": whole, as first seen.\n")
    page = (tmp_path / "s.html").read_text("utf-8")
    for mark in ("src=", 'href="http', "@import", "url(", "<script"):
        assert mark not in page, "a page of ours loads something"


def test_the_demo_asks_for_none(tmp_path: Path, watch: Watch, spoken: Samples) -> None:
    """A piece of it; `tests/bench/offline.sh` hears the whole with the network cut off."""
    (tmp_path / "short").mkdir()
    encode(tmp_path / "short" / "a.opus", spoken, RATE, "libopus")
    program = f"""
from pathlib import Path
from voicelog.grammar import data_folders
known = data_folders.data_folder
short = lambda name: Path({str(tmp_path)!r}) if name == "demo_audio" else known(name)
data_folders.data_folder = short
{MAIN[-1]}"""
    said = watch.run(sys.executable, "-c", program, "demo")
    assert "Bracken" in said
    begins = "The demo: synthetic voices, invented dogs; nothing of it is kept. Hearing 1 recording"
    assert f"{begins} ...\n" in said
    assert "What to do next:\n  voicelog dogs put" in said
    assert watch.asked() == []


@pytest.fixture
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pulse]:
    with pulse(tmp_path_factory.mktemp("pulse")) as running:
        yield running


@pytest.mark.timeout(300)  # ten seconds of sound in real time, on machines with other work
def test_a_live_session_asks_for_none(
    server: Pulse, tmp_path: Path, watch: Watch, spoken: Samples
) -> None:
    own = ("PYTHONPATH", "WATCH_NOTES", "VOICELOG_DATA", "VOICELOG_MODELS")
    watched = server.environment | {name: watch.environment[name] for name in own}
    live = Watch(watch.folder, watched, watch.head)
    live.commands(("dogs", "put", "Bracken", "--top", 20))
    check = subprocess.run(
        [*live.head, *MAIN, "soundcheck", "--seconds", "2"],
        env=live.environment,
        capture_output=True,
        text=True,
    )
    assert "microphone" in check.stdout, check.stderr
    with live.started("listen", "--plain", "--earpiece") as said:
        assert any(line.startswith("Listening with") for line in said)
        server.play(spoken).wait()
    assert len(list((tmp_path / "data" / "sound").iterdir())) == 1
    assert live.asked() == []


OWN_NAME_AND_ADDRESS = [
    f"socket.gethostbyname {socket.gethostname()}",
    "socket.connect ('192.0.2.1', 9)",
]
"""How a server asks the system where others see it; nothing is sent by a datagram's socket."""


@pytest.mark.parametrize("network", [False, True], ids=["this machine", "network"])
def test_the_page_waits_to_be_opened_and_asks_for_none(watch: Watch, network: bool) -> None:
    """With --network it asks the system for this machine's own name and address, and no more:
    a datagram's socket is connected, by which nothing is sent."""
    pytest.importorskip("uvicorn", reason="the page needs voicelog[review]")
    given = ("--network",) if network else ()
    trusting = ssl.create_default_context()
    trusting.check_hostname, trusting.verify_mode = False, ssl.CERT_NONE
    browser = build_opener(HTTPCookieProcessor(), HTTPSHandler(context=trusting))
    with watch.started("review", "--port", "0", "--no-browser", *given) as said:
        found = (re.search(r"https?://127\S+/open/\S+", line) for line in said)
        with browser.open(next(one.group() for one in found if one)) as page:
            assert b"</html>" in page.read()
    if network:
        assert watch.asked_by_python() == OWN_NAME_AND_ADDRESS
    else:
        assert watch.asked() == []


def test_the_phones_page_waits_to_be_opened_and_asks_for_none(watch: Watch) -> None:
    """It asks for this machine's own name and address, as the page with --network does."""
    pytest.importorskip("segno", reason="the phone's page needs voicelog[review]")
    with watch.started("phone", "--port", "0", "--address", "127.0.0.1") as said:
        found = (re.search(r"http://127[\d.:]+\d", line) for line in said)
        with build_opener().open(next(one.group() for one in found if one)) as page:
            assert b"</html>" in page.read()
    assert watch.asked_by_python() == OWN_NAME_AND_ADDRESS


def test_it_works_where_the_network_is_cut_off(tmp_path: Path, watch: Watch) -> None:
    heads = [("unshare", "-n"), ("unshare", "-Urn")] if shutil.which("unshare") else []
    for head in heads:
        if subprocess.run([*head, "true"], capture_output=True).returncode == 0:
            break
    else:
        pytest.xfail("this system does not let a test cut a program off from the network")
    typed = typed_file(tmp_path, "start session bracken", "level three came")
    assert "Bracken" in watch.commands(("read", "--typed", typed, "--dog", "Bracken"), head=head)
