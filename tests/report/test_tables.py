"""CSV that a spreadsheet cannot run, and JSON that is the contract."""

from __future__ import annotations

import csv
import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.model import Document, EntryOutput, Finding, RecordingOutput, Session
from voicelog.report.tables import (
    ENTRY_COLUMNS,
    FINDING_COLUMNS,
    REP_COLUMNS,
    dump,
    entries_csv,
    findings_csv,
    reps_csv,
    unguard,
)

from .build import entry, full_entries, full_findings, full_session, rep
from .strategies import entry_lists, finding_lists, sessions


def document(
    work: Session | None = None,
    entries: tuple[EntryOutput, ...] = (),
    findings: tuple[Finding, ...] = (),
) -> Document:
    line = RecordingOutput(
        audio="walk.wav",
        sha256="0" * 64,
        duration_s=600.0,
        entries=entries,
        reps=work.reps if work else (),
        findings=findings,
    )
    return Document(recordings=(line,))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_columns_are_the_records_fields_and_the_format() -> None:
    from voicelog.model import Rep

    of_2 = {"times", "intervals", "doubts", "failed_first"}
    for columns, record in (
        (REP_COLUMNS, Rep),
        (ENTRY_COLUMNS, EntryOutput),
        (FINDING_COLUMNS, Finding),
    ):
        fields = set(record.model_fields)
        assert set(columns) - {"format", "audio"} == fields - of_2


def test_a_rep_reads_as_documented() -> None:
    made = document(full_session())
    ninth = rows(reps_csv(made))[8]
    assert {name: ninth[name] for name in ("format", "audio", "number", "levels", "stress")} == {
        "format": "1",
        "audio": "walk.wav",
        "number": "9",
        "levels": "2@270; 3@271; 4@272",
        "stress": "yes",
    }
    assert ninth["sign_marks"] == "yelped/strong/4@274"
    assert ninth["turned_s"] == ""


def test_entries_and_findings_are_all_there() -> None:
    made = document(entries=full_entries(), findings=full_findings())
    assert [row["status"] for row in rows(entries_csv(made))] == [
        said.status for said in full_entries()
    ]
    assert rows(entries_csv(made))[1]["alternatives"] == "level three; level free"
    struck = [row["struck"] for row in rows(findings_csv(made))]
    assert struck == ["no", "no", "no", "yes"]
    assert rows(findings_csv(made))[2]["reps"] == "8; 9; 12"


@pytest.mark.parametrize(
    "said", ["=1+1", "+cmd", "-x", "@SUM(A1)", "  =1", "\t=1", "'=1", "＝1", "\rx"]
)
def test_a_formula_is_guarded_and_comes_back(said: str) -> None:
    cell = rows(entries_csv(document(entries=(entry("e1", 1, said),))))[0]["reading"]
    assert cell == f"'{said}"
    assert unguard(cell) == said


@pytest.mark.parametrize("said", ["-5", "+3.5", "-1e3", "12", "level two", "a=b"])
def test_numbers_and_words_are_left_alone(said: str) -> None:
    cell = rows(entries_csv(document(entries=(entry("e1", 1, said),))))[0]["reading"]
    assert cell == said == unguard(cell)


@given(st.text())
def test_any_reading_comes_back_from_csv(said: str) -> None:
    made = document(entries=(entry("e1", 1, said),))
    assert unguard(rows(entries_csv(made))[0]["reading"]) == said


@settings(max_examples=30, deadline=None)
@given(sessions(most=5), entry_lists(), finding_lists())
def test_no_cell_can_start_a_formula(
    work: Session, entries: list[EntryOutput], findings: list[Finding]
) -> None:
    made = document(work, tuple(entries), tuple(findings))
    for text in (reps_csv(made), entries_csv(made), findings_csv(made)):
        for row in rows(text):
            assert row["format"] == "1"
            for cell in row.values():
                number = cell.lstrip("+-").replace(".", "").isdigit()
                assert number or not cell.lstrip().startswith(("=", "+", "-", "@"))


def test_headings_stand_even_over_nothing() -> None:
    assert reps_csv(Document()) == ",".join(REP_COLUMNS) + "\r\n"


def test_json_is_the_contract_with_its_spelling() -> None:
    text = dump(document(full_session(), full_entries(), full_findings()))
    loaded = json.loads(text)
    assert loaded["format"] == 1
    assert text.startswith('{\n  "format": 1,\n')
    assert loaded["recordings"][0]["reps"][0]["sign_marks"][0]["class"] == "none"


@settings(max_examples=30, deadline=None)
@given(sessions(most=5), entry_lists(), finding_lists())
def test_json_reads_back_as_the_same_document(
    work: Session, entries: list[EntryOutput], findings: list[Finding]
) -> None:
    made = document(work, tuple(entries), tuple(findings))
    assert Document.model_validate_json(dump(made)) == made


def test_null_is_empty_never_no() -> None:
    made = document(Session.model_validate({**full_session().model_dump(), "reps": ()}))
    assert rows(reps_csv(made)) == []
    bare = full_session().model_copy(update={"reps": (rep(1, distance=None),)})
    assert rows(reps_csv(document(bare)))[0]["distance"] == ""
