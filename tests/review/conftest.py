from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("starlette", reason="the page needs voicelog[review]")

from tests.review.evening import NOW, ROSTER
from voicelog.log import Log
from voicelog.review.desk import Desk


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=lambda: NOW) as log:
        for dog in ROSTER.dogs:
            log.put_dog(dog)
        yield log


@pytest.fixture
def desk(log: Log) -> Desk:
    return Desk(log, lambda: NOW)
