"""Call the command line in this process and see what a user would see."""

from __future__ import annotations

import atexit
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, wraps
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, TypeVar

import pytest

from voicelog.cli import app, main

__all__ = ["Result", "Voicelog", "caller", "made_once", "typed_file"]


@dataclass(frozen=True)
class Result:
    """What a command left behind."""

    code: int
    out: str
    err: str


Voicelog = Callable[..., Result]
Made = TypeVar("Made")


def typed_file(folder: Path, *lines: str, name: str = "session.tsv") -> Path:
    """A typed recording: each line 2 s long, 4 s after the one before."""
    rows = [f"{4 * i}\t{4 * i + 2}\t{words}" for i, words in enumerate(lines)]
    path = folder / name
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def made_once(make: Callable[[Voicelog, Path], Made]) -> Callable[[Voicelog, Path], Made]:
    """A fixture that fills a test's folder by commands, and returns no place in it: the first test
    that asks has it made, all later ones get a copy."""
    kept: list[tuple[Path, Made]] = []

    @wraps(make)
    def made(voicelog: Voicelog, tmp_path: Path) -> Made:
        if not kept:
            found = make(voicelog, tmp_path)
            folder = Path(mkdtemp(prefix="voicelog-test-"))
            atexit.register(shutil.rmtree, folder, ignore_errors=True)
            shutil.copytree(tmp_path, folder, dirs_exist_ok=True)
            kept.append((folder, found))
            return found
        folder, found = kept[0]
        shutil.copytree(folder, tmp_path, dirs_exist_ok=True)
        return found

    return made


_load = app.load_command


@cache
def _loaded(name: str) -> Any:
    return _load(name)


def _load_once(name: str) -> Any:
    """A command as `load_command` gives it, put together once for all calls of the tests."""
    command = _loaded(name)
    app._listen_to_the_store()
    return command


def caller(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Voicelog:
    """A function that runs `voicelog ARGS...`."""

    def run(*args: object) -> Result:
        monkeypatch.setattr(sys, "argv", ["voicelog", *map(str, args)])
        monkeypatch.setattr(app, "load_command", _load_once)
        code = 0
        try:
            main()
        except SystemExit as stop:
            code = int(stop.code or 0)
        captured = capsys.readouterr()
        return Result(code, captured.out, captured.err)

    return run
