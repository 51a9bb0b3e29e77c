"""What a lock costs: one log plain and locked, the same commands after one another; and kills.

    python -m tests.bench.locked [--sessions 500] [--times 3]
    python -m tests.bench.locked --kills 40

The log is invented (`many_sessions`), with 100 MB of noise as sound beside it; it is copied, and
the copy is locked. Each command runs in a process of its own and prints CPU and wall seconds, the
median of `--times`; both are taken after one another each time, so that another's load falls on
both. `open` is the opening of the log alone, in this process, with the key known; the guess at a
passphrase (scrypt) is printed apart, since every command pays it once where no keyring does.
`--kills` locks a log and takes the lock off in a process that is killed at a random moment, and
opens it after each: everything must be there, and nothing in plain while it is locked.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from statistics import median

from tests.bench.many_sessions import DOGS, make
from voicelog.audio.locked_files import open_bytes, passphrase_key
from voicelog.store import Log, sound_files
from voicelog.store.integrity import check_integrity
from voicelog.store.locking import lock_log
from voicelog.store.log_lock import PASSPHRASE, note_log_key

WORDS = "four plain words here"
SOUND = 100 << 20
_CLI = "from voicelog.cli import main; main()"
_TURN = """
import sys
from pathlib import Path
from voicelog.store.locking import lock_log, take_lock_off
from voicelog.store.log_lock import KEY_FILE, unlock
folder, words = Path(sys.argv[1]), sys.argv[2]
print("ready", flush=True)
if (folder / KEY_FILE).exists():
    unlock(folder)
    take_lock_off(folder)
else:
    lock_log(folder, words)
"""

Cost = tuple[float, float]
"""CPU and wall seconds."""


def now() -> datetime:
    return datetime.now().astimezone()


def of(work: Callable[[], object], who: int = resource.RUSAGE_SELF) -> Cost:
    """What some work costs this process, or its children."""
    before, start = resource.getrusage(who), time.perf_counter()
    work()
    after, wall = resource.getrusage(who), time.perf_counter() - start
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall


def command(folder: Path, *arguments: object) -> Cost:
    line = [sys.executable, "-c", _CLI, *map(str, arguments), "--data-dir", str(folder)]
    run = subprocess.run
    return of(
        lambda: run(line, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL),
        resource.RUSAGE_CHILDREN,
    )


def opened(folder: Path) -> Cost:
    def work() -> None:
        Log.open(folder, now=now).close()

    return of(work)


def sound_read(folder: Path) -> Cost:
    place = folder / "locked" if (folder / "locked").is_dir() else folder / "sound"
    (path,) = place.glob("*.wav")

    def work() -> None:
        with open_bytes(path) as file:
            while file.read(1 << 20):
                pass

    return of(work)


def costs(sessions: int, times: int) -> None:
    """Print what each command costs, plain and locked."""
    with tempfile.TemporaryDirectory() as name:
        plain, locked = Path(name) / "plain", Path(name) / "locked-log"
        make(plain, sessions=sessions)
        noise = Path(name) / "noise.wav"
        noise.write_bytes(random.Random(1).randbytes(SOUND))
        with Log.open(plain, now=now) as log:
            log.store_sound(noise, sound_files.sha256_of(noise))
        words = Path(name) / "words.tsv"
        words.write_text(f"0\t2\tstart session {DOGS[0]}\n4\t6\there level three came\n")
        shutil.copytree(plain, locked)
        cpu, wall = of(lambda: lock_log(locked, WORDS))
        held = sum(path.stat().st_size for path in plain.rglob("*") if path.is_file())
        held_so = sum(path.stat().st_size for path in locked.rglob("*") if path.is_file())
        print(
            f"{sessions} sessions and 100 MB of sound; locking took {cpu:.2f} s CPU, {wall:.1f} s"
        )
        print(f"on the disk: {held / 1e6:.1f} MB plain, {held_so / 1e6:.1f} MB locked")
        guess = of(lambda: passphrase_key(WORDS, bytes(16)))
        print(f"one passphrase: {guess[0]:.2f} s CPU, {guess[1]:.2f} s")
        os.environ[PASSPHRASE] = WORDS
        day = iter(range(1, 100))

        def add(folder: Path) -> Cost:
            at = f"2024-02-{next(day) // 2 % 28 + 1:02d}T07:30"
            return command(folder, "add", "--typed", words, "--at", at)

        def correct(folder: Path) -> Cost:
            change = ("--entry", 2, "--words", "here level two came", "--as", "Anna")
            return command(folder, "correct", DOGS[0], *change)

        measured: dict[str, Callable[[Path], Cost]] = {
            "open": opened,
            "100 MB read": sound_read,
            "add": add,
            "summary": lambda folder: command(folder, "summary", DOGS[0]),
            "correct": correct,
        }
        print(f"{'':12}{'plain CPU':>11}{'wall':>8}{'locked CPU':>12}{'wall':>8}")
        for what, work in measured.items():
            found: tuple[list[Cost], list[Cost]] = ([], [])
            for _ in range(times):
                for folder, into in zip((plain, locked), found, strict=True):
                    into.append(work(folder))
            row = [median(one[at] for one in into) for into in found for at in (0, 1)]
            print(f"{what:12}{row[0]:11.3f}{row[1]:8.3f}{row[2]:12.3f}{row[3]:8.3f}")


def kills(count: int) -> int:
    """Lock and unlock under kills; how often something was lost or lay in plain."""
    chance, wrong, turns = random.Random(22), 0, {True: 0, False: 0}
    os.environ[PASSPHRASE] = WORDS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "log"
        make(folder, sessions=300)
        shutil.rmtree(folder / "templates")  # of the maker, and no part of the log
        noise = Path(name) / "noise.wav"
        for seed in range(12):
            noise.write_bytes(b"RIFF" + random.Random(seed).randbytes(4 << 20))
            with Log.open(folder, now=now) as log:
                log.store_sound(noise, sound_files.sha256_of(noise))
        with Log.open(folder, now=now) as log:
            before = (log.event_count(), len(check_integrity(log).loose))
        for _ in range(count):
            line = [sys.executable, "-c", _TURN, str(folder), WORDS]
            with subprocess.Popen(line, stdout=subprocess.PIPE) as child:
                assert child.stdout is not None
                child.stdout.readline()
                time.sleep(chance.uniform(0.0, 3.0))
                child.kill()
            note_log_key(folder, None)
            with Log.open(folder, now=now) as log:
                found = check_integrity(log)
                good = (log.event_count(), len(found.loose)) == before and not found.changed
                turns[log.locked] += 1
                if log.locked:
                    texts = (b"RIFF", b"SQLite format", DOGS[0].encode())
                    files = [path for path in folder.rglob("*") if path.is_file()]
                    good &= not any(one in path.read_bytes() for path in files for one in texts)
            wrong += not good
    print(
        f"{count} kills: {turns[True]} times locked after it, {turns[False]} plain; {wrong} wrong"
    )
    return wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--sessions", type=int, default=500)
    parser.add_argument("--times", type=int, default=3)
    parser.add_argument("--kills", type=int)
    given = parser.parse_args()
    if given.kills is not None:
        return int(kills(given.kills) > 0)
    costs(given.sessions, given.times)
    return 0


if __name__ == "__main__":
    sys.exit(main())
