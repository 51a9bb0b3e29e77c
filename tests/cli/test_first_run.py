"""What a newcomer sees: `voicelog` alone, the demo, and how far the hearing has come."""

from __future__ import annotations

import io
import os
import re
import select
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from operator import attrgetter
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from rich.console import Console

from tests.cli.run import Voicelog
from voicelog.app.intake import RecognizedUtterance, SoundFile
from voicelog.app.open_file import IntakeOptions
from voicelog.app.read import ReadFile
from voicelog.audio.resampling import RATE, Samples
from voicelog.cli import read
from voicelog.cli.app import load_command
from voicelog.cli.hearing_bar import HearingBar, hear_each
from voicelog.model import VoicelogError
from voicelog.report.start_words import FIRST_PAGE, demo_next_words


def test_voicelog_alone_says_in_ten_lines_what_one_can_do(voicelog: Voicelog) -> None:
    done = voicelog()
    assert (done.code, done.out) == (0, f"{FIRST_PAGE}\n")
    lines = [line for line in FIRST_PAGE.splitlines() if line]
    assert len(lines) <= 10
    assert lines[1].split()[:2] == ["voicelog", "review"]
    assert max(map(len, lines)) <= 100


@pytest.mark.parametrize(
    "line", [line for line in (FIRST_PAGE + demo_next_words(3)).splitlines() if line[:2] == "  "]
)
def test_what_the_first_pages_show_can_be_called(line: str) -> None:
    _, name, *arguments = shlex.split(line.strip().split("   ")[0])
    command = load_command(name)
    while hasattr(command, "commands"):
        command = command.commands[arguments.pop(0)]
    command.make_context(name, arguments)


def test_the_readmes_typed_notes_are_kept(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (typed, add) = re.findall(r"^    (echo .*|voicelog add .* --typed .*)$", readme, re.MULTILINE)
    roster = next(line for line in readme.splitlines() if line.startswith("    voicelog dogs put"))
    _, note, _, name = shlex.split(typed)
    (tmp_path / name).write_text(note + "\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert voicelog(*shlex.split(roster)[1:]).code == 0
    done = voicelog(*shlex.split(add)[1:])
    assert done.code == 0
    assert done.out.startswith(f"{name}: 1 note sure, 0 to check, 0 not understood.\n")


@pytest.mark.parametrize(("options", "heard"), [((), 1), (("--all",), 4)])
def test_the_demo_hears_one_recording_and_all_on_request(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...], heard: int
) -> None:
    taken: list[str] = []

    def hear(options: IntakeOptions, path: Path) -> ReadFile:
        taken.append(path.stem)
        raise VoicelogError("Found a test.")

    monkeypatch.setattr(read, "read_file", hear)
    voicelog("demo", *options)
    assert taken[0] == "day2-wren"
    assert len(set(taken)) == len(taken) == heard
    assert ("--all" in demo_next_words(4 - heard)) is (heard == 1)


def test_a_file_tells_each_second_that_is_heard_of_how_many(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", np.zeros(int(2.5 * RATE), np.float32), RATE)
    told: list[tuple[float, float | None]] = []

    def hear(blocks: Iterable[Samples], name: str) -> Iterator[RecognizedUtterance]:
        for _ in blocks:
            pass
        yield from ()

    sound = SoundFile(tmp_path / "a.wav", hear, heard_so_far=lambda *so_far: told.append(so_far))
    list(sound.heard())
    assert told == [(1.0, 2.5), (2.0, 2.5)]


def drawn(*, terminal: bool) -> str:
    """What hearing two files draws."""
    screen = io.StringIO()
    bar = HearingBar(Console(file=screen, force_terminal=terminal, width=100))

    def hear(path: Path) -> int:
        bar.heard_so_far(81.0, None)
        bar.heard_so_far(82.0, 145.0)
        return 1

    paths = [Path("a.wav"), Path("b.wav")]
    assert [result for _, result in hear_each(paths, hear, 1, bar, attrgetter("name"))] == [1, 1]
    return screen.getvalue()


def test_a_bar_shows_the_seconds_heard_on_a_terminal_only() -> None:
    seen = drawn(terminal=True)
    assert "1 of 2: a.wav" in seen
    assert "2 of 2: b.wav" in seen
    assert "1:22 of 2:25 heard" in seen
    assert drawn(terminal=False) == ""


def test_the_bar_is_gone_when_the_work_fails() -> None:
    screen = io.StringIO()
    bar = HearingBar(Console(file=screen, force_terminal=True, width=100))

    def fail(path: Path) -> int:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        list(hear_each([Path("a.wav")], fail, 1, bar, attrgetter("name")))
    ended = screen.getvalue()
    bar.done_so_far(1, 2)
    assert screen.getvalue() == ended
    assert "\x1b[?25h" in ended, "the cursor is shown again"


def test_a_bar_shows_the_recordings_that_are_done() -> None:
    screen = io.StringIO()
    with HearingBar(Console(file=screen, force_terminal=True, width=100)).shown() as bar:
        bar.begin("rebuild", beside="")
        bar.done_so_far(12, 40)
    assert "12 of 40 recordings" in screen.getvalue()


@pytest.mark.parametrize(
    ("typed", "offered"),
    [("su", "summary"), ("summary --for", "--format"), ("dogs p", "put")],
)
def test_the_shell_completes_commands_and_options(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch, typed: str, offered: str
) -> None:
    monkeypatch.setenv("_VOICELOG_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", f"voicelog {typed}")
    monkeypatch.setenv("COMP_CWORD", str(len(typed.split())))
    assert voicelog().out.split() == [offered]


@pytest.mark.parametrize("shell", ["fish", "zsh"])
def test_the_completion_that_is_installed_works_in_the_shell_itself(
    shell: str, tmp_path: Path
) -> None:
    program = Path(sys.executable).parent / "voicelog"
    if shutil.which(shell) is None or not program.exists():
        pytest.skip(f"needs Debian's {shell}, and voicelog installed")
    with_program = f"{program.parent}{os.pathsep}{os.environ['PATH']}"
    told = os.environ | {"PATH": with_program, "TERM": "dumb"}
    untold = told | {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    asked = [str(program), "--show-completion", shell]
    script = subprocess.run(asked, env=untold, capture_output=True, text=True, check=True).stdout
    (tmp_path / "script").write_text(script, encoding="utf-8")
    if shell == "fish":
        words = "source script; complete -C 'voicelog summ'"
        fish = ["fish", "--no-config", "-c", words]
        done = subprocess.run(fish, env=told, cwd=tmp_path, capture_output=True, text=True)
        assert done.stdout.split()[0] == "summary"
        return
    begun = "autoload -Uz compinit; compinit -D -u; source ./script; echo COM''PLETES\n"
    ours, theirs = os.openpty()
    with subprocess.Popen(["zsh", "-f", "-i"], env=told, cwd=tmp_path, stdin=theirs, stdout=theirs,
                          stderr=theirs, start_new_session=True) as zsh:  # fmt: skip
        try:
            os.write(ours, begun.encode())
            _read_until(ours, b"COMPLETES")
            os.write(ours, b"voicelog summ\t")
            _read_until(ours, b"summary ")
        finally:
            zsh.kill()
    os.close(ours)
    os.close(theirs)


def _read_until(terminal: int, wanted: bytes, within_s: float = 60.0) -> None:
    seen, end = b"", time.monotonic() + within_s
    while wanted not in seen:
        assert time.monotonic() < end, seen
        if select.select([terminal], [], [], 0.2)[0]:
            seen += os.read(terminal, 4096)
