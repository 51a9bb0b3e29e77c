"""The tables described: a Frictionless Data Package (specs.frictionlessdata.io) beside the CSVs.

One schema for each table: every column with its type, unit, meaning, and what it may hold, so
that another program reads the export without this one's source. The description is made from
the columns of `tables`; a test holds the two together.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Literal, get_args

from voicelog import __version__
from voicelog.model import CONTRACT_VERSION, By, CueBy, Mode, Outcome, Severity, Status
from voicelog.report.tables import ENTRY_COLUMNS, FINDING_COLUMNS, REP_COLUMNS

__all__ = ["PACKAGE", "datapackage"]

PACKAGE = "datapackage.json"
"""The name under which the description lies beside the tables."""

Type = Literal["string", "integer", "number", "boolean"]

_LIST = "separated by '; '"
_S = "seconds from the recording's first sample"
_LEVELS = r"(-?[0-9]+@[0-9.e+-]+(; )?)*"


def _of(kind: Type, description: str, **constraints: Any) -> dict[str, Any]:
    field: dict[str, Any] = {"type": kind, "description": description}
    if kind == "boolean":
        field |= {"trueValues": ["yes"], "falseValues": ["no"]}
    return field | ({"constraints": constraints} if constraints else {})


def _one_of(kinds: Any, description: str, **constraints: Any) -> dict[str, Any]:
    return _of("string", description, enum=list(get_args(kinds)), **constraints)


def _seconds(description: str, **constraints: Any) -> dict[str, Any]:
    return _of("number", description, **({"minimum": 0} | constraints))


_FORMAT = _of("integer", "version of the data format", required=True, enum=[CONTRACT_VERSION])
_AUDIO = _of("string", "the recording's file name")
_COLUMNS: dict[str, dict[str, Any]] = {
    "format": _FORMAT,
    "audio": _AUDIO,
    "session": _of("string", "id of the session"),
    "dog": _of("string", "the dog's name"),
    "number": _of("integer", "number of the rep in its session", required=True, minimum=1),
    "id": _of("string", "id of the row", required=True),
    "drill": _of("string", "drill said; empty: not said"),
    "start_s": _seconds(_S, required=True),
    "end_s": _seconds(_S, required=True),
    "cue": _of("string", "the cue as said, or the whistle"),
    "cue_by": _one_of(CueBy, "who gave the cue"),
    "cues": _of("integer", "how often the dog was called", required=True, minimum=0),
    "mode": _one_of(Mode, "what the thumb did; unknown: not said", required=True),
    "levels": _of("string", f"levels in order, 'level@seconds', {_LIST}", pattern=_LEVELS),
    "peak_level": _of("integer", "highest level of the rep", minimum=0),
    "end_level": _of("integer", "last level of the rep", minimum=0),
    "outcome": _one_of(Outcome, "how the rep ended; empty: not said"),
    "signs": _of("string", f"signs of the body in order, {_LIST}"),
    "sign_marks": _of("string", f"signs as 'sign/class/level@seconds', {_LIST}"),
    "stress": _of("boolean", "a strong sign, or two different weak ones", required=True),
    "turned_s": _seconds(
        "seconds from the call to the turn, about 1 s either way; empty: not timed"
    ),
    "latency_s": _seconds("seconds from the call to arriving, likewise"),
    "stimulus_s": _seconds("seconds of the longest held press whose end was said"),
    "rewards": _of("string", f"rewards given, {_LIST}"),
    "distraction": _of("string", "distraction said; empty: not said"),
    "distance": _of("number", "distance said, in distance_unit", minimum=0),
    "distance_unit": _of("string", "metres or yards", enum=["metres", "yards"]),
    "entries": _of("string", f"ids of the entries that made it, {_LIST}"),
    "doubtful": _of("boolean", "to check; counts in no estimate", required=True),
    "void": _of("boolean", "taken back, or no contact; counts in no estimate", required=True),
    "heard": _of("string", "the words as heard"),
    "reading": _of("string", "the words as read"),
    "status": _one_of(
        Status, "accepted: sure; doubtful: to check; rejected: not understood", required=True
    ),
    "confidence": _of("number", "0 to 1", required=True, minimum=0, maximum=1),
    "alternatives": _of("string", f"other readings offered, {_LIST}"),
    "kind": _of("string", "kinds of its phrases in spoken order, joined by '+'"),
    "slots": _of("string", f"values said, 'name=value', {_LIST}"),
    "by": _one_of(By, "who read it last", required=True),
    "voided": _of("boolean", "void: taken back, or not to count", required=True),
    "placed": _of("boolean", "whether it did anything in its session", required=True),
    "rule": _of("string", "the safety rule", required=True),
    "severity": _one_of(Severity, "remark, caution or stop", required=True),
    "reps": _of("string", f"numbers of the reps it is about, {_LIST}"),
    "evidence": _of("string", f"ids of the entries it is based on, {_LIST}"),
    "on_doubt": _of("boolean", "based on an entry to check", required=True),
    "struck": _of("boolean", "based on a void entry", required=True),
    "message": _of("string", "what was seen"),
    "advice": _of("string", "what to do"),
    "basis": _of("string", "where the rule comes from"),
}

_TABLES = (
    ("reps", REP_COLUMNS, "Every rep, one a row; those to check and void ones too."),
    ("entries", ENTRY_COLUMNS, "Every entry: what was said, as read."),
    (
        "findings",
        FINDING_COLUMNS,
        "Every finding of the safety rules, those on void entries too.",
    ),
)


def datapackage() -> str:
    """The description as JSON, ending in a newline."""
    package = {
        "profile": "tabular-data-package",
        "name": "voicelog-export",
        "title": "An export of voicelog",
        "description": "Null is an empty cell. A cell that a spreadsheet would run as a formula "
        "has a leading apostrophe, which is not part of the value.",
        "version": __version__,
        "resources": [_resource(*table) for table in _TABLES],
    }
    return json.dumps(package, indent=2) + "\n"


def _resource(name: str, columns: Sequence[str], description: str) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": name,
        "path": f"{name}.csv",
        "description": description,
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\r\n",
            "doubleQuote": True,
            "header": True,
        },
        "schema": {
            "fields": [{"name": column, **_COLUMNS[column]} for column in columns],
            "missingValues": [""],
        },
    }
