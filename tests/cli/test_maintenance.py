"""The commands that keep the log and its owner safe: backup, restore, check, delete, bundles."""

from __future__ import annotations

import io
import re
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, made_once, typed_file

BOTH = (
    *("start session bracken", "level three came", "here", "no button came"),
    *("next dog wren", "level two came neck twitch", "memo", "remember this", "end memo"),
)
PRIVATE = "It holds names and voices, unencrypted: keep it where only you can read it.\n"

NOTHING_NEW = "wren.zip: 0 new recordings, 0 new events, 0 files of sound or typed notes.\n"


@pytest.fixture(autouse=True)
@made_once
def _morning(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    voicelog("dogs", "put", "Wren", "--top", "20")
    path = typed_file(tmp_path, *BOTH, name="both.tsv")
    assert voicelog("add", "--typed", path, "--at", "2026-04-18T07:30").code == 0


def test_a_backup_comes_back_elsewhere(voicelog: Voicelog, tmp_path: Path) -> None:
    file = tmp_path / "b.zip"
    saved = voicelog("backup", file)
    assert (
        saved.out == f"1 recording with 1 file of sound or typed notes saved to {file}. {PRIVATE}"
    )
    again = voicelog("backup", file)
    assert (again.code, again.err) == (
        2,
        f"voicelog: Found {file} there already; name another file for the backup.\n",
    )
    new = tmp_path / "new"
    restored = voicelog("restore", file, "--data-dir", new)
    assert (
        restored.out == f"{new}: 1 new recording, 27 new events, 1 file of sound or typed notes.\n"
    )
    for command in (("summary", "--all"), ("dogs", "list"), ("check",)):
        there, here = voicelog(*command, "--data-dir", new), voicelog(*command)
        if command == ("check",):
            known = f"The newest backup ({file}, "
            assert here.out.splitlines()[1].startswith(known)
            assert here.out.endswith(
                " was proven to restore just now: 1 recording and 27 events.\n"
            )
            assert there.out.splitlines()[1].startswith("No backup of this log is known: ")
            assert here.out.splitlines()[0] == there.out.splitlines()[0]
        else:
            assert there.out == here.out
    twice = voicelog("restore", file, "--data-dir", new)
    assert twice.out == f"{new}: 0 new recordings, 0 new events, 0 files of sound or typed notes.\n"


def test_what_is_no_backup_is_one_sentence(voicelog: Voicelog, tmp_path: Path) -> None:
    result = voicelog("restore", tmp_path / "both.tsv")
    assert (result.code, result.err) == (
        1,
        f"voicelog: {tmp_path / 'both.tsv'} is not a ZIP file, or is cut short, so nothing was "
        "taken from it: have it sent again by who made it.\n",
    )


def test_a_bundle_is_of_one_dog_and_is_added_like_a_recording(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    sent = voicelog("export", out, "--format", "bundle", "--dog", "wren")
    assert sent.out == (
        f"1 session of Wren written to {out / 'wren.zip'}: 15 events and the sound or typed "
        "notes of 1 of 1 recording, with names and voices, unencrypted. To take it in: "
        "voicelog add wren.zip\n"
    )
    other = tmp_path / "other"
    taken = voicelog("add", out / "wren.zip", "--data-dir", other)
    assert taken.out == (
        "wren.zip: 1 new recording, 15 new events, 1 file of sound or typed notes. New on the "
        "roster: Wren.\n"
    )
    assert "Bracken" not in voicelog("summary", "--all", "--data-dir", other).out
    assert "Wren" in voicelog("summary", "--all", "--data-dir", other).out
    again = voicelog("add", out / "wren.zip", "--data-dir", other)
    assert (
        again.out == "wren.zip: 0 new recordings, 0 new events, 0 files of sound or typed notes.\n"
    )
    back = voicelog("add", out / "wren.zip")
    assert (
        back.out == "wren.zip: 0 new recordings, 0 new events, 0 files of sound or typed notes.\n"
    )


def test_a_bundle_needs_a_dog_that_has_sessions(voicelog: Voicelog, tmp_path: Path) -> None:
    nobody = voicelog("export", tmp_path / "out", "--format", "bundle")
    assert (nobody.code, nobody.err) == (
        2,
        "voicelog: Found no --dog, but a bundle is of one dog; name it with --dog.\n",
    )
    none = voicelog("export", tmp_path / "out", "--format", "bundle", "--dog", "Thorn")
    assert (none.code, none.err) == (
        1,
        "voicelog: There is no session of 'Thorn'; see 'voicelog summary --all'.\n",
    )
    assert not (tmp_path / "out").exists()


def test_a_deleted_session_leaves_the_others(voicelog: Voicelog, tmp_path: Path) -> None:
    data = tmp_path / "data"
    result = voicelog("delete", "session", "Wren", "--day", "2026-04-18", "--yes")
    assert result.code == 0
    assert re.sub("id [^\n]*", "id", result.out) == (
        "Wren, 18 Apr 2026: 1 rep, 5 entries, typed notes (id\n"
        "Deleted: 0 whole recordings, 1 file of sound or typed notes, and 15 lines of the log "
        "about the notes.\n"
        "Backups, bundles, exports and the recorder's own files still hold what was in them.\n"
    )
    shown = voicelog("summary", "--all").out
    assert "Bracken" in shown
    assert "Wren" not in shown
    whole = b"".join(path.read_bytes() for path in data.rglob("*") if path.is_file())
    assert b"remember this" not in whole
    assert b"level three came" in whole
    gone = voicelog("delete", "session", "Wren", "--day", "2026-04-18", "--yes")
    assert (gone.code, gone.err) == (
        1,
        "voicelog: There is no session of 'Wren' on 18 Apr 2026; see 'voicelog summary --all'.\n",
    )


def test_a_deleted_dog_is_nowhere(voicelog: Voicelog, tmp_path: Path) -> None:
    result = voicelog("delete", "dog", "bracken", "--yes")
    assert result.out.splitlines()[0] == (
        "bracken: its profile, 1 session (2 reps, 4 entries) and sound or typed notes of 1 "
        "recording."
    )
    assert "Bracken" not in voicelog("dogs", "list").out
    for path in (tmp_path / "data").rglob("*"):
        assert not path.is_file() or b"bracken" not in path.read_bytes().lower(), path
    unknown = voicelog("delete", "dog", "Thorn", "--yes")
    assert (unknown.code, unknown.err) == (
        1,
        "voicelog: No dog called Thorn is in the log: choose one of those it has (Wren).\n",
    )


class Answers(io.StringIO):
    """Somebody at a terminal."""

    def isatty(self) -> bool:
        return True


def test_without_a_yes_nothing_is_deleted(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = ("delete", "session", "Wren", "--day", "2026-04-18")
    before = voicelog("summary", "--all").out
    for command in (("delete", "dog", "Bracken"), session):
        monkeypatch.setattr(sys, "stdin", Answers("n\n"))
        refused = voicelog(*command)
        assert (refused.code, refused.err) == (1, "")
        assert refused.out.endswith("Nothing was deleted.\n")
    assert voicelog("summary", "--all").out == before
    monkeypatch.setattr(sys, "stdin", Answers("y\n"))
    assert voicelog(*session).code == 0
    assert voicelog("summary", "--all").out != before


def test_a_script_deletes_nothing_by_accident(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What stands in its input is no answer."""
    before = voicelog("summary", "--all").out
    monkeypatch.setattr(sys, "stdin", io.StringIO("y\n"))
    for command in (
        ("delete", "dog", "Bracken"),
        ("delete", "session", "Wren", "--day", "2026-04-18"),
        ("delete", "sound", "--older-than", "0", "--unread", "--memos"),
    ):
        refused = voicelog(*command)
        assert refused.code == 2
        assert refused.out  # what would go
        assert refused.err.startswith("voicelog: Nothing was deleted, since nobody is at a")
    assert voicelog("summary", "--all").out == before


def test_old_sound_goes_once_it_was_read(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(tmp_path, "start session bracken", "level thre came", name="look.tsv")
    voicelog("add", "--typed", path, "--at", "2026-04-18T09:30")
    young = typed_file(tmp_path, "start session bracken", "level two came", name="young.tsv")
    voicelog("add", "--typed", young, "--at", "today")
    read = typed_file(tmp_path, "start session bracken", "level four came", name="read.tsv")
    voicelog("add", "--typed", read, "--at", "2026-04-18T10:30")
    entries = voicelog("summary", "--all").out
    result = voicelog("delete", "sound", "--older-than", "30", "--yes")
    assert result.out.splitlines()[:2] == [
        "1 recording; left out are 2 with entries to check, 0 with memos and 0 with open matters.",
        "Deleted: 0 whole recordings, 1 file of sound or typed notes, and 0 lines of the log "
        "about the notes.",
    ]
    assert len(list((tmp_path / "data" / "sound").iterdir())) == 3
    assert voicelog("summary", "--all").out == entries
    assert voicelog("check").code == 0
    result = voicelog("delete", "sound", "--older-than", "30", "--unread", "--memos", "--yes")
    assert result.out.startswith("2 recordings; left out are 0 ")
    assert voicelog("summary", "--all").out == entries


def test_typed_notes_with_a_line_that_was_not_understood_are_not_old_yet(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "start session bracken", "level two came", "good girl today")
    voicelog("add", "--typed", path, "--at", "2026-04-19T09:30")
    told = voicelog("delete", "sound", "--older-than", "30", "--yes").out
    assert told.startswith("0 recordings; left out are 2 with entries to check")
    voicelog("correct", "Bracken", "--entry", "3", "--void")
    told = voicelog("delete", "sound", "--older-than", "30", "--yes").out
    assert told.startswith("1 recording; left out are 1 with entries to check")


def test_sound_that_was_swapped_or_lost_is_found(voicelog: Voicelog, tmp_path: Path) -> None:
    (sound,) = (tmp_path / "data" / "sound").iterdir()
    sound.write_text("swapped")
    result = voicelog("check")
    assert (result.code, result.err) == (
        1,
        "voicelog: the sound of both.tsv is not what it was when it was kept; take it back from "
        "a backup.\n",
    )
    sound.unlink()
    result = voicelog("backup", tmp_path / "b.zip")
    assert result.code == 1
    assert result.err == (
        "voicelog: the sound of both.tsv is not there any more; take it back from a backup.\n"
    )


def test_check_proves_the_newest_backup_and_says_what_another_hand_did(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    data, file = tmp_path / "data", tmp_path / "b.zip"
    voicelog("backup", file)
    assert "was proven to restore just now" in voicelog("check").out
    file.rename(tmp_path / "elsewhere.zip")
    away = voicelog("check")
    assert (away.code, "is not there now; it was proven to restore on" in away.out) == (0, True)
    file.write_bytes(b"PK\3\4 no backup any more")
    broken = voicelog("check")
    assert broken.code == 1
    assert "does not restore (" in broken.err
    assert broken.err.endswith("): make another.\n")
    file.unlink()

    (data / "log.sqlite3").rename(tmp_path / "away.sqlite3")
    voicelog("dogs", "put", "Fern")
    other = voicelog("check")
    assert other.code == 1
    assert "voicelog: the database is not the one that was in this folder before; " in other.err
    assert "belongs to no recording; move it out of the log's folder." in other.err
    assert "is not the one" not in voicelog("check", "--accept").err


def test_after_an_upgrade_the_summary_reads_the_dogs_of_its_day_and_says_what_waits(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    alone = typed_file(tmp_path, "start session wren", "here level two came", name="wren.tsv")
    voicelog("add", "--typed", alone, "--at", "2026-04-20T07:30")
    early = typed_file(tmp_path, "start session bracken", "here came", name="bracken.tsv")
    voicelog("add", "--typed", early, "--at", "2026-04-10T07:30")
    before = voicelog("summary")
    with closing(sqlite3.connect(tmp_path / "data" / "log.sqlite3")) as log, log:
        log.execute(
            "UPDATE derived SET stamp = 'older/' || replace(stamp, rtrim(stamp, '0123456789'), '')"
        )
    told = voicelog("summary")
    assert told.out == before.out
    assert told.err.startswith("voicelog: 1 recording of other dogs not yet read again")
    assert "a session of Wren that was not understood" in told.err
    record = ("export", tmp_path / "out", "--format", "record", "--dog", "Wren")
    bundle = ("export", tmp_path / "out", "--format", "bundle", "--dog", "Wren")
    for command in (("matters", "list", "Wren"), record, bundle):
        asked = voicelog(*command)
        assert (asked.code, "1 recording of other dogs" in asked.err) == (0, True), command
    assert voicelog("kennel").err == ""
    assert voicelog("summary").err == ""
