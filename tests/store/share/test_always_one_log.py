"""Whatever devices do, in whatever order files come and however damaged: one log in the end."""

from __future__ import annotations

import os
import random
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event

from tests.store.share.kennel import DOGS, Device, carry, converge, view
from voicelog.store import database
from voicelog.store.integrity import check_integrity

DEEDS = ("add", "act", "act", "act", "put_in", "rehear", "roster", "matter", "poison")
RARE = ("delete", "delete_dog")


@contextmanager
def without_the_disk() -> Iterator[None]:
    """Nothing waits for the disk: power cuts are the matter of other tests."""
    engine = database._engine

    def quick(path: Path, *, migrating: bool = False) -> Any:
        made = engine(path, migrating=migrating)
        event.listen(made, "connect", lambda raw, _: raw.execute("PRAGMA synchronous = OFF"))
        return made

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(database, "_engine", quick)
        patch.setattr(os, "fsync", lambda _handle: None)
        yield


def lived(folder: Path, seed: int, steps: int = 30) -> list[Device]:
    """Three devices after a random history."""
    rng = random.Random(seed)
    years = rng.sample([1961, 2024, 2026, 2026, 2100, 2190], 3)
    devices = [Device(folder, name, year) for name, year in zip("abc", years, strict=True)]
    for one in devices:  # what was there before the share
        if rng.randrange(2):
            one.add(rng.randrange(3), rng.randrange(3), rng.choice(DOGS))
            one.act(rng)
    devices[0].join(make=True)
    for one in devices[1:]:
        carry(devices[0].share, one.share, rng, 1.0, 0.0)
        one.join()
    for _ in range(steps):
        one = rng.choice(devices)
        match rng.randrange(10):
            case 0 | 1 | 2:
                one.exchange()
                other = rng.choice([x for x in devices if x is not one])
                carry(one.share, other.share, rng, rng.choice([0.3, 0.7, 1.0]), 0.2)
            case 3:
                one.jump(rng.choice([-9000, -30, 30, 9000]))
            case 4 if rng.randrange(3) == 0:
                getattr(one, rng.choice(RARE))(rng)
            case _:
                deed = rng.choice(DEEDS)
                if deed == "add":
                    one.add(rng.randrange(3), rng.choice((0, 1, 2, 0, 1, 2, 3)), rng.choice(DOGS))
                else:
                    getattr(one, deed)(rng)
    return devices


@settings(max_examples=2, deadline=None, suppress_health_check=list(HealthCheck))
@given(seed=st.integers(0, 10_000_000))
def test_three_devices_come_to_one_log(seed: int) -> None:
    with tempfile.TemporaryDirectory() as folder, without_the_disk():
        devices = lived(Path(folder), seed)
        converge(devices)
        views = [view(one.log) for one in devices]
        faults = [check_integrity(one.log).faults for one in devices]
        for one in devices:
            one.log.close()
        assert views[0] == views[1] == views[2]
        assert faults == [(), (), ()]
