"""`voicelog read` on typed recordings: the contract, formats, and what goes wrong."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.cli.run import Voicelog, typed_file
from voicelog.app.recognizers import shared_recognizers
from voicelog.model import Document


def test_a_typed_session_comes_out_as_the_contract(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(
        tmp_path,
        "start session bracken",
        "level three, came, neck twitch",
        "good girl, come on then",
        "here",
        "no button",
        "came",
    )
    result = voicelog("read", "--typed", path, "--dog", "Bracken", "--format", "json")
    assert result.code == 0
    assert result.err == (
        "voicelog: Line 3: 'good girl come on then' is not a note as typed; the whole line "
        "is left as not understood.\n"
        "'voicelog words card' shows all that can be written. Begin a remark of your own with '#' "
        "on a line of its own: it stays in the file alone.\n"
    )
    document = Document.model_validate_json(result.out)
    assert json.loads(result.out)["format"] == 1
    (recording,) = document.recordings
    assert recording.dog == "Bracken"
    assert recording.listeners == ("typed 1",)
    assert [entry.status for entry in recording.entries] == [
        "accepted",
        "accepted",
        "rejected",
        "accepted",
        "accepted",
        "accepted",
    ]
    assert recording.entries[1].kind == "stimulus+outcome+sign"
    assert recording.entries[1].slots == {
        "level": 3,
        "do": "level",
        "word": "came",
        "outcome": "complied",
        "sign": "neck twitch",
        "class": "noticed",
    }
    first, second = recording.reps
    assert (first.mode, first.peak_level, first.outcome, first.signs) == (
        "continuous",
        3,
        "complied",
        ("neck twitch",),
    )
    assert (second.mode, second.cue, second.cues, second.outcome) == ("none", "here", 1, "complied")
    assert second.latency_s == 8.0


def test_every_key_of_the_contract_is_there(voicelog: Voicelog, tmp_path: Path) -> None:
    path = typed_file(tmp_path, "location field", "level three came yelped")
    result = voicelog("read", "--typed", path, "--dog", "Bracken", "--format", "json")
    (recording,) = json.loads(result.out)["recordings"]
    assert set(recording) == {
        *("audio", "sha256", "started_at", "duration_s", "listeners", "grammar", "dog"),
        *("sound", "sessions", "entries", "reps", "findings"),
    }
    assert set(recording["sound"]) == {"peak_dbfs", "rms_dbfs", "clipped_share", "snr_db"}
    assert set(recording["sessions"][0]) == {"id", "dog", "start_s", "end_s", "conditions"}
    assert set(recording["sessions"][0]["conditions"][0]) == {"at_s", "name", "value", "unit"}
    assert set(recording["entries"][0]) == {
        *("id", "session", "start_s", "end_s", "heard", "reading", "status", "confidence"),
        *("alternatives", "kind", "slots", "by", "voided", "placed"),
    }
    assert set(recording["reps"][0]) == {
        *("number", "id", "session", "dog", "drill", "start_s", "end_s", "cue", "cue_by", "cues"),
        *("mode", "levels", "peak_level", "end_level", "outcome", "signs", "sign_marks", "stress"),
        *("turned_s", "latency_s", "stimulus_s", "rewards", "distraction", "distance"),
        *("distance_unit", "entries", "doubtful", "void"),
    }
    assert recording["reps"][0]["sign_marks"] == [
        {"at_s": 4.0, "sign": "yelped", "class": "strong", "level": 3}
    ]
    assert set(recording["findings"][0]) == {
        *("rule", "severity", "session", "reps", "evidence", "on_doubt", "struck", "message"),
        *("advice", "basis"),
    }


DATA = Path(__file__).parent / "data"


def test_format_1_is_written_as_it_was(voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch) -> None:
    """Byte for byte what the version before format 2 printed of the same lines, but for what
    follows from line 12, into which no press is put any more."""
    monkeypatch.chdir(DATA)
    said = ("read", "--typed", "contract_1.tsv", "--dog", "Bracken", "--format", "json")
    wanted = (DATA / "contract_1.json").read_text(encoding="utf-8")
    for asked in ((), ("--contract", "1")):
        printed = voicelog(*said, *asked).out
        made_with = json.loads(printed)["recordings"][0]["grammar"]
        assert printed == wanted.replace("en-c46aaea5e9", made_with)


def test_format_2_is_format_1_and_when_it_happened(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(DATA)
    said = ("read", "--typed", "contract_1.tsv", "--dog", "Bracken", "--format", "json")
    one = json.loads(voicelog(*said).out)
    two = json.loads(voicelog(*said, "--contract", "2").out)
    assert two.pop("format") == 2
    assert Document.model_validate_json(voicelog(*said, "--contract", "2").out).format == 2
    times = [rep.pop("times") for rep in two["recordings"][0]["reps"]]
    intervals = [rep.pop("intervals") for rep in two["recordings"][0]["reps"]]
    doubts = [rep.pop("doubts") for rep in two["recordings"][0]["reps"]]
    first = [rep.pop("failed_first") for rep in two["recordings"][0]["reps"]]
    assert two == {name: value for name, value in one.items() if name != "format"}
    assert set(first) <= {None, "ignored", "left", "broke"}
    doubtful = [rep["doubtful"] for rep in two["recordings"][0]["reps"]]
    assert [bool(whys) for whys in doubts] == doubtful
    assert times[0] == {
        "cue_at_s": 12.0,
        "presses": [{"on_at_s": 15.0, "off_at_s": 19.0, "mode": "continuous", "level": 1}],
        "turned_at_s": 17.0,
        "arrived_at_s": 21.0,
    }
    assert intervals[0] == {
        "error_s": 1.0,
        "answer_time_s": [1.0, 5.0],
        "stimulus_after_turn_s": [0.0, 4.0],
        "stimulus_after_arrival_s": [0.0, 0.0],
        "stimulus_total_s": [2.0, 6.0],
        "rest_after_strong_s": None,
    }


def test_how_far_the_narrator_may_err_is_set(voicelog: Voicelog, tmp_path: Path) -> None:
    settings = tmp_path / "settings.toml"
    settings.write_text("narrator_s = 0.5\n")
    path = typed_file(tmp_path, "here", "level two", "came")
    said = ("read", "--typed", path, "--dog", "Wren", "--format", "json", "--contract", "2")
    (rep,) = json.loads(voicelog(*said, "--settings", settings).out)["recordings"][0]["reps"]
    assert rep["intervals"]["answer_time_s"] == [3.0, 5.0]


def test_the_contract_belongs_to_json(voicelog: Voicelog, tmp_path: Path) -> None:
    result = voicelog("read", tmp_path / "some.wav", "--contract", "2")
    assert (result.code, result.out) == (2, "")
    assert result.err == (
        "voicelog: Found --contract with --format text, but it belongs to JSON; leave it out, or "
        "give --format json.\n"
    )


def test_the_schema_in_the_docs_is_that_of_the_contract() -> None:
    """By its types and their fields: how pydantic writes a type changes with its version."""
    kept = Path(__file__).parents[2] / "docs" / "contract.schema.json"

    def fields(schema: dict[str, Any]) -> dict[str, list[str]]:
        types = {"": schema, **schema["$defs"]}
        return {name: [*one.get("properties", ())] for name, one in types.items()}

    schema = Document.model_json_schema(mode="serialization", by_alias=True)
    assert fields(json.loads(kept.read_text(encoding="utf-8"))) == fields(schema)


def test_near_misses_are_doubtful_with_their_repairs_offered(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    path = typed_file(tmp_path, "levle three came")
    result = voicelog("read", "--typed", path, "--dog", "Bracken", "--format", "json")
    (entry,) = Document.model_validate_json(result.out).recordings[0].entries
    assert (entry.heard, entry.reading, entry.status) == (
        "levle three came",
        "level three came",
        "doubtful",
    )
    (rep,) = Document.model_validate_json(result.out).recordings[0].reps
    assert rep.doubtful


def test_a_bad_file_is_named_and_the_others_go_on(voicelog: Voicelog, tmp_path: Path) -> None:
    good = typed_file(tmp_path, "level two came", name="good.tsv")
    bad = tmp_path / "bad.tsv"
    bad.write_text("0:75 level two came\n")
    result = voicelog("read", "--typed", bad, good, "--dog", "Wren", "--format", "json")
    assert result.code == 1
    assert result.err == (
        f"voicelog: Nothing of {bad} was kept: 1 line has to be corrected first.\n"
        "  Line 1, '0:75 level two came': this is not a time; write it as 0:10, 0:07:42 or 7:42 "
        "am.\n"
    )
    (recording,) = Document.model_validate_json(result.out).recordings
    assert recording.audio == str(good)
    assert len(recording.reps) == 1


def test_not_audio_is_one_sentence(voicelog: Voicelog, tmp_path: Path) -> None:
    path = tmp_path / "notes.wav"
    path.write_text("these are only words, and no sound at all\n")
    result = voicelog("read", path, "--dog", "Wren")
    assert result.code == 1
    assert result.err == (
        f"voicelog: {path} is not a recording that can be read; "
        "give WAV, FLAC, MP3, M4A, AAC, Ogg Vorbis or Opus; if these are notes, add --typed.\n"
    )


def test_a_careful_listener_that_is_not_there_is_told(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shared_recognizers.cache_clear()
    monkeypatch.setattr("voicelog.recognition.recognizers.careful_model", lambda language: None)
    result = voicelog("read", tmp_path / "some.wav", "--listener", "careful")
    assert result.code == 1
    assert result.err == (
        "voicelog: Found no careful listener, wanted a Whisper model and the library that runs "
        "it; install them with: pip install 'voicelog[careful]', or take --listener quick.\n"
    )


def test_a_time_that_is_none_is_wrong_usage(voicelog: Voicelog, tmp_path: Path) -> None:
    result = voicelog("read", "--typed", typed_file(tmp_path, "here"), "--at", "soonish")
    assert result.code == 2
    assert result.err == (
        "voicelog: 'soonish' is not clear for --at; type a day and a time such as "
        "'yesterday 7:42' or '24 Nov 7:42'.\n"
    )


def test_a_folder_stands_for_the_notes_in_it_and_a_reckoned_day_is_said_back(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    folder = tmp_path / "field"
    folder.mkdir()
    (folder / "a.txt").write_text("7:42 am here l3 c\n", encoding="utf-8")
    (folder / "b.jpg").touch()
    yesterday = date.today() - timedelta(days=1)
    written = f"{yesterday:%d %b}"
    result = voicelog("read", folder, "--dog", "Wren", "--at", written, "--format", "json")
    (recording,) = Document.model_validate_json(result.out).recordings
    assert recording.audio == str(folder / "a.txt")
    assert recording.started_at is not None
    assert f"{recording.started_at:%Y-%m-%d %H:%M}" == f"{yesterday} 07:42"
    assert recording.reps[0].outcome == "complied"
    assert "1 file to take; 1 left out" in result.err
    assert f"voicelog: --at '{written}' is " in result.err


def test_reading_leaves_no_log_behind(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("read", "--typed", typed_file(tmp_path, "level two came"), "--dog", "Wren")
    assert not (tmp_path / "data").exists()


def test_many_files_come_out_in_their_order_whatever_the_jobs(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    paths = [
        typed_file(tmp_path, f"level {word} came", name=f"{word}.tsv")
        for word in ("one", "two", "three")
    ]
    one = voicelog("read", "--typed", *paths, "--format", "json")
    two = voicelog("read", "--typed", *paths, "--format", "json", "--jobs", "2")
    assert one.out == two.out
    assert [r.reps[0].peak_level for r in Document.model_validate_json(one.out).recordings] == [
        *(1, 2, 3)
    ]


def test_a_name_in_a_typed_recording_is_never_guessed(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Bracken")
    path = typed_file(tmp_path, "start session bracken", "level two came", "start session broken")
    for command in ("read", "add"):
        result = voicelog(command, "--typed", path)
        assert result.code == 0
        assert "Line 3: I read a dog that I do not know, 'broken'" in result.out + result.err
    whose = [
        line.split()[1]
        for line in voicelog("read", "--typed", path).out.splitlines()
        if line.lstrip().startswith("dog ")
    ]
    assert whose == ["Bracken", "not"]  # not said
