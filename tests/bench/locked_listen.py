"""Kill `voicelog listen` on a locked log while it hears, and complete it, through a sound server.

python -m tests.bench.locked_listen [KILLS [SEED]]

A log is locked by the command, `voicelog listen` hears narration through PulseAudio and is killed
at a random moment. Then `voicelog listen --resume` is run with nobody to ask, with a wrong
passphrase, and with the right one typed at a terminal. Printed is what was lost, and whether sound
lay in the open meanwhile. Vosk or PocketSphinx hears; a kill takes about a minute.
"""

from __future__ import annotations

import os
import pty
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tests.live.fields import BRACKEN
from tests.live.pulse import Pulse, pulse
from tests.recognition.speaking import hiss, say
from voicelog.audio.resampling import RATE, Samples
from voicelog.store import Log

PASSPHRASE = "copper kettle uphill lantern"
WORDS = (
    *("start session bracken", "here level three", "came", "praised", "here no button", "came"),
    *("distraction low", "here level two", "line help", "strike that", "here", "came"),
)
CLI = (sys.executable, "-c", "from voicelog.cli import main; main()")
LISTEN = (sys.executable, "-m", "tests.bench.staged_listen")
READY_S = 600.0


def narrated() -> Samples:
    """The words as sound, 2 s from one to the next."""
    pause = np.zeros(2 * RATE, np.float32)
    parts = [part for words in WORDS for part in (say(words, "flite:rms", edge_s=0.0), pause)]
    sound = np.concatenate(parts)
    return sound + hiss(len(sound) / RATE)[: len(sound)]


def ran(
    command: Sequence[str], environment: Mapping[str, str], passphrase: str | None = None
) -> subprocess.CompletedProcess[str]:
    """A command with that passphrase in its environment, or with nobody to ask."""
    env = {**environment} | ({} if passphrase is None else {"VOICELOG_PASSPHRASE": passphrase})
    return subprocess.run(
        command, env=env, capture_output=True, text=True, stdin=subprocess.DEVNULL
    )


def typed(command: Sequence[str], environment: Mapping[str, str], answer: str) -> tuple[int, str]:
    """A command at a terminal of its own, where the passphrase is typed when it is asked for: its
    exit status, and what stood there."""
    ours, theirs = pty.openpty()
    shown = b""
    with subprocess.Popen(
        command, env=environment, stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True
    ) as child:
        os.close(theirs)
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:
                break
            if not part:
                break
            shown += part
            if shown.rstrip().endswith(b":") and b"Passphrase" in shown and answer:
                os.write(ours, answer.encode() + b"\n")
                answer = ""
    os.close(ours)
    return child.returncode, shown.decode(errors="replace")


def bits_a_byte(data: bytes) -> float:
    """The entropy of bytes: 8 where nothing can be made of them."""
    counts = np.bincount(np.frombuffer(data, np.uint8), minlength=256) / max(1, len(data))
    used = counts[counts > 0]
    return float(-(used * np.log2(used)).sum())


def kill_one(server: Pulse, folder: Path, sound: Samples, after_s: float) -> None:
    """One session, killed so long (s) after its sound began, and completed."""
    place = folder / "log"
    with Log.open(place, now=lambda: datetime.now(UTC)) as log:
        log.put_dog(BRACKEN)
    at = ["--data-dir", str(place)]
    locked = ran([*CLI, "lock", "on", *at], server.environment, PASSPHRASE)
    assert locked.returncode == 0, locked.stderr
    printed, stages = folder / "printed.txt", folder / "stages.txt"
    command = [*LISTEN, str(stages), "listen", "--plain", "--earpiece", "--listener", "quick", *at]
    environment = {**server.environment, "VOICELOG_PASSPHRASE": PASSPHRASE}
    with (
        printed.open("w") as lines,
        subprocess.Popen(command, env=environment, stdout=lines, stderr=lines) as listen,
    ):
        try:
            until_s = time.monotonic() + READY_S
            while "Listening with" not in printed.read_text():
                assert listen.poll() is None, printed.read_text()
                assert time.monotonic() < until_s, printed.read_text()
                time.sleep(0.1)
            before_s = _at_s(stages)
            playing = server.play(sound)
            time.sleep(after_s)
        finally:
            listen.kill()
    playing.terminate()
    playing.wait(20.0)
    heard = [line.split("\t") for line in stages.read_text().splitlines()]
    kept = {rest[0] for _, kind, *rest in heard if kind == "kept"}
    last_s = max((float(when) for when, *_ in heard), default=before_s)
    tell_sound(place)
    resume = [*CLI, "listen", "--resume", "--listener", "quick", *at]
    for name, passphrase in (("nobody to ask", None), ("a wrong one", "wrong")):
        refused = ran(resume, server.environment, passphrase)
        assert "Traceback" not in refused.stderr, refused.stderr
        print(f"  {name}: status {refused.returncode}, {refused.stderr.strip()[-200:]!r}")
    status, shown = typed(resume, server.environment, PASSPHRASE)
    print(f"  typed: status {status}, {shown.strip().splitlines()[-1:]}")
    os.environ["VOICELOG_PASSPHRASE"] = PASSPHRASE
    with Log.open(place, now=lambda: datetime.now(UTC)) as log:
        (recording,) = log.recordings()
        events = {event.id for event in log.events(recording.id)}
        lost = kept - events
        print(
            f"  killed {after_s:.1f} s after the sound began: complete {recording.complete}, "
            f"{recording.duration_s:.1f} s kept, last seen at {last_s:.1f} s; "
            f"{len(kept)} notes kept before it, {len(lost)} lost"
        )
    del os.environ["VOICELOG_PASSPHRASE"]
    tell_sound(place)


def tell_sound(place: Path) -> None:
    """Print which files of a log hold sound in the open, and what grows."""
    for path in sorted(path for path in place.rglob("*") if path.is_file()):
        data = path.read_bytes()
        if data[:4] in (b"RIFF", b"fLaC"):
            print(f"  IN THE OPEN: {path.relative_to(place)}")
        elif path.suffix in (".wav", ".flac"):
            name = path.relative_to(place).parent
            print(f"  sealed in {name}: {len(data)} bytes, {bits_a_byte(data):.2f} bits a byte")


def _at_s(stages: Path) -> float:
    lines = stages.read_text().splitlines() if stages.exists() else []
    return float(lines[-1].split("\t")[0]) if lines else 0.0


def main(kills: int, seed: int) -> None:
    """Kill so many sessions, each on a log of its own."""
    chance, sound = random.Random(seed), narrated()
    for number in range(kills):
        after_s = chance.uniform(2.0, len(sound) / RATE)
        print(f"kill {number + 1}", flush=True)
        with tempfile.TemporaryDirectory() as name, pulse(Path(name)) as server:
            kill_one(server, Path(name), sound, after_s)
    print(f"machine: {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main(*(int(one) for one in (*sys.argv[1:], *("2", "5")[len(sys.argv) - 1 :])))
