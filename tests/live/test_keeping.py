"""Commits that wait for a full disk, the one seat at the microphone, sound without gaps."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import pytest

from voicelog.audio.recorder import Pcm
from voicelog.audio.resampling import RATE
from voicelog.live.capture import CaptureThread
from voicelog.live.commit_buffer import CommitBuffer
from voicelog.live.lock import AlreadyListeningError, live_lock
from voicelog.model import Event, FieldEvent
from voicelog.store import DiskFullError, Log, Recording


def wall() -> datetime:
    return datetime(2026, 4, 18, 7, 30, tzinfo=UTC)


def event(number: int) -> Event:
    return FieldEvent(id=f"f-{number}", recording="r", at_s=float(number), what="tone")


class HandClock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.set_by_s = 0.0

    def seconds(self) -> float:
        return self.now_s

    def wall(self) -> datetime:
        return wall() + timedelta(seconds=self.now_s + self.set_by_s)


def test_what_a_full_disk_refused_is_kept_in_order_when_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Log.open(tmp_path, now=wall) as log:
        log.begin_recording(Recording(id="r"))
        keeper = CommitBuffer(log)
        assert keeper.keep([event(1)])
        append, full = log.append, True

        def sometimes(new: Any) -> int:
            if full:
                raise DiskFullError(tmp_path)
            return append(new)

        monkeypatch.setattr(log, "append", sometimes)
        assert not keeper.keep([event(2), event(3)])
        assert not keeper.keep([event(4)])
        assert isinstance(keeper.trouble, DiskFullError)
        assert keeper.waiting == 2
        full = False
        assert keeper.keep([event(5)])
        assert keeper.trouble is None
        assert log.events("r") == tuple(map(event, (1, 2, 3, 4, 5)))


def test_a_mistake_of_the_program_is_not_taken_for_a_full_disk(tmp_path: Path) -> None:
    with Log.open(tmp_path, now=wall) as log:
        keeper = CommitBuffer(log)
        with pytest.raises(Exception, match="names r, which is not in this log"):
            keeper.keep([event(1)])


def test_a_second_listener_on_one_log_is_refused_in_one_sentence(tmp_path: Path) -> None:
    code = (
        "import sys, pathlib\n"
        "from voicelog.live.lock import live_lock\n"
        f"with live_lock(pathlib.Path({str(tmp_path)!r})):\n"
        "    print('seated', flush=True); sys.stdin.read()\n"
    )
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with subprocess.Popen([sys.executable, "-c", code], **pipes) as other:  # type: ignore[call-overload]
        assert other.stdout.readline() == "seated\n"
        with pytest.raises(AlreadyListeningError) as refused, live_lock(tmp_path):
            pass
        assert str(refused.value) == (
            f"Found another 'voicelog listen' at work on {tmp_path}, wanted one at a time; stop "
            "that one, or give this one a log of its own with --data-dir."
        )
        other.kill()
    with live_lock(tmp_path):  # a killed one leaves the seat free
        pass


# --- from the microphone on ----------------------------------------------------------------


def _fail(fault: Exception) -> NoReturn:
    pytest.fail(str(fault))


def pumped(blocks: list[tuple[float, np.ndarray[Any, Any]]], rate: int = RATE) -> Pcm:
    """What comes out of a pump for blocks that came at moments (s)."""
    clock, out = HandClock(), list[Pcm]()
    failures: list[Exception] = []
    pump = CaptureThread(
        passed=out.append, level=lambda at, level: None, failed=failures.append, clock=clock
    )
    pump.start()
    take = pump.take(rate)
    for at_s, block in blocks:
        clock.now_s = at_s
        take(block, False)
    pump.stop()
    assert failures == []
    assert pump.samples == sum(map(len, out))
    return np.concatenate(out)


def steps(start_s: float, count: int, rate: int = RATE) -> list[tuple[float, Any]]:
    block = np.full((rate // 10, 1), 0.25, np.float32)
    return [(start_s + (n + 1) / 10, block) for n in range(count)]


def test_blocks_become_the_samples_that_they_are() -> None:
    out = pumped(steps(100.0, 20))
    assert len(out) == 2 * RATE
    assert np.all(out == 0.25 * 32768)


def test_a_cable_pulled_out_leaves_silence_as_long_as_it_was_out() -> None:
    out = pumped([*steps(100.0, 10), *steps(108.0, 10)])
    assert len(out) == pytest.approx(9 * RATE, abs=RATE // 100)
    assert np.all(out[RATE : 7 * RATE] == 0)
    assert np.all(out[-RATE:] != 0)


def test_late_blocks_are_not_taken_for_a_gap() -> None:
    late = [(at_s + 0.4 * (n % 2), block) for n, (at_s, block) in enumerate(steps(100.0, 20))]
    assert len(pumped(late)) == 2 * RATE


def test_a_device_that_comes_back_with_another_rate_goes_on() -> None:
    clock, out = HandClock(), list[Pcm]()
    pump = CaptureThread(passed=out.append, level=lambda at, level: None, failed=_fail, clock=clock)
    pump.start()
    for rate in (RATE, 48_000):
        for _ in range(10):
            clock.now_s += 0.1
            pump.take(rate)(np.full((rate // 10, 1), 0.25, np.float32), False)
    pump.stop()
    assert sum(map(len, out)) == 2 * RATE
