from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("starlette", reason="the page needs voicelog[review]")

from tests.web.evening import NOW, ROSTER
from voicelog.app.review.review_service import ReviewService
from voicelog.store import Log


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log with two dogs, to be copied."""
    folder = tmp_path_factory.mktemp("empty")
    with Log.open(folder, now=lambda: NOW) as log:
        for dog in ROSTER.dogs:
            log.put_dog(dog)
    return folder


@pytest.fixture
def log(tmp_path: Path, empty: Path) -> Iterator[Log]:
    shutil.copytree(empty, tmp_path / "log")
    with Log.open(tmp_path / "log", now=lambda: NOW) as log:
        yield log


@pytest.fixture
def service(log: Log) -> ReviewService:
    return ReviewService(log, lambda: NOW)
