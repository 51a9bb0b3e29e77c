"""Trouble with the microphone is noticed within two seconds, and its end too."""

from __future__ import annotations

import time

import numpy as np
import pytest

from voicelog.live.clock import SystemClock
from voicelog.live.microphone_monitor import BlockLevel, MicrophoneMonitor, block_level
from voicelog.live.microphone_supervisor import (
    MicrophoneMessage,
    MicrophoneReopened,
    MicrophoneSupervisor,
)

SPEECH = BlockLevel(0.1, 0.3, 0.0)
MUTED = BlockLevel(0.1, 0.0, 0.0)
CLIPPED = BlockLevel(0.1, 1.0, 0.2)


def fed(
    watch: MicrophoneMonitor, level: BlockLevel | None, start_s: float, seconds: float
) -> list[tuple[float, str]]:
    """What it said, and when, over time in which blocks of one level came, or none."""
    said: list[tuple[float, str]] = []
    for step in range(1, round(seconds * 10) + 1):
        at_s = start_s + step / 10
        states = [watch.block(at_s, level)] if level else []
        said += [(at_s, state) for state in (*states, watch.tick(at_s)) if state]
    return said


@pytest.mark.parametrize(
    ("level", "state"), [(None, "gone"), (MUTED, "silent"), (CLIPPED, "overloaded")]
)
def test_each_trouble_is_said_once_within_two_seconds_and_so_is_its_end(
    level: BlockLevel | None, state: str
) -> None:
    watch = MicrophoneMonitor(0.0)
    assert fed(watch, SPEECH, 0.0, 10.0) == []
    ((at_s, said),) = fed(watch, level, 10.0, 10.0)
    assert said == state
    assert at_s <= 12.0
    ((_, back),) = fed(watch, SPEECH, 20.0, 10.0)
    assert back == "back"
    assert watch.missed_s == pytest.approx(0.0 if state == "overloaded" else 10.1, abs=0.2)


def test_quiet_is_not_silence() -> None:
    assert fed(MicrophoneMonitor(0.0), BlockLevel(0.1, 0.001, 0.0), 0.0, 60.0) == []


def test_one_loud_word_is_no_overload() -> None:
    watch = MicrophoneMonitor(0.0)
    fed(watch, SPEECH, 0.0, 5.0)
    assert fed(watch, BlockLevel(0.1, 1.0, 0.05), 5.0, 0.1) == []


def test_a_device_may_take_its_time_to_bring_the_first_sound() -> None:
    watch = MicrophoneMonitor(0.0)
    assert fed(watch, None, 0.0, 4.0) == []
    assert fed(watch, SPEECH, 4.0, 2.0) == []


def test_a_device_that_never_brings_any_is_gone() -> None:
    assert fed(MicrophoneMonitor(0.0), None, 0.0, 10.0)[0][1] == "gone"


def test_one_that_was_reached_is_not_opened_a_second_time_before_it_is_taken() -> None:
    class Handle:
        def close(self) -> None:
            """As a microphone is closed."""

    opened: list[Handle] = []
    told: list[MicrophoneMessage] = []

    def open_one(_taker: object, _anew: bool) -> Handle:
        opened.append(Handle())
        return opened[-1]

    microphone = MicrophoneSupervisor(
        open_one,
        on_samples=lambda pcm: None,
        on_message=told.append,
        release_output=lambda: None,
        clock=SystemClock(),
    )
    microphone.open()
    gone_s = SystemClock().seconds() + 10.0
    assert microphone.tick(gone_s) == "gone"
    microphone.reopen_when_due(gone_s)
    while not told:
        time.sleep(0.001)
    for later_s in (1.5, 3.0):  # the session is busy, and has not taken it
        time.sleep(0.02)
        microphone.reopen_when_due(gone_s + later_s)
    (message,) = told
    assert isinstance(message, MicrophoneReopened)
    assert len(opened) == 2
    microphone.reopened(message.handle)
    microphone.reopen_when_due(gone_s + 20.0)  # it brought nothing, so it is tried once more
    while len(opened) < 3:
        time.sleep(0.001)


def test_a_reopened_device_that_is_muted_is_silent_no_longer_gone() -> None:
    watch = MicrophoneMonitor(0.0)
    fed(watch, SPEECH, 0.0, 2.0)
    fed(watch, None, 2.0, 3.0)
    watch.opened(5.0)
    assert [state for _, state in fed(watch, MUTED, 5.0, 5.0)] == ["back", "silent"]


def test_the_level_of_a_block_of_any_shape() -> None:
    block = np.array([[0.0, 0.5], [1.0, 0.99]], np.float32)
    assert block_level(block, 0.1) == BlockLevel(0.1, 1.0, 0.5)
    assert block_level(np.zeros((0, 1), np.float32), 0.0).peak == 0.0
