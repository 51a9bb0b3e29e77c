"""What the Vosk listener costs, and how much of synthetic speech it gets right.

Prints the load time (s), the time to hear as a share of the sound's length, the memory (MB)
and counts, one JSON object. The speech is espeak-ng's, in the Korean of the test grammar.

    python -m tests.bench.vosk_bench MODEL_FOLDER      a folder named like vosk-model-small-ko-0.22
"""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path

from tests.recognition.test_vosk import KOREAN, PHRASES, ROSTER, TALK, speech
from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.recognition.vosk_models import VoskModel

__all__ = ["main"]


def memory_mb(what: str) -> float:
    """A line of /proc/self/status ("VmRSS" now, "VmHWM" at most) in MB."""
    line = next(
        line for line in Path("/proc/self/status").read_text().splitlines() if line.startswith(what)
    )
    return int(line.split()[1]) / 1024


def main(folder: Path) -> None:
    """Measure one model on the phrases and the talk of the tests."""
    from voicelog.recognition.vosk import VoskRecognizer

    grammar = Grammar.load(KOREAN, ROSTER)
    before_mb, began = memory_mb("VmRSS"), time.perf_counter()
    listener = VoskRecognizer(
        grammar, RecognitionContext(top_level=10), model=VoskModel.read(folder)
    )
    load_s, loaded_mb = time.perf_counter() - began, memory_mb("VmRSS")
    sounds = {text: speech(text) for text in (*PHRASES, *TALK)}
    busy, began = _cpu_s(), time.perf_counter()
    heard = {text: listener.hear(sound) for text, sound in sounds.items()}
    wall_s, cpu_s = time.perf_counter() - began, _cpu_s() - busy
    sound_s = sum(map(len, sounds.values())) / RATE
    counts = {}
    for least in (0.0, 0.5, 0.7, 0.9):
        passing = {t: h for t, h in heard.items() if h.complete and h.confidence >= least}
        counts[str(least)] = {
            "right": sum(found.words == text for text, found in passing.items()),
            "wrong": sum(t in PHRASES and found.words != t for t, found in passing.items()),
            "talk": sum(text in TALK for text in passing),
        }
    print(
        json.dumps(
            {
                "listener": listener.name,
                "load_s": round(load_s, 2),
                "sound_s": round(sound_s, 1),
                "real_time_wall": round(wall_s / sound_s, 3),
                "real_time_cpu": round(cpu_s / sound_s, 3),
                "memory_mb": round(loaded_mb - before_mb),
                "peak_mb": round(memory_mb("VmHWM")),
                "phrases": len(PHRASES),
                "other_talk": len(TALK),
                "by_least_confidence": counts,
            },
            indent=2,
        )
    )


def _cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("Found no model folder, wanted one: python -m tests.bench.vosk_bench MODEL_FOLDER")
    main(Path(sys.argv[1]))
