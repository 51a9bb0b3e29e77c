"""`voicelog learn`: honest while little was read, the report, and a way tried and kept.

What is heard again is given here; tests/rehear holds the counting.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

pytest.importorskip("starlette", reason="the invented evenings need voicelog[review]")

from tests.cli.run import Voicelog
from tests.review.evening import keep, tone
from voicelog.log import Kept, Log
from voicelog.model import Reading
from voicelog.rehear import Difference, Score
from voicelog.rehear.ways import Way

NOW = datetime(2026, 4, 20, tzinfo=UTC)
LINES = ("start session bracken", *["level five came"] * 24)
TRY = ("learn", "--try", "nine", "--like", "noin")


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


@pytest.fixture
def again(monkeypatch: pytest.MonkeyPatch) -> list[Way | None]:
    """Every hearing asked for; with a way 20 of 24 are right, without one none is."""
    asked: list[Way | None] = []

    def heard(folder: Path, listener: object, kept: Kept, way: Way | None = None) -> Difference:
        asked.append(way)
        after = Score(right=20, offered=4) if way else Score(wrong=24)
        return Difference(recording=kept.id, after=after)

    monkeypatch.setattr("voicelog.cli.learn.again", heard)
    return asked


def test_under_the_number_set_it_says_how_many_are_missing(voicelog: Voicelog, log: Log) -> None:
    read(log, 7)
    done = voicelog("learn")
    assert done.code == 0
    assert "7 entries have been read by a person, wanted 20" in done.out
    assert "13 more" in done.out
    assert voicelog(*TRY).out == done.out


def test_the_report_names_the_confusion_and_what_can_be_done(voicelog: Voicelog, log: Log) -> None:
    read(log, 24)
    told = " ".join(voicelog("learn").out.split())
    assert '"nine": heard as "five" 24 times of the 24 it was said' in told
    assert "of those marked sure: 0 of 24 (0%, 0% to 14%) right." in told
    assert "voicelog learn --try nine" in told
    found = json.loads(voicelog("learn", "--format", "json").out)
    assert (found["format"], found["read"], found["confusions"][0]["count"]) == (1, 24, 24)


def test_a_way_is_tried_against_the_usual_and_kept_only_when_told(
    voicelog: Voicelog, log: Log, again: list[Way | None]
) -> None:
    read(log, 24)
    done = voicelog(*TRY)
    way = Way(word="nine", phones="N OY N")
    assert again == [None, way]
    assert "sure and right                                0 without    20 with it" in done.out
    assert "sure and wrong                               24 without     0 with it" in done.out
    assert "Not kept" in done.out
    assert log.voices() == ()
    assert "Kept for Anna" in voicelog(*TRY, "--keep").out
    (kept,) = log.voices()
    assert (kept.handler, kept.variants) == ("Anna", {"nine": ("N OY N",)})


def test_what_gains_nothing_is_not_kept(
    voicelog: Voicelog, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    read(log, 24)
    same = Score(right=20, wrong=4)
    monkeypatch.setattr(
        "voicelog.cli.learn.again",
        lambda folder, listener, kept, way=None: Difference(recording=kept.id, after=same),
    )
    assert "nothing to keep" in voicelog(*TRY, "--keep").out
    assert log.voices() == ()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--try", "nine", "--as", "Zoe"), "Found no handler 'Zoe', wanted one of the roster"),
        (("--try", "zebra"), "Found 'zebra' to try, wanted one word that may be spoken"),
        (("--try", "nine", "--like", "nine"), "'nine' is the usual one"),
        (("--keep",), "add --try WORD"),
    ],
)
def test_what_cannot_be_tried_is_one_sentence(
    voicelog: Voicelog, log: Log, asked: tuple[str, ...], said: str
) -> None:
    read(log, 24)
    done = voicelog("learn", *asked)
    assert done.code != 0
    assert said in done.err
    assert "Traceback" not in done.err
