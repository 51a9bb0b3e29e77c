"""`voicelog learn`: honest while little was read, and the report. tests/rehear holds the count."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

pytest.importorskip("starlette", reason="the invented evenings need voicelog[review]")

from tests.cli.run import Voicelog
from tests.web.evening import keep, tone
from voicelog.model import Reading
from voicelog.store import Log

NOW = datetime(2026, 4, 20, tzinfo=UTC)
LINES = ("start session bracken", *["level five came"] * 24)


@pytest.fixture
def log(voicelog: Voicelog, tmp_path: Path) -> Iterator[Log]:
    voicelog("dogs", "handler", "Anna")
    folder = tmp_path / "data"
    (folder / "settings.toml").write_text("learn_entries = 20\n", encoding="utf-8")
    with Log.open(folder, now=lambda: NOW) as log:
        yield log


def read(log: Log, count: int) -> None:
    """A recording in which that many entries were read as "level nine came"."""
    recording = keep(log, LINES, sound=tone(1.0))
    log.append(
        [
            Reading(
                id=f"p-{number}",
                utterance=f"u-{recording[:12]}-{number:06d}",
                words="level nine came",
                by="person",
                who="Anna",
            )
            for number in range(1, count + 1)
        ]
    )


def test_under_the_number_set_it_says_how_many_are_missing(voicelog: Voicelog, log: Log) -> None:
    read(log, 7)
    done = voicelog("learn")
    assert done.code == 0
    assert "7 entries have been reviewed by a person so far; 13 more are needed" in done.out


def test_the_report_names_the_confusion_and_what_can_be_done(voicelog: Voicelog, log: Log) -> None:
    read(log, 24)
    told = " ".join(voicelog("learn").out.split())
    assert '"nine": heard as "five" 24 times of the 24 it was said' in told
    assert "of those marked sure: 0 of 24 (0%, 0% to 14%) right." in told
    found = json.loads(voicelog("learn", "--format", "json").out)
    assert (found["format"], found["read"], found["confusions"][0]["count"]) == (1, 24, 24)
