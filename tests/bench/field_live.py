"""How soon the ear answers, what listening costs, and whether memory stays flat.

python -m tests.bench.field_live tones|warnings|quiet|hours [quick|both]
python -m tests.bench.field_live incidents|calm|scripted|devices [quick|both]
    [--only 1,3] [--kept FILE] [--sum] [--spoken N] [--quarter]

Sound is fed in real time, in blocks of 50 ms as PortAudio brings them, to the live session
with its real hearing process, log and voice; only the devices are stand-ins. Times are to the
moment at which a sound is handed to the earphone, which adds its own latency (asked: 50 ms).
"End of speech" is where the synthetic speech ends, not where the segmenter found its end.
`incidents`, `calm` and `scripted` are told in live_incidents.py, `devices` in live_devices.py;
`calm` recognizes two of its ten sessions from sound, the rest are words. `hours` feeds four hours
of sound as fast as it can, with a scripted ear.

`incidents` (three sessions of four minutes) and `calm` (ten of ten) can be played in parts:
`--only` says which, `--kept` is a file that keeps what came of each, and `--sum` plays none and
prints what all in the file come to. `--spoken`: so many of the calm ones are of sound (default 2).
With `--quarter` all of it runs on a quarter of one core, see quarter_core.py, and keeps its parts
apart.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

from tests.bench.live_devices import devices
from tests.bench.live_incidents import CALM_SESSIONS, calm_sessions, incidents, scripted
from tests.bench.parts import Parts
from tests.bench.quarter_core import run_on_quarter_core
from tests.live.fields import ROSTER
from tests.live.incidents_script import SESSIONS
from tests.live.stage import Script
from tests.recognition.speaking import hiss, say
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.clock import SystemClock
from voicelog.live.live_session import LiveSession
from voicelog.live.live_setup import ListenOptions, make_live_setup
from voicelog.live.outputs import Output, PlayTone, SpeakWords
from voicelog.live.speech_synthesis import find_voice
from voicelog.safety.settings import Settings
from voicelog.store import Log

WHO: Any = "quick"
QUARTER = "VOICELOG_BENCH_QUARTER"
"""Set in the environment of what already runs on a quarter of a core."""
HANG_OVER_S = 0.48
BLOCK = RATE // 20
VOICES = ("flite:rms", "flite:slt", "flite:kal16")
ROUND = (
    *("here level one came", "no button came", "level two came", "here", "tap one", "came"),
    *("distraction low", "line help", "strike that", "here level two line help"),
)

FIRST = {"fit-missing", "same-site", "warmup-missing", "start-high"}
FAMILIES = {
    "fit, site, start": (["start session bracken"], "here level three came", FIRST),
    "level": (["start session bracken"], "level nine", {"over-ceiling"}),
    "stress": (["start session bracken", "here level three"], "screamed", {"stress-twice"}),
    "skin": (["start session bracken"], "skin red", {"skin"}),
    "heat": (["start session bracken"], "temperature thirty", {"heat"}),
}
"""Of each family of rules: what is said before, the word that proves it, the rules it proves.

