"""Make the test database of the newest schema revision, once, when the revision is new.

    python tests/store/data/make_revision.py

It fills a small invented log through the program itself, and writes beside the database
what must be read from it for ever after. A file that is there is never made again.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[3]))

from tests.store.log_cases import BRAMBLE, clock, one_of_each, recording, spoken
from voicelog.model import Dog, MatterEvent
from voicelog.store import CacheRow, Log
from voicelog.store.schema import REVISIONS


def fill(log: Log) -> None:
    morning = recording()
    log.put_dog(Dog(name="Bramble"))
    log.put_dog(Dog(name="Thorn"))
    log.put_handler("Wren")
    log.begin_recording(morning)
    log.append(one_of_each(morning.id))
    log.finish_recording(morning.id)
    log.put_dog(BRAMBLE)
    log.remove_dog("Thorn")
    log.begin_recording(recording(id="live-1", sha256=None, sound=None, started_at=clock()))
    log.append(spoken("live-1", 1))
    log.append_matters(
        [
            MatterEvent(
                id="m-1", do="close", kind="stop", entries=("u1",), who="Wren", reason="fit checked"
            )
        ]
    )
    log.derived_put(
        morning.id, [CacheRow(key="s1", recording=morning.id, stamp="6", dog="Bramble")]
    )


def read(log: Log) -> dict[str, Any]:
    """Everything that may not be lost, as JSON values."""
    kept, found = log.recordings(), log.matter_events()
    return {
        "recordings": [one.model_dump(mode="json") for one in kept],
        "events": {
            one.id: [event.model_dump(mode="json") for event in log.events(one.id)] for one in kept
        },
        "roster": log.roster().model_dump(mode="json"),
    } | ({"matters": [one.model_dump(mode="json") for one in found]} if found else {})


if __name__ == "__main__":
    target = Path(__file__).with_name(f"revision_{REVISIONS[-1]}.sqlite3")
    if target.exists():
        sys.exit(f"{target} is there already, and stays as it is.")
    with TemporaryDirectory() as folder:
        with Log.open(Path(folder), now=clock) as log:
            fill(log)
            content = json.dumps(read(log), indent=1, ensure_ascii=False)
        target.write_bytes((Path(folder) / "log.sqlite3").read_bytes())
        target.with_suffix(".json").write_text(content + "\n", encoding="utf-8")
