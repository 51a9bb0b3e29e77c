"""A program that listens live to a scripted sound, to be killed at any moment; run as a child.

python talker.py FOLDER SOUND.npz SPEED [write N | commit N MS]

Prints "kept ID" for every utterance once it is committed, "sound S" for the seconds that have
been played to it. The microphone plays SPEED times real time. "write N" kills itself half way
through the Nth write of sound; "commit N MS" MS milliseconds after the Nth commit began.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np

from tests.live.fields import ROSTER
from tests.live.stage import Script
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.clock import SystemClock
from voicelog.live.live_session import LiveSession
from voicelog.live.live_setup import ListenOptions, make_live_setup
from voicelog.safety.settings import Settings
from voicelog.store import Log

LINES = [(1.0, "start session bracken")] + [
    (1.5 + n / 2, "here level two came" if n % 2 else "no button came") for n in range(200)
]


def tell(line: str) -> None:
    """A whole line at once, from whichever thread."""
    os.write(1, f"{line}\n".encode())


def die() -> None:
    """As from outside: nothing is cleaned up."""
    os.kill(os.getpid(), signal.SIGKILL)


def die_in_write(number: int) -> None:
    """Write half of the Nth piece of sound, and no more."""
    write, count = os.write, 0

    def dying(handle: int, data: Any) -> int:
        nonlocal count
        if len(data) > 1000:
            count += 1
            if count == number:
                write(handle, memoryview(data)[: len(data) // 2])
                die()
        return write(handle, data)

    os.write = dying


class _Microphone:
    def __init__(self, taker_for: Any, sound: Samples, speed: float) -> None:
        self._take, self._sound, self._speed = taker_for(RATE), sound, speed
        threading.Thread(target=self._play, daemon=True).start()

    def close(self) -> None:
        """As a microphone is closed."""

    def _play(self) -> None:
        block = RATE // 10
        for start in range(0, len(self._sound), block):
            self._take(self._sound[start : start + block, None], False)
            tell(f"sound {(start + block) / RATE:.1f}")
            time.sleep(0.1 / self._speed)


def main(folder: Path, sound: Samples, speed: float, commit: int = 0, after_s: float = 0) -> None:
    """Listen until killed, or until so long (s) after the commit of that number began."""
    commits = 0
    clock = SystemClock()
    with Log.open(folder, now=clock.wall) as log:
        append = log.append

        def told(new: Any, **more: Any) -> int:
            nonlocal commits
            commits += 1
            if commits == commit:
                threading.Timer(after_s, die).start()
            done = append(new, **more)
            for event in new:
                if event.event == "utterance":
                    tell(f"kept {event.id}")
            return done

        log.append = told  # type: ignore[method-assign]
        live = LiveSession(
            make_live_setup(log, ListenOptions(ROSTER, Settings(), earpiece=True), clock),
            microphone=lambda taker_for, anew: _Microphone(taker_for, sound, speed),
            audio_output=None,
            voice=None,
            start_recognition=Script(LINES),
        )
        live.run()


if __name__ == "__main__":
    where, played, fast, *how = sys.argv[1:]
    dies = (0, 0.0)
    if how[:1] == ["write"]:
        die_in_write(int(how[1]))
    elif how[:1] == ["commit"]:
        dies = (int(how[1]), float(how[2]) / 1000)
    main(Path(where), np.load(played)["sound"], float(fast), *dies)
