"""Dates as people write them: read when they are one day, refused when they may be two."""

from __future__ import annotations

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.app.written_dates import UnclearDateError, read_day, read_moment

TODAY = date(2026, 11, 26)  # a Thursday
NOW = datetime(2026, 11, 26, 18, 30)


@pytest.mark.parametrize(
    ("written", "day", "reckoned"),
    [
        ("2026-11-24", "2026-11-24", False),
        ("2026/11/24", "2026-11-24", False),
        ("24.11.2026", "2026-11-24", False),
        ("3.4.2026", "2026-04-03", False),
        ("24/11/2026", "2026-11-24", False),
        ("11/24/2026", "2026-11-24", False),
        ("04/04/2026", "2026-04-04", False),
        ("24 Nov 2026", "2026-11-24", False),
        ("Nov 24th, 2026", "2026-11-24", False),
        ("Tue 24 November 2026", "2026-11-24", False),
        ("24 Nov", "2026-11-24", True),
        ("24.11.", "2026-11-24", True),
        ("the 24th of November", "2026-11-24", True),
        ("27 Nov", "2025-11-27", True),
        ("29 Feb", "2024-02-29", True),
        ("today", "2026-11-26", True),
        ("Yesterday", "2026-11-25", True),
        ("day before yesterday", "2026-11-24", True),
        ("3 days ago", "2026-11-23", True),
        ("Tuesday", "2026-11-24", True),
        ("last tues", "2026-11-24", True),
        ("last Thursday", "2026-11-19", True),
    ],
)
def test_a_day_is_read_as_people_write_it(written: str, day: str, reckoned: bool) -> None:
    assert read_day(written, TODAY) == (date.fromisoformat(day), reckoned)


@pytest.mark.parametrize(
    ("written", "wanted"),
    [
        ("03/04/2026", "type 2026-04-03 or 2026-03-04, since either may be the month."),
        ("3/4", "type 3 Apr or 4 Mar,"),
        ("Thursday", "type today or last Thursday,"),
        ("Mon 24 Nov 2026", "the weekday of that day (Tuesday)"),
        ("31 Nov 2026", "a day that the calendar has"),
        ("31.11.2026", "a day that the calendar has"),
        ("24.11.26", "type a day such as"),
        ("0/0/2026", "type a day such as"),
        ("next Tuesday", "type a day such as"),
        ("tomorrow", "type a day such as"),
        ("24", "type a day such as"),
        ("", "type a day such as"),
        ("ma 24", "type a day such as"),
    ],
)
def test_what_is_no_day_or_may_be_two_is_refused(written: str, wanted: str) -> None:
    with pytest.raises(UnclearDateError) as refused:
        read_day(written, TODAY)
    assert wanted in str(refused.value)
    assert str(refused.value).startswith(f"'{written}' is not clear for --day; type ")


@pytest.mark.parametrize(
    ("written", "moment"),
    [
        ("2026-11-24T07:42", "2026-11-24T07:42"),
        ("2026-11-24T07:42+01:00", "2026-11-24T07:42+01:00"),
        ("2026-11-24 7:42", "2026-11-24T07:42"),
        ("24.11.2026 7:42", "2026-11-24T07:42"),
        ("24 Nov 2026, 7:42 PM", "2026-11-24T19:42"),
        ("yesterday 7:42", "2026-11-25T07:42"),
        ("yesterday at 7 a.m.", "2026-11-25T07:00"),
        ("7:42:10 yesterday", "2026-11-25T07:42:10"),
        ("Tuesday 12.05 am", "2026-11-24T00:05"),
        ("24 Nov", "2026-11-24T00:00"),
    ],
)
def test_a_time_stands_before_or_after_the_day(written: str, moment: str) -> None:
    assert read_moment(written, NOW).moment == datetime.fromisoformat(moment)


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("27 Nov 7:30", "Thursday, 27 Nov 2025"),
        ("25 Oct", "Sunday, 25 Oct 2026"),
        ("29 Feb", "2024"),
    ],
)
def test_a_moment_without_a_year_is_of_the_last_month_or_refused(written: str, day: str) -> None:
    with pytest.raises(UnclearDateError, match="type its year too if it was") as refused:
        read_moment(written, NOW)
    assert day in str(refused.value)


@pytest.mark.parametrize("written", ["26 Oct", "26 Nov", "40 days ago", "26 Oct 2024 7:30"])
def test_a_moment_of_the_last_month_or_counted_back_needs_no_year(written: str) -> None:
    assert read_moment(written, NOW).moment <= NOW


@pytest.mark.parametrize(
    "written", ["yesterday 25:00", "yesterday 13 pm", "7:42", "03/04/2026 7:42"]
)
def test_a_time_that_cannot_be_is_refused(written: str) -> None:
    with pytest.raises(UnclearDateError, match="for --at"):
        read_moment(written, NOW)


@given(
    st.dates(date(2000, 1, 1), date(2026, 11, 26)),
    st.sampled_from(["%d %B %Y", "%d.%m.%Y", "%B %d, %Y", "%A %d %b %Y"]),
)
def test_every_day_is_read_back(day: date, form: str) -> None:
    assert read_day(day.strftime(form), TODAY) == (day, False)


@given(st.text(max_size=30))
def test_any_text_is_a_day_or_is_refused(text: str) -> None:
    try:
        read_moment(text, NOW)
        read_day(text, TODAY)
    except UnclearDateError:
        pass
