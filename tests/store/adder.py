"""A program that adds one recording, saying aloud what it has committed; run as a child.

python adder.py FOLDER SOUND COUNT
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.store.log_cases import clock, recording, spoken
from voicelog.store import Log, sound_files


def add(folder: Path, sound: Path, count: int) -> None:
    sha256 = sound_files.sha256_of(sound)
    print("start", flush=True)
    with Log.open(folder, now=clock) as log:
        log.store_sound(sound, sha256)
        if not log.begin_recording(recording(id=sha256, sha256=sha256)):
            return
        for number in range(count):
            log.append(spoken(sha256, number))
            print(number, flush=True)
        log.finish_recording(sha256)


if __name__ == "__main__":
    add(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]))
