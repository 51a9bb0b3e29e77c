"""The commands that keep: add, summary, export, rebuild, dogs."""

from __future__ import annotations

import csv
import json
import os
import wave
from datetime import datetime
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file
from voicelog.model import Document
from voicelog.store import Log


@pytest.fixture(autouse=True)
def _bracken(voicelog: Voicelog, request: pytest.FixtureRequest) -> None:
    """Most logs here know one dog."""
    if "no_dogs" not in request.keywords:
        voicelog("dogs", "put", "Bracken")


SESSION = ("start session bracken", "level three came", "here", "no button came")


def test_the_same_recording_added_twice_is_one(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(tmp_path, *SESSION)
    copy = tmp_path / "copy.tsv"
    copy.write_bytes(path.read_bytes())
    first = voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2026-04-18T07:30")
    told, next_ = first.out.splitlines()
    assert told == "session.tsv: 4 notes sure, 0 to check, 0 not understood."
    assert next_.startswith("Next: 'voicelog review' to check the entries")
    again = voicelog("add", "--typed", copy, "--dog", "Bracken")
    assert again.out == "copy.tsv: already in the log, left as it is\n"
    voicelog("export", tmp_path / "out")
    document = Document.model_validate_json((tmp_path / "out" / "voicelog.json").read_text())
    assert len(document.recordings) == 1
    assert len(document.recordings[0].reps) == 2


def test_added_and_read_come_to_the_same(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(tmp_path, *SESSION, "strike that", "level five ignored")
    read = voicelog("read", "--typed", path, "--dog", "Bracken", "--format", "json")
    voicelog("add", "--typed", path, "--dog", "Bracken")
    voicelog("export", tmp_path / "out")
    kept = Document.model_validate_json((tmp_path / "out" / "voicelog.json").read_text())
    fresh = Document.model_validate_json(read.out)
    assert kept.recordings[0].model_copy(update={"audio": str(path)}) == fresh.recordings[0]


def test_the_summary_is_of_the_last_session_beside_the_one_before(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    for day, level in (("17", "two"), ("18", "three")):
        path = typed_file(
            tmp_path, "start session bracken", f"level {level} came", name=f"{day}.tsv"
        )
        voicelog("add", "--typed", path, "--dog", "Bracken", "--at", f"2026-04-{day}T07:30")
    result = voicelog("summary", "bracken")
    assert result.code == 0
    assert result.out.count("18 Apr 2026") == 1
    assert "17 Apr 2026" not in result.out
    both = voicelog("summary", "--all")
    assert "17 Apr 2026" in both.out


def test_a_recording_added_late_takes_its_place_by_its_date(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    """The first session of a dog is judged as the first, whenever it comes in."""
    later = typed_file(tmp_path, "start session bracken", "level six came", name="later.tsv")
    first = typed_file(tmp_path, "start session bracken", "level six came ", name="first.tsv")
    voicelog("add", "--typed", later, "--dog", "Bracken", "--at", "2026-04-18T07:30")
    voicelog("add", "--typed", first, "--dog", "Bracken", "--at", "2026-04-01T07:30")
    result = voicelog("rebuild")
    assert result.out == "2 recordings worked out again.\n"
    assert voicelog("summary", "Bracken").out.count("18 Apr 2026") == 1


def test_an_unknown_dog_and_an_empty_log_are_one_sentence_each(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    empty = voicelog("summary")
    assert (empty.code, empty.err) == (
        1,
        "voicelog: There is no session in the log yet; add a recording with "
        "'voicelog add' first.\n",
    )
    voicelog("add", "--typed", typed_file(tmp_path, *SESSION), "--dog", "Bracken")
    unknown = voicelog("summary", "Rover")
    assert (unknown.code, unknown.err) == (
        1,
        "voicelog: There is no session of 'Rover' in the log; dogs that have one: Bracken; "
        "correct the name or add a recording.\n",
    )


def test_export_writes_the_format_that_was_asked_for(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog(
        "add", "--typed", typed_file(tmp_path, "here", "level two", "came"), "--dog", "Bracken"
    )
    for asked, form, has_times in (((), 1, False), (("--contract", "2"), 2, True)):
        assert voicelog("export", tmp_path / "out", *asked).code == 0
        written = json.loads((tmp_path / "out" / "voicelog.json").read_text(encoding="utf-8"))
        (rep,) = written["recordings"][0]["reps"]
        assert written["format"] == form
        assert ("times" in rep, "intervals" in rep) == (has_times, has_times)
    wrong = voicelog("export", tmp_path / "out", "--format", "csv", "--contract", "2")
    assert wrong.code == 2
    assert "--contract with --format csv" in wrong.err


def test_export_as_tables_has_a_row_for_each_rep(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("add", "--typed", typed_file(tmp_path, *SESSION), "--dog", "Bracken")
    result = voicelog("export", tmp_path / "out", "--format", "csv")
    assert result.code == 0
    with (tmp_path / "out" / "reps.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["mode"] for row in rows] == ["continuous", "none"]
    assert {row["format"] for row in rows} == {"1"}


@pytest.mark.no_dogs
def test_a_dog_keeps_what_was_not_given_again(voicelog: Voicelog) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20", "--collar", "4")
    voicelog("dogs", "put", "bracken", "--ceiling", "8")
    listed = voicelog("dogs", "list")
    assert listed.out == (
        "Bracken: cues here; levels 1 to 20, steps up of 1, steps down of 1; 'level N' "
        "alone means a held press (continuous); "
        "collar 4; ceiling 8\n"
    )


def test_a_name_that_sounds_like_a_command_is_pointed_out(voicelog: Voicelog) -> None:
    result = voicelog("dogs", "put", "Bird")
    assert result.code == 0
    assert result.err.splitlines()[0] == (
        "voicelog: The name 'Bird' is a word of the notes as well. Another is safer, for example "
        "'Bruno', 'Banjo' or 'Magpie'; or check it in the evening."
    )


@pytest.mark.no_dogs
def test_a_profile_that_cannot_be_is_refused_in_one_sentence(voicelog: Voicelog) -> None:
    result = voicelog("dogs", "put", "Wren", "--top", "0")
    assert result.code == 2
    assert result.err.startswith("voicelog: Found 0 for the transmitter top, wanted 1 or more")
    assert voicelog("dogs", "list").out.startswith("No dogs yet.")


@pytest.mark.no_dogs
def test_a_known_dog_brings_its_own_cues_to_a_reading(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Wren", "--cue", "whoa")
    path = typed_file(tmp_path, "whoa", "came")
    result = voicelog("read", "--typed", path, "--dog", "wren", "--format", "json")
    (rep,) = Document.model_validate_json(result.out).recordings[0].reps
    assert rep.cue == "whoa"


def test_spoken_edits_are_kept_and_come_out_the_same(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(
        tmp_path,
        *SESSION,
        "strike rep 1",
        "correction ignored",
        "level two came",
        "strike that",
        "flag that",
    )
    added = voicelog("add", "--typed", path, "--dog", "Bracken")
    assert (added.code, added.err) == (0, "")
    voicelog("export", tmp_path / "out")
    kept = Document.model_validate_json((tmp_path / "out" / "voicelog.json").read_text())
    reps = kept.recordings[0].reps
    assert [(rep.outcome, rep.void) for rep in reps] == [
        ("complied", True),
        ("ignored", False),
        ("complied", True),
    ]


def test_a_dog_that_is_not_on_the_roster_is_refused_before_anything_is_kept(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    result = voicelog("add", "--typed", typed_file(tmp_path, *SESSION), "--dog", "Rover")
    assert (result.code, result.err) == (
        2,
        "voicelog: There is no dog 'Rover' on the roster, which has Bracken; correct the "
        "name, or add the dog first: voicelog dogs put Rover.\n",
    )
    assert voicelog("export", tmp_path / "out").out.startswith("0 recordings")


def test_a_recording_of_no_length_leaves_nothing_behind(voicelog: Voicelog, tmp_path: Path) -> None:
    path = tmp_path / "nothing.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
    result = voicelog("add", path, "--dog", "Bracken")
    assert result.code == 1
    assert result.err == (
        f"voicelog: {path} is a recording of no length (0 s); "
        "check that the recorder had started.\n"
    )
    with Log.open(tmp_path / "data", now=datetime.now) as log:
        assert log.recordings() == ()
    assert not list((tmp_path / "data").glob("sound/*"))


def test_a_file_name_that_is_no_unicode_is_shown_as_well_as_can_be(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/morning\xff.tsv"))
    path.write_bytes(typed_file(tmp_path, *SESSION).read_bytes())
    read = voicelog("read", "--typed", path, "--dog", "Bracken", "--format", "json")
    assert Document.model_validate_json(read.out).recordings[0].audio.endswith("morning\ufffd.tsv")
    assert voicelog("add", "--typed", path, "--dog", "Bracken").code == 0


@pytest.mark.no_dogs
@pytest.mark.parametrize("notes", ["ss {}\nhere l3 c\n", "0:10 ss {}\n0:20 here l3 c\n"])
def test_no_word_of_a_deleted_session_is_left_of_notes_in_any_form(
    voicelog: Voicelog, tmp_path: Path, notes: str
) -> None:
    voicelog("dogs", "put", "Bracken")
    voicelog("dogs", "put", "Wren")
    path = tmp_path / "notes.txt"
    path.write_text(notes.format("bracken") + "ss wren\nhere nb c secretword\n", encoding="utf-8")
    assert voicelog("add", "--typed", path, "--at", "2026-04-18T07:30").code == 0
    gone = voicelog("delete", "session", "Wren", "--day", "2026-04-18", "--yes")
    assert gone.code == 0, gone.err
    left = [one.read_bytes() for one in (tmp_path / "data" / "sound").iterdir()]
    assert not any(b"secretword" in data or b"wren" in data for data in left)
    assert "level three" in voicelog("correct", "Bracken", "--all").out
    assert voicelog("summary", "Wren").code == 1
