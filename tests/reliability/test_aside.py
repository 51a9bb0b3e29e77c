"""What cannot be derived costs one recording, is named each time, and never stops the rest."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeAlias

import pytest

from tests.cli.run import Result, Voicelog, caller, made_once, typed_file
from voicelog.store import Log
from voicelog.store.bagit import open_bagit, write_bagit
from voicelog.store.commit_time import COMMIT_TIME_PATTERN, CommitClock

NOW = datetime(2026, 4, 20, 20, 0, tzinfo=UTC)
GOOD = ("start session bracken", "here level three came", "here no button came")
BAD = ("start session bracken", "here level four yelped", "came")
LAST = "9999-12-31T23:59:59.999999Z"

Row: TypeAlias = dict[str, Any]
Told: TypeAlias = list[dict[str, Any]]
Spoil = Callable[[Row, Told], None]


def newer_settings(row: Row, told: Told) -> None:
    row["settings"] = {"a_newer_threshold": 3}


def end_of_the_calendar(row: Row, told: Told) -> None:
    row["started_at"] = "9999-12-31T23:59:58"
    told[-1]["committed_at"] = LAST


def absurd_times(row: Row, told: Told) -> None:
    for one in told:
        if one["event"]["event"] == "utterance":
            one["event"] |= {"start_s": 1e300, "end_s": 1e300}


def newer_profile(row: Row, told: Told) -> None:
    row["roster"]["dogs"][0]["a_newer_field"] = 1


SPOILS: dict[str, Spoil] = {
    "newer settings": newer_settings,
    "the year 9999": end_of_the_calendar,
    "absurd times": absurd_times,
    "newer profile": newer_profile,
}


@made_once
def good_session(run: Voicelog, folder: Path) -> None:
    run("dogs", "put", "Bracken", "--top", "20")
    good = typed_file(folder, *GOOD, name="good.tsv")
    assert run("add", "--typed", good, "--at", "2026-04-17T07:30").code == 0


@pytest.fixture
def voicelog(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Voicelog:
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "data"))
    run = caller(monkeypatch, capsys)
    good_session(run, tmp_path)
    return run


def bundle(voicelog: Voicelog, folder: Path, spoil: Spoil) -> Path:
    """A bundle of a session that was spoiled on its way."""
    sender = ("--data-dir", folder / "sender")
    voicelog("dogs", "put", "Bracken", "--top", "20", *sender)
    bad = typed_file(folder, *BAD, name="bad.tsv")
    voicelog("add", "--typed", bad, "--at", "2026-04-18T07:30", *sender)
    voicelog("export", folder / "sent", "--format", "bundle", "--dog", "Bracken", *sender)
    with open_bagit(folder / "sent" / "bracken.zip") as bag:
        row = json.loads(next(iter(bag.lines("recordings.jsonl"))))
        told = [json.loads(line) for line in bag.lines("events.jsonl")]
    spoil(row, told)
    row["sound"] = None
    path = folder / "spoiled.zip"
    with write_bagit(path, NOW, {"External-Description": "invented"}) as bag:
        bag.add_text("recordings.jsonl", [json.dumps(row)])
        bag.add_text("events.jsonl", list(map(json.dumps, told)))
    return path


def put_into(database: Path, name: str, spoil: Spoil) -> None:
    """Spoil a recording within the log, as another program would have written it."""
    with closing(sqlite3.connect(database)) as other, other:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        triggers = other.execute(query).fetchall()
        for trigger, _ in triggers:
            other.execute(f"DROP TRIGGER {trigger}")
        seq, recording, *columns = other.execute(
            "SELECT seq, id, settings, started_at, roster FROM recordings WHERE file_name = ?",
            (name,),
        ).fetchone()
        row = {"settings": json.loads(columns[0]), "started_at": columns[1]}
        row["roster"] = _whole_roster(other, json.loads(columns[2]))
        rows = other.execute(
            "SELECT seq, body, committed_at FROM events WHERE recording = ? ORDER BY seq",
            (recording,),
        ).fetchall()
        told = [{"seq": n, "event": json.loads(body), "committed_at": at} for n, body, at in rows]
        spoil(row, told)
        other.execute(
            "UPDATE recordings SET settings = ?, started_at = ?, roster = ? WHERE seq = ?",
            (json.dumps(row["settings"]), row["started_at"], json.dumps(row["roster"]), seq),
        )
        for one in told:
            other.execute(
                "UPDATE events SET body = ?, committed_at = ? WHERE seq = ?",
                (json.dumps(one["event"]), one["committed_at"], one["seq"]),
            )
        other.execute("DELETE FROM derived")
        for _, made in triggers:
            other.execute(made)


def _whole_roster(other: sqlite3.Connection, name: str | Row) -> Row:
    if not isinstance(name, str):  # spoiled before
        return name

    def body(one: str) -> Row:
        found = other.execute("SELECT body FROM contents WHERE hash = ?", (one,)).fetchone()
        whole: Row = json.loads(found[0])
        return whole

    roster = body(name)
    return {**roster, "dogs": [body(one) for one in roster["dogs"]]}


def every_command(voicelog: Voicelog, folder: Path) -> dict[str, Result]:
    another = typed_file(folder, *GOOD, name="another.tsv")
    commands: dict[str, tuple[object, ...]] = {
        "summary": ("summary", "--all"),
        "progress": ("progress", "Bracken", "--on", "2026-04-20"),
        "plan": ("plan", "Bracken", "--on", "2026-04-20"),
        "kennel": ("kennel", "--on", "2026-04-20"),
        "export json": ("export", folder / "out"),
        "export csv": ("export", folder / "out", "--format", "csv"),
        "export record": ("export", folder / "out", "--format", "record"),
        "export bundle": ("export", folder / "out", "--format", "bundle", "--dog", "Bracken"),
        "rebuild": ("rebuild",),
        "learn": ("learn",),
        "add": ("add", "--typed", another, "--at", "2026-04-19T07:30"),
        "owner": ("owner", "Bracken", "--on", "2026-04-20", "--output", folder / "owner.pdf"),
        "delete sound": ("delete", "sound", "--older-than", "1", "--yes"),
        "check": ("check",),
        "backup": ("backup", folder / "backup.zip"),
    }
    return {name: voicelog(*command) for name, command in commands.items()}


@pytest.mark.parametrize("kind", SPOILS)
def test_a_bundle_that_does_not_derive_leaves_the_log_as_it_was(
    voicelog: Voicelog, tmp_path: Path, kind: str
) -> None:
    before = voicelog("summary", "--all")
    taken = voicelog("add", bundle(voicelog, tmp_path, SPOILS[kind]))
    assert taken.code == 1
    assert taken.err.count("\n") == 1, taken.err
    assert "spoiled.zip" in taken.err
    assert voicelog("summary", "--all") == before
    assert voicelog("check").code == 0
    for name, result in every_command(voicelog, tmp_path).items():
        assert (name, result.code, result.err) == (name, 0, "")


@pytest.mark.parametrize("kind", SPOILS)
def test_what_is_in_the_log_and_does_not_derive_is_named_and_all_else_works(
    voicelog: Voicelog, tmp_path: Path, kind: str
) -> None:
    bad = typed_file(tmp_path, *BAD, name="bad.tsv")
    voicelog("add", "--typed", bad, "--at", "2026-04-18T07:30")
    put_into(tmp_path / "data" / "log.sqlite3", "bad.tsv", SPOILS[kind])
    for name, result in every_command(voicelog, tmp_path).items():
        said = [line for line in result.err.splitlines() if "bad.tsv" in line]
        assert len(said) == (0 if name == "backup" else 1), (name, result)
        assert result.code == (1 if name == "check" else 0), (name, result)
    assert "17 Apr 2026" in voicelog("summary", "--all").out
    assert "19 Apr 2026" in voicelog("summary", "--all").out
    assert voicelog("check").err.startswith("voicelog: bad.tsv is set aside and counts nowhere (")

    restored = voicelog("restore", tmp_path / "backup.zip", "--data-dir", tmp_path / "new")
    assert restored.code == 1
    assert "2 new recordings" in restored.out
    assert restored.err.startswith(
        "voicelog: Left out, since this voicelog cannot work with it: bad.tsv ("
    )

    refused = voicelog("delete", "dog", "Bracken", "--yes")
    assert (refused.code, "voicelog delete aside" in refused.err) == (1, True)
    assert voicelog("delete", "aside", "--yes").code == 0
    assert voicelog("check").code == 0
    assert voicelog("delete", "dog", "Bracken", "--yes").code == 0


def test_the_page_lists_the_rest_and_names_what_is_set_aside(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    pytest.importorskip("starlette", reason="the page needs voicelog[review]")
    from starlette.testclient import TestClient

    from voicelog.app.review.review_service import ReviewService
    from voicelog.web.app import make_app

    bad = typed_file(tmp_path, *BAD, name="bad.tsv")
    voicelog("add", "--typed", bad, "--at", "2026-04-18T07:30")
    put_into(tmp_path / "data" / "log.sqlite3", "bad.tsv", newer_settings)
    with Log.open(tmp_path / "data", now=lambda: NOW) as log:
        service = ReviewService(log, lambda: NOW)
        assert service.refresh_stale() == 2
        assert service.refresh_stale() == 0, "what is set aside is not tried again and again"
        (aside,) = service.session_catalog.asides()
        made = make_app(service, hosts=["testserver"], token="token", who="Anna")
        with TestClient(made, raise_server_exceptions=False) as client:
            text = client.get("/").text
            alone = client.get(f"/session/{aside}")
        made.state.clips.close()
    assert "Fri 17 Apr 2026" in text
    assert "bad.tsv is set aside and counts nowhere" in text
    assert alone.status_code < 500
    assert "a_newer_threshold" in alone.text


def test_what_was_set_aside_comes_back_with_a_program_that_knows_it(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    bad = typed_file(tmp_path, *BAD, name="bad.tsv")
    voicelog("add", "--typed", bad, "--at", "2026-04-18T07:30")
    database = tmp_path / "data" / "log.sqlite3"
    put_into(database, "bad.tsv", newer_settings)
    assert "Apr 18" not in voicelog("summary", "--all").out
    put_into(database, "bad.tsv", lambda row, _told: row.update(settings={}))
    after = voicelog("summary", "--all")
    assert "18 Apr 2026" in after.out
    assert after.err == ""


def test_settings_of_a_backup_that_are_not_good_are_left_out(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    (tmp_path / "data" / "settings.toml").write_text("press_s = 2.0\n")
    voicelog("backup", tmp_path / "b.zip")
    with open_bagit(tmp_path / "b.zip") as bag:
        parts = {name: b"".join(bag.chunks(name)) for name in bag.names}
    parts["settings.toml"] = b"a_newer_threshold = 3\n"
    with write_bagit(tmp_path / "newer.zip", NOW, {"External-Description": "invented"}) as writer:
        for name, body in parts.items():
            (tmp_path / "part").write_bytes(body)
            writer.add_file(name, tmp_path / "part")
    new = ("--data-dir", tmp_path / "new")
    restored = voicelog("restore", tmp_path / "newer.zip", *new)
    assert restored.code == 1
    assert "1 new recording" in restored.out
    assert "settings.toml (" in restored.err
    assert "a_newer_threshold" in restored.err
    assert voicelog("summary", "--all", *new).code == 0


def test_times_of_commit_go_on_after_the_last_of_the_calendar() -> None:
    stamps = CommitClock("9999-12-31T23:59:59.999998Z")
    found = [stamps.of(NOW) for _ in range(12)]
    assert found[0] == LAST
    assert found == sorted(set(found))
    assert all(COMMIT_TIME_PATTERN.fullmatch(one) for one in found)
    assert CommitClock(found[-1]).of(NOW) > found[-1]


@pytest.mark.parametrize("by", ["bundle", "database"])
def test_the_newest_word_stands_also_after_the_last_stamp(
    voicelog: Voicelog, tmp_path: Path, by: str
) -> None:
    """One event with the last stamp there is: the recording derives, and can be corrected."""

    def last_stamp(_row: Row, told: Told) -> None:
        told[-1]["committed_at"] = LAST

    if by == "bundle":
        assert voicelog("add", bundle(voicelog, tmp_path, last_stamp)).code == 0
    else:
        voicelog("add", "--typed", typed_file(tmp_path, *BAD, name="bad.tsv"))
        put_into(tmp_path / "data" / "log.sqlite3", "bad.tsv", last_stamp)
    again = ("add", "--typed", tmp_path / "bad.tsv", "--redate", "--at")
    for day in ("2026-04-11T08:00", "2026-04-12T08:00", "2026-04-13T08:00"):
        assert voicelog(*again, day).code == 0
    assert "13 Apr 2026" in voicelog("summary", "--all").out
    assert "12 Apr 2026" not in voicelog("summary", "--all").out
    voicelog("backup", tmp_path / "b.zip")
    assert voicelog("restore", tmp_path / "b.zip", "--data-dir", tmp_path / "new").code == 0
