"""The one seat at the microphone, and sound without gaps."""

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
from voicelog.live.lock import AlreadyListeningError, live_lock


def wall() -> datetime:
    return datetime(2026, 4, 18, 7, 30, tzinfo=UTC)


class HandClock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.set_by_s = 0.0

    def slept_s(self) -> float:
        return 0.0

    def seconds(self) -> float:
        return self.now_s

    def wall(self) -> datetime:
        return wall() + timedelta(seconds=self.now_s + self.set_by_s)


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


def captured(blocks: list[tuple[float, np.ndarray[Any, Any]]], rate: int = RATE) -> Pcm:
    """What comes out of a capture for blocks that came at moments (s)."""
    clock, out = HandClock(), list[Pcm]()
    failures: list[Exception] = []
    capture = CaptureThread(
        on_samples=out.append,
        on_level=lambda at, level: None,
        on_change=lambda: None,
        on_error=failures.append,
        clock=clock,
    )
    capture.start()
    take = capture.block_callback(rate)
    for at_s, block in blocks:
        clock.now_s = at_s
        take(block, False)
    capture.stop()
    assert failures == []
    assert capture.samples == sum(map(len, out))
    return np.concatenate(out)


def steps(start_s: float, count: int, rate: int = RATE) -> list[tuple[float, Any]]:
    block = np.full((rate // 10, 1), 0.25, np.float32)
    return [(start_s + (n + 1) / 10, block) for n in range(count)]


def test_blocks_become_the_samples_that_they_are() -> None:
    out = captured(steps(100.0, 20))
    assert len(out) == 2 * RATE
    assert np.all(out == 0.25 * 32768)


def test_a_cable_pulled_out_leaves_silence_as_long_as_it_was_out() -> None:
    out = captured([*steps(100.0, 10), *steps(108.0, 10)])
    assert len(out) == pytest.approx(9 * RATE, abs=RATE // 100)
    assert np.all(out[RATE : 7 * RATE] == 0)
    assert np.all(out[-RATE:] != 0)


def test_late_blocks_are_not_taken_for_a_gap() -> None:
    late = [(at_s + 0.4 * (n % 2), block) for n, (at_s, block) in enumerate(steps(100.0, 20))]
    assert len(captured(late)) == 2 * RATE


def test_a_device_that_comes_back_with_another_rate_goes_on() -> None:
    clock, out = HandClock(), list[Pcm]()
    changes: list[int] = []
    capture = CaptureThread(
        on_samples=out.append,
        on_level=lambda at, level: None,
        on_change=lambda: changes.append(len(out)),
        on_error=_fail,
        clock=clock,
    )
    capture.start()
    for rate in (RATE, 48_000):
        for _ in range(10):
            clock.now_s += 0.1
            capture.block_callback(rate)(np.full((rate // 10, 1), 0.25, np.float32), False)
    capture.stop()
    assert len(changes) == 1
    assert sum(map(len, out)) == 2 * RATE