Cautions come one at a time, so only the first of a session is timed here; and before the
family of stress, after which there is no more stimulation on that day.
"""

Said = tuple[float, float, str]
"""(start s, end s, words)"""


def narration(words: Sequence[tuple[float, str, str]]) -> tuple[Samples, list[Said]]:
    """Sound, and where each (pause s, words, voice) lies in it."""
    parts, said, place = [], [], 0
    for pause_s, text, voice in words:
        spoken = say(text, voice, edge_s=0.0)
        gap = np.zeros(round(pause_s * RATE), np.float32)
        parts += [gap, spoken]
        start = place + len(gap)
        place = start + len(spoken)
        said.append((start / RATE, place / RATE, text))
    sound = np.concatenate([*parts, np.zeros(3 * RATE, np.float32)])
    return sound + hiss(len(sound) / RATE), said


class Feeder:
    """A microphone that plays sound in real time, then stops the session."""

    def __init__(self, sound: Samples) -> None:
        self.sound = sound
        self.live: LiveSession | None = None
        self.began_s = 0.0
        self._take: Any = None

    def open(self, taker_for: Any, _anew: bool) -> Any:
        self._take = taker_for(RATE)
        threading.Thread(target=self._play, daemon=True).start()
        return self

    def close(self) -> None:
        """As a microphone is closed."""

    def _play(self) -> None:
        while self.live is None or self.live.lag_s is None:  # the listeners get ready
            time.sleep(0.05)
        self.began_s = time.monotonic()
        for place in range(0, len(self.sound), BLOCK):
            wait = self.began_s + (place + BLOCK) / RATE - time.monotonic()
            if wait > 0:
                time.sleep(wait)
            self._take(self.sound[place : place + BLOCK, None], False)
        self.live.stop()


class Mouth:
    """Notes when each act sounded."""

    trouble: str | None = None

    def __init__(self) -> None:
        self.sounded: list[tuple[float, Output]] = []

    def play(self, sound: Samples, key: object = None) -> None:
        assert isinstance(key, PlayTone | SpeakWords)
        self.sounded.append((time.monotonic(), key))

    def cancel(self, over: Callable[[object], bool]) -> None:
        pass

    def release(self) -> None:
        """Nothing to let go of."""


@contextmanager
def session(sound: Samples, **extra: Any) -> Iterator[tuple[LiveSession, Feeder, Mouth]]:
    """A live session on a log of its own."""
    clock, feeder, mouth = SystemClock(), Feeder(sound), Mouth()
    with (
        tempfile.TemporaryDirectory() as folder,
        Log.open(Path(folder), now=clock.wall) as log,
    ):
        wanted = ListenOptions(ROSTER, Settings(), listener=WHO, earpiece=True, replies="none")
        setup = make_live_setup(log, wanted, clock)
        voice = find_voice()
        live = LiveSession(setup, microphone=feeder.open, audio_output=mouth, voice=voice, **extra)
        feeder.live = live
        yield live, feeder, mouth


def spread(values: Sequence[float]) -> str:
    """Median and 95th percentile in milliseconds."""
    if not values:
        return "none"
    p95 = float(np.percentile(values, 95))
    return f"n {len(values)}, median {1000 * median(values):.0f} ms, p95 {1000 * p95:.0f} ms"


def tones() -> None:
    """End of speech to tone, beyond the hang-over."""
    words = [(2.0, "start session bracken", VOICES[0])]
    words += [(3.5, text, voice) for voice in VOICES for text in ROUND]
    sound, said = narration(words)
    print(f"{len(said)} utterances in {len(sound) / RATE:.0f} s, real time")
    took: dict[str, list[float]] = defaultdict(list)
    with session(sound) as (live, feeder, mouth):
        live.run()
        for at_s, act in mouth.sounded:
            if isinstance(act, PlayTone) and act.tone in ("accepted", "doubtful", "not understood"):
                moment = at_s - feeder.began_s
                end_s = max(end for _, end, _ in said if end < moment)
                took[act.tone].append(moment - end_s - HANG_OVER_S)
    for tone, values in took.items():
        print(f"end of speech to tone '{tone}', beyond {HANG_OVER_S} s: {spread(values)}")


def warnings() -> None:
    """Proving word to the start of the spoken warning, by family of rules."""
    words, proofs = [], []
    for family, (before, proof, _) in FAMILIES.items():
        for voice in VOICES[:2] * 2:
            words += [(2.5, text, voice) for text in before]
            proofs.append((len(words), family))
            words += [(2.5, proof, voice), (4.0, "end session", voice)]
    sound, said = narration(words)
    print(f"{len(said)} utterances in {len(sound) / RATE:.0f} s, real time")
    with session(sound) as (live, feeder, mouth):
        live.run()
        spoken = [
            (at_s - feeder.began_s, act)
            for at_s, act in mouth.sounded
            if isinstance(act, SpeakWords) and act.rule
        ]
    took: dict[str, list[float]] = defaultdict(list)
    missed: dict[str, int] = defaultdict(int)
    for number, family in proofs:
        end_s = said[number][1]
        rules = FAMILIES[family][2]
        times = (at for at, act in spoken if act.rule in rules and end_s < at < end_s + 4.0)
        first = next(times, None)
        if first is None:
            missed[family] += 1
        else:
            took[family].append(first - end_s)
    for family in FAMILIES:
        print(
            f"proving word to warning, {family}: {spread(took[family])}, "
            f"not heard surely {missed[family]}"
        )


def quiet() -> None:
    """CPU while nothing is said, in the session's process and in the hearing one."""
    seconds = 40
    with session(hiss(seconds)) as (live, feeder, _):
        used: list[tuple[float, float]] = []

        def look() -> None:
            while not feeder.began_s:
                time.sleep(0.1)
            for wait_s in (5.0, seconds - 10.0):
                time.sleep(wait_s)
                own = time.process_time()
                used.append((own, _cpu_s(live._recognition.pid or 0)))

        looking = threading.Thread(target=look)
        looking.start()
        live.run()
        looking.join()
    (own, ear), (own_then, ear_then) = used
    over = seconds - 10.0
    print(f"CPU of one core between utterances, over {over:.0f} s")
    print(
        f"  session {100 * (own_then - own) / over:.1f}%, "
        f"hearing {100 * (ear_then - ear) / over:.1f}%"
    )


