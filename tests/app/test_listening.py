"""A live session started, looked at and stopped from elsewhere."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.web.evening import NOW, ROSTER
from voicelog.app.listening import ListeningRequest, LiveProcess
from voicelog.live.lock import live_lock
from voicelog.model import UsageError
from voicelog.store import Log

SESSION = """
import pathlib, signal, sys, time
from voicelog.live.lock import live_lock
folder = sys.argv[-1].partition("=")[2]
print("options", *sys.argv[1:-1], flush=True)
signal.signal(signal.SIGTERM, lambda *_: sys.exit(print("ended", flush=True)))
with live_lock(pathlib.Path(folder)):
    print("says: Listening\\x1b[2J", flush=True)
    time.sleep(60)
"""


def until(holds: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 60
    while not holds():
        assert time.monotonic() < deadline
        time.sleep(0.02)


def test_it_is_started_seen_and_stopped_and_one_is_enough(tmp_path: Path) -> None:
    with Log.open(tmp_path / "log", now=lambda: NOW) as log:
        live = LiveProcess(log.folder, (sys.executable, "-c", SESSION))
        with pytest.raises(UsageError, match="no dog on the roster"):
            live.start(log, ListeningRequest())
        for dog in ROSTER.dogs:
            log.put_dog(dog)
        with pytest.raises(UsageError, match="There is no dog '--rate=1'"):
            live.start(log, ListeningRequest(dogs=("--rate=1",)))
        with pytest.raises(UsageError, match="nothing was stopped"):
            live.stop()
        live.start(log, ListeningRequest(dogs=("Wren",), device="--resume", who="Anna"))
        with pytest.raises(UsageError, match="running"):
            live.start(log, ListeningRequest())
        until(lambda: "says: Listening" in " ".join(live.state(log).lines))
        state = LiveProcess(log.folder).state(log)  # another program sees the same
        assert (state.at_work, state.starting) == (True, False)
        assert state.lines == (
            "options --plain --side=left --say=doubtful --device=--resume --as=Anna --dog=Wren",
            "says: Listening [2J",
        )
        LiveProcess(log.folder).stop()
        until(lambda: not (live.state(log).at_work or live.state(log).ending))
        assert live.state(log).lines[-1] == "ended"
        with live_lock(log.folder), pytest.raises(UsageError, match="running"):
            live.resume()
