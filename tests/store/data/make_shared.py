"""Make the test database of a log that is shared, once, when the newest schema revision is new.

    python -m tests.store.data.make_shared

Two devices of an invented kennel add, read, hear again and delete for a while. The database of one
is kept, and beside it what each of its segments says, as it has to for ever after. A file that is
there is never made again.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import random
import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.store.share.kennel import DOGS, Device
from voicelog.store.log import Log
from voicelog.store.schema import REVISIONS
from voicelog.store.share import tables
from voicelog.store.share.outbox import regenerated
from voicelog.store.share.segments import pack

__all__ = ["segments_of"]


def segments_of(log: Log) -> dict[str, str]:
    """The SHA-256 of the text of every segment that a log knows, by its id."""
    with log.reading() as connection:
        names = sorted(tables.segment_ids(connection))
        made = {name: pack(regenerated(connection, name)) for name in names}
    return {name: hashlib.sha256(gzip.decompress(data)).hexdigest() for name, data in made.items()}


def _worked(folder: Path) -> list[Device]:
    rng = random.Random(8)
    devices = [Device(folder, name, 2026 + at) for at, name in enumerate(("anna", "joe"))]
    devices[0].join(make=True)
    shutil.copytree(devices[0].share, devices[1].share)
    devices[1].join()
    for turn in range(12):
        one, other = devices[turn % 2], devices[1 - turn % 2]
        one.add(turn // 2, turn % 3, DOGS[turn % 2])
        one.act(rng)
        if turn == 5:
            one.rehear(rng)
        if turn == 8:
            one.delete(rng)
        one.exchange()
        shutil.copytree(one.share, other.share, dirs_exist_ok=True)
    for one in devices:
        one.exchange()
    return devices


def main() -> None:
    """Make it."""
    target = Path(__file__).with_name(f"shared_{REVISIONS[-1]}.sqlite3")
    if target.exists():
        sys.exit(f"{target} is there already, and stays as it is.")
    with TemporaryDirectory() as folder:
        anna = _worked(Path(folder))[0]
        told = segments_of(anna.log)
        events = {one.id: [e.id for e in anna.log.events(one.id)] for one in anna.log.recordings()}
        anna.log.close()
        target.write_bytes((anna.log.folder / "log.sqlite3").read_bytes())
    text = json.dumps({"segments": told, "events": events}, indent=1)
    target.with_suffix(".json").write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
