"""Two workers of a cluster against one process: the same events, how long each takes, and deaths.

    python -m tests.bench.cluster [--seconds 60] [--listener both]

Pieces of the demo are added four times: by one process, by two (--jobs 2), by two workers of a
scheduler (real processes on the loopback, over TLS), and by two workers of which one is killed
while it hears a first recording, and each that begins to hear another one. The first three have to
be equal, and the fourth but for the recording that kills, which has to be named. Where the last
digits of a probability differ, it is said how far.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from tests.app.dask_processes import tls_settings, workers
from tests.audio.making import encode
from tests.store.log_cases import CHILD
from voicelog.app.open_log import open_log
from voicelog.audio.files import blocks
from voicelog.audio.resampling import RATE
from voicelog.grammar.data_folders import data_folder
from voicelog.model import Event

__all__ = ["main"]

PROGRAM = (sys.executable, "-c", "from voicelog.cli import main; main()")


def _pieces(folder: Path, seconds: float) -> None:
    """Pieces of the demo of that length; one is of those that kill a worker once."""
    folder.mkdir()
    for number, path in enumerate(sorted(data_folder("demo_audio").glob("*/*.opus"))):
        sound = np.concatenate(list(blocks(path)))[: round(seconds * RATE)]
        name = "once" if number == 1 else f"piece{number}"
        encode(folder / f"{name}.flac", sound, RATE, "flac")


def _kills(folder: Path) -> None:
    """One more recording, whose sound is like none of the others."""
    sound = np.concatenate(list(blocks(folder / "piece0.flac")))
    encode(folder / "kills.flac", np.roll(sound, 7 * RATE)[: -11 * RATE], RATE, "flac")


_Kept = tuple[object, tuple[Event, ...]]
"""A recording's row, and its events."""


def _events(folder: Path) -> dict[str, _Kept]:
    with open_log(folder) as log:
        return {
            kept.file_name: (kept.model_dump(exclude={"added_at"}), tuple(log.events(kept.id)))
            for kept in log.recordings()
        }


def _likeness(one: Mapping[str, _Kept], other: Mapping[str, _Kept]) -> tuple[bool, str]:
    """Whether all is equal but for probabilities, and in words how equal that is."""
    if one == other:
        return True, "equal"
    if one.keys() != other.keys():
        return False, "other recordings"
    apart: list[float] = []
    for name, (row, told) in one.items():
        again, heard = other[name]
        if row != again or len(told) != len(heard):
            return False, f"{name} differs"
        for first, second in zip(told, heard, strict=True):
            a, b = first.model_dump(), second.model_dump()
            if a != b:
                apart.append(abs(a.pop("confidence", 0.0) - b.pop("confidence", 0.0)))
            if a != b:
                return False, f"an event of {name} differs"
    return True, f"equal but for {len(apart)} probabilities, by {max(apart):.4f} at most"


def _environment(root: Path) -> dict[str, str]:
    return CHILD | {
        f"DASK_{key.upper().replace('.', '__').replace('-', '_')}": value
        for key, value in tls_settings(root).items()
    }


def _added(root: Path, name: str, *options: str) -> tuple[float, str]:
    """Add the pieces to a log of that name; how long it took, s, and what was said as an error."""
    environment = _environment(root)
    data = ("--data-dir", str(root / name))
    subprocess.run(
        [*PROGRAM, "dogs", "put", "Bracken", *data],
        env=environment,
        check=True,
        capture_output=True,
    )
    began = time.monotonic()
    done = subprocess.run(
        [*PROGRAM, "add", str(root / "in"), "--dog", "Bracken", *options, *data],
        env=environment,
        capture_output=True,
        text=True,
    )
    return time.monotonic() - began, done.stderr


def main() -> int:
    """Run it and print what came of it; 1 where something differs."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--listener", default="both")
    given = parser.parse_args()
    heard = ("--listener", given.listener)
    with tempfile.TemporaryDirectory() as temporary:
        root = Path(temporary)
        _pieces(root / "in", given.seconds)
        one_s, _ = _added(root, "one", *heard)
        jobs_s, _ = _added(root, "jobs", *heard, "--jobs", "2")
        (root / "seen").write_text("once.flac\n")  # nothing dies at first
        with workers(root, nanny=True) as address:
            cluster = (*heard, "--cluster", address)
            _added(root, "warm", *cluster)  # workers load what hears when they first hear
            two_s, _ = _added(root, "two", *cluster)
            again = [*PROGRAM, "rehear", "--dry-run", *cluster, "--data-dir", str(root / "two")]
            settings = _environment(root)
            rehear = subprocess.run(again, env=settings, capture_output=True, text=True).stdout
            (root / "seen").unlink()
            _kills(root / "in")
            killed_s, said = _added(root, "killed", *cluster)
            died = (root / "seen").read_text().split()
        one, jobs, two, killed = (_events(root / name) for name in ("one", "jobs", "two", "killed"))
    events = sum(len(found) for _, found in one.values())
    print(f"{len(one)} recordings of {given.seconds:.0f} s, {events} events")
    print(f"one process   {one_s:6.1f} s")
    found = [_likeness(one, each) for each in (jobs, two, killed)]
    (_, as_jobs), (_, as_two), (_, as_killed) = found
    print(f"two processes {jobs_s:6.1f} s, {one_s / jobs_s:.2f} times as fast, {as_jobs}")
    print(f"two workers   {two_s:6.1f} s, {one_s / two_s:.2f} times as fast, {as_two}")
    unchanged = rehear.count("nothing changes")
    print(f"heard again   by the workers: {unchanged} of {len(one)} without a change")
    print(f"with deaths   {killed_s:6.1f} s, {as_killed}; died of: {' '.join(died)}")
    print(said.strip())
    named = "'kills.flac'" in said and set(died) == {"once.flac", "kills.flac"}
    return int(not (one == jobs and named and all(good for good, _ in found)))


if __name__ == "__main__":
    raise SystemExit(main())
