"""What is derived can be listed without its bodies, and goes stale behind a change."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.store.log_cases import clock, recording, sha, spoken
from voicelog.store import CacheRow, Log, SessionFilter

START = datetime(2026, 3, 1, 7, 30)


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path, now=clock) as log:
        yield log


def row(name: str, days: int = 0, **changes: object) -> CacheRow:
    """A session's row in the recording called `name`, as many days after the first."""
    moment = START + timedelta(days=days)
    whole = {
        "key": f"{name}.s",
        "recording": sha(name),
        "stamp": "p/1",
        "dog": "Bramble",
        "day": moment.date(),
        "moment": moment,
        "counts": {"reps": 3, "look": 0},
        "words": f"bramble recall {name}.wav",
        "trace": f"trace of {name}",
    }
    return CacheRow.model_validate(whole | changes)


def keep(log: Log, name: str, *rows: CacheRow) -> None:
    log.begin_recording(recording(name, started_at=rows[0].moment if rows else START))
    log.derived_put(sha(name), rows)


def keys(log: Log, **wanted: object) -> list[str]:
    return [row.key for row in log.headings(SessionFilter.model_validate(wanted)).rows]


def stale_keys(log: Log) -> list[str]:
    return [row.key for row in log.headings(SessionFilter()).rows if row.stale]


@pytest.fixture
def three_days(log: Log) -> Log:
    for days, name in enumerate(("a", "b", "c")):
        keep(log, name, row(name, days), row(name, days, key=f"{name}.t", dog="Thorn"))
    return log


def test_a_list_is_newest_first_and_comes_in_stretches(three_days: Log) -> None:
    first = three_days.headings(SessionFilter(dog="Bramble"), limit=2)
    assert ([one.key for one in first.rows], first.total) == (["c.s", "b.s"], 3)
    rest = three_days.headings(SessionFilter(dog="Bramble"), limit=2, skip=2)
    assert ([one.key for one in rest.rows], rest.total) == (["a.s"], 3)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({"since": "2026-03-02", "until": "2026-03-02"}, ["two.s"]),
        ({"worst": "stop"}, ["two.s"]),
        ({"check": True}, ["one.s"]),
        ({"text": "RECALL  two"}, ["two.s"]),
        ({"text": "recall marsh"}, []),
        ({"text": "100%"}, []),
        ({"text": "_"}, []),
        ({"dog": "Bramble' OR 1=1 --"}, []),
    ],
)
def test_a_list_is_narrowed(log: Log, wanted: dict[str, object], found: list[str]) -> None:
    keep(log, "one", row("one", counts={"reps": 3, "look": 2}))
    keep(log, "two", row("two", 1, worst="stop"))
    assert keys(log, **wanted) == found


def test_a_recording_without_sessions_is_listed_and_one_with_some_is_not(log: Log) -> None:
    head: dict[str, Any] = {"dog": None, "trace": ""}
    keep(log, "one", row("one", key=sha("one"), counts={"sessions": 0}, **head))
    keep(log, "two", row("two", key=sha("two"), counts={"sessions": 1}, **head), row("two"))
    assert keys(log) == ["two.s", sha("one")]


def test_dogs_come_by_first_appearance(log: Log) -> None:
    keep(log, "one", row("one", 2, dog="Bramble"))
    keep(log, "two", row("two", 1, dog="Thorn"))
    assert log.listed_dogs() == ("Thorn", "Bramble")


def test_a_changed_trace_makes_that_dogs_later_sessions_stale_and_no_others(
    three_days: Log,
) -> None:
    three_days.derived_put(
        sha("b"), [row("b", 1, trace="other"), row("b", 1, key="b.t", dog="Thorn")]
    )
    assert stale_keys(three_days) == ["c.s"]


def test_the_same_trace_again_makes_nothing_stale(three_days: Log) -> None:
    same = [row("a", words="new"), row("a", key="a.t", dog="Thorn")]
    three_days.derived_put(sha("a"), same)
    assert stale_keys(three_days) == []


@pytest.mark.parametrize(("days", "stale"), [(1, ["c.s"]), (-1, ["c.s", "b.s", "a.s"])])
def test_a_session_that_comes_in_late_makes_those_after_it_stale(
    three_days: Log, days: int, stale: list[str]
) -> None:
    keep(three_days, "late", row("late", days, moment=START + timedelta(days=days, hours=1)))
    assert stale_keys(three_days) == stale


def test_a_session_that_moves_in_time_makes_stale_what_comes_after_both_places(
    three_days: Log,
) -> None:
    three_days.derived_put(sha("c"), [row("c", 0, moment=START + timedelta(hours=1))])
    assert stale_keys(three_days) == ["b.s"]


def test_traces_are_those_before_a_moment_in_other_recordings(three_days: Log) -> None:
    third = START + timedelta(days=2)
    assert three_days.traces("Bramble", before=third, but=sha("c")) == ("trace of a", "trace of b")
    assert three_days.traces("Bramble", before=third, but=sha("a")) == ("trace of b",)
    assert three_days.traces("Nobody", before=third, but="") == ()


def test_the_session_before_is_the_same_dogs(three_days: Log) -> None:
    last = row("c", 2)
    assert three_days.derived_before(last) == row("b", 1)
    assert three_days.derived_before(row("a")) is None


def test_what_is_not_good_is_named_oldest_first(log: Log) -> None:
    for days, name in ((1, "b"), (0, "a")):
        keep(log, name, row(name, days))
    assert log.stale("p") == ()  # neither is complete
    for name in ("a", "b"):
        log.finish_recording(sha(name))
    assert log.stale("p") == (sha("a"), sha("b"))
    head: dict[str, Any] = {"dog": None, "trace": "", "stamp": "p/0"}
    for days, name in ((0, "a"), (1, "b")):
        log.derived_put(sha(name), [row(name, days, key=sha(name), **head), row(name, days)])
    # "b" went stale when the trace of "a" came in, and is derived anew after it
    assert log.stale("p") == ()
    assert log.stale("another program") == (sha("a"), sha("b"))
    log.append(spoken(sha("a"), 1))
    assert log.stale("p") == (sha("a"),)
    changed = row("a", trace="other")
    stamp = f"p/{log.event_seq(sha('a'))}"
    log.derived_put(sha("a"), [row("a", key=sha("a"), **(head | {"stamp": stamp})), changed])
    assert log.stale("p") == (sha("b"),)
