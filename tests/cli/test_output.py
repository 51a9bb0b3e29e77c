"""What the papers say, and the settings and profiles they rest on, as a user calls for them."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file
from voicelog.model import VoicelogError
from voicelog.report import text
from voicelog.report.summary import Summary
from voicelog.safety.cautions import LONG


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The log's folder, with a dog on its roster."""
    return tmp_path / "data"


@pytest.fixture
def session(tmp_path: Path) -> Path:
    return typed_file(
        tmp_path,
        "start session Bracken",
        "drill recall distraction low",
        "fit check two fingers",
        "temperature seventy",
        "here level two came",
        "here level three came",
    )


def test_a_temperature_is_said_in_the_unit_of_the_settings(
    voicelog: Voicelog, folder: Path, session: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    assert "70 °C" in voicelog("read", "--typed", session).out
    (folder / "settings.toml").write_text('temperature_unit = "F"\n')
    out = voicelog("read", "--typed", session).out
    assert "70 °F" in out
    assert "The air is 70 F." in out


def test_settings_given_stand_before_those_of_the_log(
    voicelog: Voicelog, folder: Path, session: Path, tmp_path: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    (folder / "settings.toml").write_text('temperature_unit = "F"\n')
    other = tmp_path / "other.toml"
    other.write_text("")
    assert "70 °C" in voicelog("read", "--typed", session, "--settings", other).out


def test_the_settings_stay_those_the_recording_was_heard_with(
    voicelog: Voicelog, folder: Path, session: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    own = folder / "settings.toml"
    own.write_text('temperature_unit = "F"\n')
    voicelog("add", "--typed", session)
    own.unlink()
    assert "70 °F" in voicelog("summary", "Bracken").out


@pytest.mark.parametrize("command", ["read", "add"])
def test_a_slip_in_the_settings_is_found_before_anything_is_heard(
    voicelog: Voicelog, folder: Path, session: Path, command: str
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    own = folder / "settings.toml"
    own.write_text("[dog.Braken]\nstep_up = 2\n")
    result = voicelog(command, "--typed", session)
    assert result.code == 1
    assert result.err == (
        f'voicelog: {own}, line 1: "Braken" is not a dog of this log; did you mean "Bracken"?\n'
    )


def test_a_dog_only_named_may_have_settings_of_its_own(
    voicelog: Voicelog, session: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.toml"
    other.write_text("[dog.Bracken]\nstep_up = 2\n")
    given = ("read", "--typed", session, "--settings", other)
    assert voicelog(*given, "--dog", "Bracken").code == 0
    assert "voicelog dogs put Bracken" in voicelog(*given).err


def test_the_settings_printed_can_be_saved_and_checked(voicelog: Voicelog, folder: Path) -> None:
    voicelog("dogs", "put", "Bracken")
    own = folder / "settings.toml"
    own.write_text(voicelog("settings").out)
    assert voicelog("settings", "--check").out == (
        f"{own}: every line is good.\nTemperature is said in C.\n"
    )


def test_a_check_says_what_is_changed_for_whom(voicelog: Voicelog, folder: Path) -> None:
    voicelog("dogs", "put", "Bracken")
    own = folder / "settings.toml"
    own.write_text("press_s = 2\n[dog.Bracken]\nstep_up = 2\n")
    assert voicelog("settings", "--check").out.splitlines()[2:] == [
        "Every dog: threshold press_s set to 2 (default 3)",
        "Bracken: threshold step_up set to 2 (default 1)",
        "Bracken: threshold press_s set to 2 (default 3)",
    ]


def test_without_a_file_the_check_says_the_defaults_hold(voicelog: Voicelog) -> None:
    assert voicelog("settings", "--check").out.startswith("No settings file: the defaults hold.\n")


def test_a_dog_that_bears_heat_badly_is_warned_of_earlier(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    warm = typed_file(tmp_path, "start session Bracken", "temperature nineteen", "here came")
    voicelog("dogs", "put", "Bracken")
    assert "The air is" not in voicelog("read", "--typed", warm).out
    voicelog("dogs", "put", "Bracken", "--heat-trait", "dark")
    assert "heat is hard on it (dark)" in voicelog("dogs", "list").out
    assert "The air is 19 C." in voicelog("read", "--typed", warm).out


def test_an_unknown_reason_for_heat_is_refused(voicelog: Voicelog) -> None:
    result = voicelog("dogs", "put", "Bracken", "--heat-trait", "woolly")
    assert result.code == 2
    assert result.err == (
        "voicelog: Found 'woolly' for the heat traits, wanted 'heavy', 'dark' or 'short-faced'; "
        "correct it.\n"
    )
    low = voicelog("dogs", "put", "Bracken", "--top", "0")
    assert low.err == "voicelog: Found 0 for the transmitter top, wanted 1 or more; correct it.\n"


def test_the_record_of_use_has_a_row_for_each_session_with_a_collar(
    voicelog: Voicelog, session: Path, tmp_path: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    free = typed_file(tmp_path, "start session Bracken", "here came", name="free.tsv")
    voicelog("add", "--typed", session, "--at", "2025-05-04T09:30")
    voicelog("add", "--typed", free, "--at", "2025-05-05T09:30")
    voicelog("dogs", "put", "Bracken", "--client", "A. Owner", "--ident", "chip 12")
    out = tmp_path / "out"
    done = voicelog("export", out, "--format", "record", "--reason", "recall near a road")
    assert done.out == f"1 session with a collar written to {out / 'record.csv'}.\n"
    with (out / "record.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert row["date"] == "2025-05-04 09:30"
    assert (row["reason"], row["client"]) == ("recall near a road", "A. Owner")
    assert (row["dog"], row["identification"]) == ("Bracken", "chip 12")
    assert row["uses"] == "continuous 2 x1; continuous 3 x1"
    assert row["result"] == (
        "2 recalls: 1 answered at 2, 1 answered at 3; unaided at the first call 0 of 2; "
        "2 more with the button, or nothing said of it"
    )


def test_a_reason_without_the_record_is_refused(voicelog: Voicelog, tmp_path: Path) -> None:
    result = voicelog("export", tmp_path / "out", "--reason", "recall")
    assert result.code == 2
    assert result.err == (
        "voicelog: Found --reason with --format json, but it belongs to another format "
        "(record or bundle); leave it out, or change --format.\n"
    )


def test_a_summary_for_a_screen_reader(voicelog: Voicelog, session: Path) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    voicelog("add", "--typed", session)
    out = voicelog("summary", "Bracken", "--plain").out
    assert "Rep 1 at 0:16: call here; continuous 2; came." in out
    assert out.isascii()
    assert voicelog("summary", "--plain", "--format", "html").err == (
        "voicelog: Found --plain with --format html, wanted it with text; leave one of them out.\n"
    )


def test_changed_thresholds_are_named_in_the_papers(
    voicelog: Voicelog, folder: Path, session: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    (folder / "settings.toml").write_text("[dog.Bracken]\npress_s = 2\n")
    voicelog("add", "--typed", session)
    words = "changed  threshold press_s set to 2 (default 3)"
    assert words in voicelog("summary", "Bracken").out
    assert words in voicelog("read", "--typed", session).out


def test_the_cautions_in_full_are_those_of_the_manual(voicelog: Voicelog) -> None:
    assert voicelog("summary", "--cautions").out.strip() == LONG
    page = Path(__file__).parents[2] / "docs" / "cautions.md"
    section = page.read_text(encoding="utf-8").removeprefix("# Cautions\n")
    assert " ".join(section.split()) == " ".join(LONG.split())


def test_a_file_is_written_piece_by_piece_and_whole_or_not_at_all(
    voicelog: Voicelog, session: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    for number in (1, 2):
        assert voicelog("add", "--typed", session, "--at", f"2026-04-0{number}T07:30").code == 0
    file = tmp_path / "all.txt"
    assert voicelog("summary", "--all", "--output", file).code == 0
    written = file.read_text(encoding="utf-8")
    assert written == voicelog("summary", "--all").out
    render, rendered = text.render, list[str]()

    def fails_at_the_second(summary: Summary, **how: bool) -> str:
        if rendered:
            raise VoicelogError("Found the second.")
        rendered.append(summary.session)
        return render(summary, **how)

    monkeypatch.setattr(text, "render", fails_at_the_second)
    assert voicelog("summary", "--all", "--output", file).code == 1
    assert file.read_text(encoding="utf-8") == written
    assert not list(tmp_path.glob("*.part"))