def _cpu_s(pid: int) -> float:
    parts = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def hours(total_h: float = 4.0, every_s: float = 15.0) -> None:
    """Memory over a long session: sound for real, words from a script."""
    lines = [(2.0, "start session bracken")] + [
        (every_s * (n + 1), ROUND[n % 3]) for n in range(int(total_h * 3600 / every_s) - 1)
    ]
    block = hiss(1.0)
    clock = _FastClock()

    class Fast(Feeder):
        def _play(self) -> None:
            assert self.live is not None
            for second in range(int(total_h * 3600)):
                clock.at_s += 1.0
                self._take(block[:, None], False)
                while self.live._messages.qsize() > 2:
                    time.sleep(0.001)
                if second % 1800 == 0:
                    print(f"  {second / 3600:.1f} h: {_rss_mb():.0f} MB", flush=True)
            self.live.stop()

    with tempfile.TemporaryDirectory() as folder, Log.open(Path(folder), now=clock.wall) as log:
        setup = make_live_setup(log, ListenOptions(ROSTER, Settings(), earpiece=True), clock)
        feeder, mouth = Fast(block), Mouth()
        live = LiveSession(
            setup,
            microphone=feeder.open,
            audio_output=mouth,
            voice=find_voice(),
            start_recognition=Script(lines),
        )
        feeder.live = live
        began = time.monotonic()
        live.run()
        print(
            f"  end: {_rss_mb():.0f} MB; {len(live.events)} events, "
            f"{time.monotonic() - began:.0f} s"
        )
        before = time.monotonic()
        live._derived()
        print(f"deriving all of it once: {1000 * (time.monotonic() - before):.0f} ms")


class _FastClock(SystemClock):
    at_s = 0.0

    def seconds(self) -> float:
        return self.at_s


def _rss_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def arguments() -> argparse.Namespace:
    """What is to be measured, and how."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.field_live")
    parser.add_argument("what", choices=WHAT)
    parser.add_argument("listener", nargs="?", choices=("quick", "both"), default="quick")
    parser.add_argument("--only", default="", help="sessions, 1,3")
    parser.add_argument("--kept", type=Path, help="a file that keeps what came of each session")
    parser.add_argument("--sum", action="store_true", help="play none; add up what is kept")
    parser.add_argument("--spoken", type=int, default=2, help="calm sessions that are of sound")
    parser.add_argument("--quarter", action="store_true", help="on a quarter of one core")
    return parser.parse_args()


WHAT = ("tones", "warnings", "quiet", "hours", "incidents", "calm", "scripted", "devices")


def main() -> None:
    """Measure what the command line says."""
    global WHO
    given = arguments()
    if given.quarter and QUARTER not in os.environ:
        os.environ[QUARTER] = "1"
        raise SystemExit(
            run_on_quarter_core([sys.executable, "-m", "tests.bench.field_live", *sys.argv[1:]])
        )
    WHO = given.listener
    parts = Parts(f"{given.what} {WHO}{' quarter' if given.quarter else ''}", given.kept)
    every = range(1, len(SESSIONS) + 1) if given.what == "incidents" else CALM_SESSIONS
    only = [int(one) for one in given.only.split(",") if one] or list(every)
    only = [] if given.sum else [one for one in only if one in every]
    {
        "tones": tones,
        "warnings": warnings,
        "quiet": quiet,
        "hours": hours,
        "incidents": lambda: incidents(parts, only, WHO),
        "calm": lambda: calm_sessions(parts, only, given.spoken, WHO),
        "scripted": scripted,
        "devices": devices,
    }[given.what]()
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    slowed = ", all on a quarter of one core" if given.quarter else ""
    print(f"listeners: {WHO}{slowed}")
    print(f"machine: {os.cpu_count()} cores, load {load}")


if __name__ == "__main__":
    main()
