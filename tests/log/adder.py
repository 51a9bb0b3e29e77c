"""A program that adds one recording, saying aloud what it has committed; run as a child.

python adder.py FOLDER SOUND COUNT
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.log.log_cases import clock, recording, spoken
from voicelog.log import Log, sounds


def add(folder: Path, sound: Path, count: int) -> None:
    sha256 = sounds.sha256_of(sound)
    print("start", flush=True)
    with Log.open(folder, now=clock) as log:
        log.keep_sound(sound, sha256)
        if not log.begin_recording(recording(id=sha256, sha256=sha256)):
            return
        for number in range(count):
            log.append(spoken(sha256, number))
            print(number, flush=True)
        log.finish_recording(sha256)


if __name__ == "__main__":
    add(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
