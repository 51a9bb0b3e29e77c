"""How long a verdict takes once an utterance has ended, live.

    taskset -c 0 python -m tests.bench.latency --split test --condition clean --count 3

feeds recordings to the ear as a microphone does and takes, for each utterance, the time from the
end of its hang-over (0.48 s after the last speech) to its verdict, as long as nothing else runs. A
verdict that is not sure waits for what may join it; such are listed apart. --stream counts the
sound (s) that has to go by from the last speech to the verdict, which is what no machine can spare:
the hang-over, and the wait for more where a sure note could go on.
"""

from __future__ import annotations

import argparse
import json
import queue
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import cast

import numpy as np
import soundfile as sf

from tests.bench.heard import roster_of
from tests.bench.voices import RATE, data_dir
from voicelog.app.recognizers import load_recognizers
from voicelog.audio.resampling import Samples
from voicelog.live.recognition_messages import (
    AllRecognized,
    RecognitionDied,
    RecognitionFailed,
    RecognitionMessage,
    RecognizersReady,
    UtteranceRecognized,
)
from voicelog.live.recognition_process import (
    RecognitionProcess,
    RecognitionRequest,
)
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.recognition.segmenter import HANGOVER_FRAMES
from voicelog.recognition.voice_activity import FRAME

BLOCK = RATE // 10  # samples, 0.1 s


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", default="test")
    parser.add_argument("--condition", default="clean")
    parser.add_argument("--listener", default="both")
    parser.add_argument("--count", type=int, default=3, help="recordings (3)")
    parser.add_argument("--stream", action="store_true", help="seconds of sound, not of the clock")
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    found: list[tuple[str, float]] = []
    for path in sorted((asked.data / asked.split / asked.condition).glob("*.json"))[: asked.count]:
        found += (waits if asked.stream else delays)(path, asked.listener)
    for status in ("accepted", "doubtful", "rejected"):
        late = [clock for which, clock in found if which == status]
        print(f"{status:9} {len(late):4}  {spread(late)}")


def spread(times: Sequence[float]) -> str:
    if not times:
        return "-"
    middle, late, most = np.percentile(times, (50, 95, 100)) * 1000
    return f"median {middle:.0f} ms, p95 {late:.0f} ms, most {most:.0f} ms"


def delays(path: Path, listener: str) -> list[tuple[str, float]]:
    """(status, s) from the end of each utterance's hang-over to its verdict."""
    truth = json.loads(path.read_text())
    order = RecognitionRequest(roster=roster_of(truth), recording="bench", listener=listener)  # type: ignore[arg-type]
    told: queue.SimpleQueue[tuple[float, RecognitionMessage]] = queue.SimpleQueue()
    ear = RecognitionProcess(order, lambda message: told.put((time.perf_counter(), message)))
    try:
        first = told.get(timeout=120)[1]
        if not isinstance(first, RecognizersReady):
            raise SystemExit(f"recognition could not begin: {first}")
        samples, _ = sf.read(path.with_suffix(".flac"), dtype="int16")
        begun = time.perf_counter()
        for at in range(0, len(samples), BLOCK):
            time.sleep(max(0.0, begun + (at + BLOCK) / RATE - time.perf_counter()))
            ear.feed(samples[at : at + BLOCK])
        ear.finish()
        return list(_late(told, begun))
    finally:
        ear.close()


def waits(path: Path, listener: str) -> list[tuple[str, float]]:
    """(status, s of sound) from the end of each utterance's speech to its verdict."""
    truth = json.loads(path.read_text())
    samples, _ = sf.read(path.with_suffix(".flac"), dtype="float32")
    fed = 0

    def stream() -> Iterator[Samples]:
        nonlocal fed
        for at in range(0, len(samples), FRAME):
            fed = min(at + FRAME, len(samples))
            yield samples[at : at + FRAME]

    heard = load_recognizers(roster_of(truth), (), cast(RecognizerChoice, listener))
    return [
        (verdict.status, fed / RATE - utterance.end_s)
        for utterance, _, verdict in heard.recognize(stream(), "bench")
    ]


def _late(
    told: queue.SimpleQueue[tuple[float, RecognitionMessage]], begun: float
) -> Iterator[tuple[str, float]]:
    while True:
        clock, message = told.get(timeout=300)
        if isinstance(message, UtteranceRecognized):
            utterance, _, verdict = message.utterance
            ended = begun + utterance.end_s + HANGOVER_FRAMES * FRAME / RATE
            yield verdict.status, clock - ended
        elif isinstance(message, AllRecognized | RecognitionDied | RecognitionFailed):
            return


if __name__ == "__main__":
    main()
