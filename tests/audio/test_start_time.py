"""Start times are believed only as far as the tags go."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.audio.start_time import started_at

BERLIN_SUMMER = timezone(timedelta(hours=2))


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        (
            {"creation_time": "2026-05-02T07:08:09.000000Z"},
            datetime(2026, 5, 2, 7, 8, 9, tzinfo=UTC),
        ),
        (
            {
                "creation_time": "2026-05-02T07:08:09.000000Z",
                "com.apple.quicktime.creationdate": "2026-05-02T09:08:09+0200",
            },
            datetime(2026, 5, 2, 9, 8, 9, tzinfo=BERLIN_SUMMER),
        ),
        (
            {"origination_date": "2026-05-02", "origination_time": "07:08:09"},
            datetime(2026, 5, 2, 7, 8, 9),
        ),
        (
            {"origination_date": "2026_05_02", "origination_time": "07.08.09"},
            datetime(2026, 5, 2, 7, 8, 9),
        ),
        (
            {"date": "2026-05-02", "creation_time": "07:08:09"},
            datetime(2026, 5, 2, 7, 8, 9),
        ),
        ({"DATE": "2026-05-02T07:08:09"}, datetime(2026, 5, 2, 7, 8, 9)),
        ({"Date": "2026-05-02 07:08"}, datetime(2026, 5, 2, 7, 8)),
        (
            {"date": "2026-05-02T07:08:09.25+02:00"},
            datetime(2026, 5, 2, 7, 8, 9, tzinfo=BERLIN_SUMMER),
        ),
        (
            {"creation_time": "nonsense", "date": "2026-05-02T07:08:09z"},
            datetime(2026, 5, 2, 7, 8, 9, tzinfo=UTC),
        ),
    ],
)
def test_a_date_with_a_time_is_read(tags: dict[str, str], expected: datetime) -> None:
    when = started_at(tags)
    assert when == expected
    assert when is not None
    assert when.utcoffset() == expected.utcoffset()


def test_the_zone_of_id3_is_utc() -> None:
    tags = {"date": "2026-05-02T07:08:09"}
    assert started_at(tags, zone_is_utc=True) == datetime(2026, 5, 2, 7, 8, 9, tzinfo=UTC)


@pytest.mark.parametrize(
    "tags",
    [
        {},
        {"date": "2026"},
        {"date": "2026-05-02"},
        {"date": "2026-05-02T00:00:00Z"},
        {"date": "2026-13-02T07:08:09"},
        {"date": "2026-05-02T25:08:09"},
        {"date": "last Tuesday at 10:00"},
        {"origination_date": "2026-05-02"},
        {"origination_time": "07:08:09"},
        {"creation_time": "1970-01-01T00:03:00Z"},
        {"creation_time": "1904-01-01T00:00:01Z"},
    ],
)
def test_what_is_no_date_with_a_time_is_unknown(tags: dict[str, str]) -> None:
    assert started_at(tags) is None


@given(
    st.datetimes(
        min_value=datetime(2000, 1, 1, 0, 0, 1),
        max_value=datetime(2099, 12, 31),
        timezones=st.sampled_from([None, UTC, BERLIN_SUMMER]),
    )
)
def test_an_iso_time_survives_the_round_trip(when: datetime) -> None:
    when = when.replace(microsecond=0)
    expected = None if (when.hour, when.minute, when.second) == (0, 0, 0) else when
    assert started_at({"date": when.isoformat()}) == expected


@given(st.text(max_size=40))
def test_any_tag_at_all_is_read_or_refused(text: str) -> None:
    started_at({"date": text, "creation_time": text, "origination_date": text})
