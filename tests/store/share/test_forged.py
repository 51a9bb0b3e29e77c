"""Whatever a segment says, sealed as it may be: taken, kept for later or set aside, and no more."""

from __future__ import annotations

import json
import random
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.share.kennel import Device, carry
from tests.store.share.test_always_one_log import without_the_disk
from voicelog.app.session_catalog import SessionCatalog
from voicelog.store.share.differences import share_differences
from voicelog.store.share.items import read_item
from voicelog.store.share.place import SharePlace
from voicelog.store.share.segments import SealedSegment

STRANGE: tuple[Any, ...] = (
    None, "", "x" * 500, "\u202e", "#", -1, 0, 1e308, 2**63, True, [], {}, [[]], {"a": 1},
    "2026-02-30", "9999-12-31T23:59:59.999999Z", "rewind", "event", "0" * 64,
)  # fmt: skip


def bent(value: Any, rng: random.Random) -> Any:
    """The value with one thing in it replaced, left out or put in."""
    if isinstance(value, dict) and value and rng.random() < 0.85:
        key = rng.choice(sorted(value))
        if rng.random() < 0.1:
            return {name: one for name, one in value.items() if name != key}
        return {**value, key: bent(value[key], rng)}
    if isinstance(value, list) and value and rng.random() < 0.85:
        place = rng.randrange(len(value))
        return [*value[:place], bent(value[place], rng), *value[place + 1 :]]
    if isinstance(value, str) and value[:1] in "[{" and value and rng.random() < 0.5:
        return json.dumps(bent(json.loads(value), rng))
    return rng.choice(STRANGE)


def forged(segment: SealedSegment, rng: random.Random) -> SealedSegment:
    items = list(segment.items)
    for _ in range(rng.randrange(1, 4)):
        place = rng.randrange(len(items))
        line = {"kind": items[place].kind, "at": items[place].at, "body": items[place].body}
        line["body" if rng.random() < 0.9 else "at"] = bent(line["body"], rng)
        try:
            items[place] = read_item(json.dumps(line).encode())
        except (ValueError, TypeError, KeyError):
            continue
    return segment.model_copy(update={"items": tuple(items)})


@settings(max_examples=2, deadline=None, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 1_000_000))
def test_what_is_forged_costs_no_command(seed: int) -> None:
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder, without_the_disk():
        sender, receiver = (Device(Path(folder), name, 2026) for name in "ab")
        sender.add(1, 0, "Bramble")
        for deed in (sender.act, sender.put_in, sender.roster, sender.matter, sender.rehear):
            deed(rng)
        sender.join(make=True)
        sender.exchange()
        sender.delete(rng)
        sender.exchange()
        carry(sender.share, receiver.share, rng, 1.0, 0.0)
        place = SharePlace.open(receiver.share, receiver.log.folder, make=False)
        for file in list(place.files()):
            segment = place.read(file)
            if segment.items:
                file.path.unlink()
                place.write(forged(segment, rng), segment.header.device)
        receiver.join()
        receiver.add(1, 1, "Thorn")
        receiver.act(rng)
        done = receiver.exchange()
        assert all(str(error).count("\n") == 0 for error in done.aside)
        catalog = SessionCatalog(receiver.log)
        catalog.refresh()
        assert catalog.lines() is not None
        assert catalog.matters() is not None
        assert share_differences(receiver.log) is not None
        receiver.roster(rng)
        receiver.exchange()
        for one in (sender, receiver):
            one.log.close()
