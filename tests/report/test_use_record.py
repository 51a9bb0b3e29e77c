"""The record of use: what was said, what was given, and nothing else."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime
from typing import Any

from tests.safety.build import Field
from voicelog.model import Dog
from voicelog.report.use_record import USE_COLUMNS, UseRecord, use_record, uses_csv

from .build import finding

AT = datetime(2031, 5, 4, 9, 30)


def worked(dog: Dog | None = None) -> Field:
    """Recalls on a vibration, twice at 2 and once at 3, the last one to check."""
    field = Field(dog or Dog(name="Juno"))
    field.drill("recall").cue().vibrate().out()
    return field.rep(2).rep(2).rep().cue().press(3).doubt().out("ignored")


def the(field: Field, **given: Any) -> UseRecord:
    made = use_record(field.session(), (), AT, **given)
    assert made is not None
    return made


def test_a_session_without_a_collar_is_no_use_of_one() -> None:
    assert use_record(Field().rep().rep().session(), (), AT) is None


def test_levels_used_are_counted_by_mode_and_those_to_check_are_among_them() -> None:
    use = the(worked())
    assert use.uses == "continuous 2 x2; continuous 3 x1; vibrate x1"
    assert use.unclear == "1 press to check"
    assert use.result == (
        "5 reps (1 to check); only the sure ones count; 4 recalls: 1 answered on vibrate, 2 "
        "answered at 2, 1 came (button not said); unaided at the first call 0 of 4; "
        "4 more with the button, or nothing said of it; "
        "Not counted: rep 5 (check)"
    )


def test_what_nobody_gave_is_empty() -> None:
    use = the(worked())
    assert (use.reason, use.client, use.identification, use.born, use.handler) == ("",) * 5
    unknown = use_record(worked().session(), (), None)
    assert unknown is not None
    assert unknown.date == ""


def test_what_was_given_is_taken_as_it_is() -> None:
    dog = Dog(name="Juno", client="A. Owner", identification="chip 12", born=date(2029, 1, 2))
    use = the(worked(dog), reason="recall near a road")
    assert (use.date, use.reason, use.client, use.identification, use.born) == (
        "2031-05-04 09:30", "recall near a road", "A. Owner", "chip 12", "2029-01-02",
    )  # fmt: skip


def test_a_client_given_later_stands_in_only_where_none_was_given_before() -> None:
    today = Dog(name="Juno", client="New Owner", identification="chip 12")
    assert the(worked(), today=today).client == "New Owner"
    before = Dog(name="Juno", client="A. Owner")
    use = the(worked(before), today=today)
    assert (use.client, use.identification) == ("A. Owner", "chip 12")


def test_stops_and_cautions_stand_beside_the_result_those_on_void_entries_too() -> None:
    session = worked().session()
    found = [
        finding("skin", "stop", "skin red", "rest", session=session.id, struck=True),
        finding("step-big", "caution", "up by two", "up by one", session=session.id),
        finding("uncued", "remark", "no cue", "ask first", session=session.id),
        finding("heat", "stop", "hot", "stop", session="another"),
    ]
    use = use_record(session, found, AT)
    assert use is not None
    assert use.findings == "stop: skin red (void); caution: up by two"


def test_the_table_has_its_columns_and_guards_formulas() -> None:
    use = the(worked(), reason="=1+1")
    head, row = csv.reader(io.StringIO(uses_csv([use])))
    assert tuple(head) == USE_COLUMNS
    assert dict(zip(head, row, strict=True))["reason"] == "'=1+1"
