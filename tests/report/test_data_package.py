"""The description beside the tables holds for them: the specification's rules, cell by cell."""

from __future__ import annotations

import csv
import io
import json
import re
from typing import Any

import pytest
from hypothesis import given, settings

from tests.report.strategies import entry_lists, finding_lists, sessions
from voicelog.model import Document, EntryOutput, Finding, RecordingOutput, Session
from voicelog.report.data_package import datapackage
from voicelog.report.tables import (
    ENTRY_COLUMNS,
    FINDING_COLUMNS,
    REP_COLUMNS,
    entries_csv,
    findings_csv,
    reps_csv,
    unguard,
)

PACKAGE: dict[str, Any] = json.loads(datapackage())
TABLES = {"reps": REP_COLUMNS, "entries": ENTRY_COLUMNS, "findings": FINDING_COLUMNS}

# Table Schema, specs.frictionlessdata.io/table-schema, "Types and Formats" and "Constraints".
TYPES = {
    *("string", "number", "integer", "boolean", "object", "array", "date", "time", "datetime"),
    *("year", "yearmonth", "duration", "geopoint", "geojson", "any"),
}
CONSTRAINTS = {
    "required": TYPES,
    "unique": TYPES,
    "enum": TYPES,
    "minimum": {"integer", "number", "date", "time", "datetime", "year", "yearmonth"},
    "maximum": {"integer", "number", "date", "time", "datetime", "year", "yearmonth"},
    "pattern": {"string"},
    "minLength": {"string", "array", "object"},
    "maxLength": {"string", "array", "object"},
}


def resource(name: str) -> dict[str, Any]:
    return next(one for one in PACKAGE["resources"] if one["name"] == name)


def test_the_package_and_its_resources_are_named_as_the_specification_wants() -> None:
    assert PACKAGE["profile"] == "tabular-data-package"
    names = [one["name"] for one in PACKAGE["resources"]]
    assert len(set(names)) == len(names)
    for name in (PACKAGE["name"], *names):
        assert re.fullmatch(r"[a-z0-9._/-]+", name)
    for one in PACKAGE["resources"]:
        assert one["profile"] == "tabular-data-resource"
        assert re.fullmatch(r"[a-z]+\.csv", one["path"])
        assert one["encoding"] == "utf-8"


@pytest.mark.parametrize("name", TABLES)
def test_every_column_is_described_once_in_its_place(name: str) -> None:
    fields = resource(name)["schema"]["fields"]
    assert tuple(field["name"] for field in fields) == TABLES[name]
    assert all(field["description"] for field in fields)


@pytest.mark.parametrize("name", TABLES)
def test_types_and_constraints_are_those_of_the_specification(name: str) -> None:
    for field in resource(name)["schema"]["fields"]:
        assert field["type"] in TYPES
        for constraint in field.get("constraints", {}):
            assert field["type"] in CONSTRAINTS[constraint]
        assert set(field) <= {
            "name", "type", "description", "constraints", "trueValues", "falseValues"
        }  # fmt: skip


def fault(field: dict[str, Any], cell: str) -> str | None:
    """What is wrong with a cell, as a reader of the specification would find it."""
    rules = field.get("constraints", {})
    if cell == "":
        return "required" if rules.get("required") else None
    value: Any = cell
    try:
        if field["type"] == "integer":
            value = int(cell)
        elif field["type"] == "number":
            value = float(cell)
    except ValueError:
        return "type"
    if field["type"] == "boolean" and cell not in (*field["trueValues"], *field["falseValues"]):
        return "type"
    if "enum" in rules and value not in rules["enum"]:
        return "enum"
    if "minimum" in rules and value < rules["minimum"]:
        return "minimum"
    if "maximum" in rules and value > rules["maximum"]:
        return "maximum"
    if "pattern" in rules and not re.fullmatch(rules["pattern"], cell):
        return "pattern"
    return None


@given(sessions(most=6), entry_lists(), finding_lists())
@settings(max_examples=40, deadline=None)
def test_any_export_is_as_described(
    session: Session, entries: list[EntryOutput], findings: list[Finding]
) -> None:
    line = RecordingOutput(
        audio="a.wav",
        sha256="0" * 64,
        duration_s=600.0,
        reps=session.reps,
        entries=tuple(entries),
        findings=tuple(findings),
    )
    document = Document(recordings=(line,))
    for name, text in (
        ("reps", reps_csv(document)),
        ("entries", entries_csv(document)),
        ("findings", findings_csv(document)),
    ):
        fields = {field["name"]: field for field in resource(name)["schema"]["fields"]}
        for row in csv.DictReader(io.StringIO(text, newline="")):
            for column, cell in row.items():
                assert fault(fields[column], unguard(cell)) is None, (name, column, cell)


def test_the_check_finds_what_is_wrong() -> None:
    fields = {field["name"]: field for field in resource("reps")["schema"]["fields"]}
    assert fault(fields["number"], "two") == "type"
    assert fault(fields["number"], "0") == "minimum"
    assert fault(fields["mode"], "harder") == "enum"
    assert fault(fields["stress"], "true") == "type"
    assert fault(fields["levels"], "three") == "pattern"
    assert fault(fields["format"], "") == "required"
