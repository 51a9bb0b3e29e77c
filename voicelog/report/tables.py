"""Reps, entries and findings as CSV, and the whole output contract as JSON.

CSV is for spreadsheets, which run a cell that looks like a formula: such a cell gets a
leading apostrophe, and `unguard` takes it off again. Columns are fixed and come with
CONTRACT_VERSION, which every row carries. Null is an empty cell; lists are joined by "; ".

Times are seconds (s) from the recording's first sample.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from voicelog.model import (
    CONTRACT_VERSION,
    Document,
    EntryOutput,
    Finding,
    FrozenModel,
    LevelMark,
    Rep,
    SignMark,
)
from voicelog.report.plain_stream import json_escaped

__all__ = [
    "ENTRY_COLUMNS",
    "FINDING_COLUMNS",
    "REP_COLUMNS",
    "dump",
    "entries_csv",
    "findings_csv",
    "reps_csv",
    "unguard",
    "write_rows",
]

REP_COLUMNS = (
    "format", "audio", "session", "dog", "number", "id", "drill", "start_s", "end_s", "cue",
    "cue_by", "cues", "mode", "levels", "peak_level", "end_level", "outcome", "signs",
    "sign_marks", "stress", "turned_s", "latency_s", "stimulus_s", "rewards", "distraction",
    "distance", "distance_unit", "entries", "doubtful", "void",
)  # fmt: skip
"""Columns of `reps_csv`. A level is written "level@seconds", a sign mark
"sign/class/level@seconds" with the level empty when none was in force."""

ENTRY_COLUMNS = (
    "format", "audio", "session", "id", "start_s", "end_s", "heard", "reading", "status",
    "confidence", "alternatives", "kind", "slots", "by", "voided", "placed",
)  # fmt: skip
"""Columns of `entries_csv`. A slot is written "name=value"."""

FINDING_COLUMNS = (
    "format", "audio", "session", "rule", "severity", "reps", "evidence", "on_doubt", "struck",
    "message", "advice", "basis",
)  # fmt: skip
"""Columns of `findings_csv`."""

_FORMULA = re.compile(r"\s*[=+\-@＝＋－＠']|[\t\r]")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", re.ASCII)


_OF_2 = {"times", "intervals", "doubts", "failed_first"}
_NOT_IN_1: dict[str, Any] = {"recordings": {"__all__": {"reps": {"__all__": _OF_2}}}}
"""What format 2 adds to format 1."""


def dump(document: Document) -> str:
    """The contract as indented JSON in the document's format, ending in a newline."""
    left_out = _NOT_IN_1 if document.format == 1 else None
    found = document.model_dump_json(by_alias=True, indent=2, exclude=left_out)
    return json_escaped(found) + "\n"


def reps_csv(document: Document) -> str:
    """Every rep, one row each, with a heading row; lines end in CR LF (RFC 4180). `document` is the
    export that JSON has too."""
    return _table(REP_COLUMNS, ((line.audio, line.reps) for line in document.recordings))


def entries_csv(document: Document) -> str:
    """Every entry, whatever its status. `document` is the export that JSON has too."""
    return _table(ENTRY_COLUMNS, ((line.audio, line.entries) for line in document.recordings))


def findings_csv(document: Document) -> str:
    """Every finding, those on void entries too. `document` is the export that JSON has too."""
    return _table(FINDING_COLUMNS, ((line.audio, line.findings) for line in document.recordings))


def unguard(cell: str) -> str:
    """A cell as it was before its leading apostrophe, if it has one."""
    return cell[1:] if cell.startswith("'") else cell


def _table(
    columns: Sequence[str],
    recordings: Iterable[tuple[str, Sequence[Rep] | Sequence[EntryOutput] | Sequence[Finding]]],
) -> str:
    return write_rows(
        columns,
        (
            {"format": CONTRACT_VERSION, "audio": audio, **_fields(record)}
            for audio, records in recordings
            for record in records
        ),
    )


def write_rows(columns: Sequence[str], rows: Iterable[Mapping[str, Any]]) -> str:
    """A heading row and one row for each mapping, guarded; lines end in CR LF (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    for values in rows:
        writer.writerow([_guard(_cell(values[column])) for column in columns])
    return out.getvalue()


def _fields(record: FrozenModel) -> dict[str, Any]:
    return {name: getattr(record, name) for name in type(record).model_fields}


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, LevelMark):
        return f"{value.level}@{value.at_s:g}"
    if isinstance(value, SignMark):
        level = "" if value.level is None else value.level
        return f"{value.sign}/{value.class_}/{level}@{value.at_s:g}"
    if isinstance(value, Mapping):
        return "; ".join(f"{name}={_cell(item)}" for name, item in value.items())
    if isinstance(value, (tuple, list)):
        return "; ".join(map(_cell, value))
    return str(value)


def _guard(cell: str) -> str:
    return f"'{cell}" if _FORMULA.match(cell) and not _NUMBER.fullmatch(cell) else cell
