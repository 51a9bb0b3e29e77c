"""When a recording that nobody dated began, and what says so."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.app.watch_dating import file_dating

EAST = timezone(timedelta(hours=2))
NOW = datetime(2026, 11, 26, 20, 0, tzinfo=EAST)
CHANGED = datetime(2026, 11, 26, 8, 0, tzinfo=EAST)
MORNING = datetime(2026, 11, 26, 7, 42, 5)

# Names as recorders, phones and messengers in use write them: from memory.
TIMED = [
    "20261126_074205.m4a",
    "REC-20261126-074205.wav",
    "20261126074205.wav",
    "2026-11-26 07.42.05.m4a",
    "AUDIO-2026-11-26-07-42-05.m4a",
    "Recording 2026-11-26 at 7.42.05 AM.m4a",
    "Recording 2026-11-26 at 7.42.05\u202fAM.m4a",
    "VID_20261126_074205123.mp4",
    "field 2026-11-26T07:42:05.flac",
]
UNTIMED = ["PTT-20261125-WA0003.opus", "2026_11_25 (2).wav", "20261125_0742.wav", "20261125-2.wav"]
NEITHER = [
    "REC001.WAV", "03-04-2026.wav", "20991126_074205.wav", "20261340.wav", "20270101.wav",
    "120261126.wav", "19991126_074205.wav", "Bracken.m4a",
]  # fmt: skip


@pytest.mark.parametrize("name", TIMED)
def test_a_time_in_the_name_is_taken(name: str) -> None:
    found = file_dating(None, name, CHANGED, 60.0, NOW)
    assert (found.started_at, found.by) == (MORNING, "name")


@pytest.mark.parametrize("name", UNTIMED)
def test_a_day_in_the_name_has_the_time_of_the_file_only_where_that_is_of_the_day(
    name: str,
) -> None:
    found = file_dating(None, name, CHANGED, 60.0, NOW)
    assert (found.started_at, found.by) == (datetime(2026, 11, 25), "name's day")
    changed = CHANGED - timedelta(days=1)
    found = file_dating(None, name, changed, 60.0, NOW)
    assert (found.started_at, found.by) == (changed - timedelta(minutes=1), "file time")


@pytest.mark.parametrize("name", NEITHER)
def test_what_is_no_date_or_may_be_two_is_left_to_the_time_of_the_file(name: str) -> None:
    found = file_dating(None, name, CHANGED, 60.0, NOW)
    assert (found.started_at, found.by) == (CHANGED - timedelta(minutes=1), "file time")
    odd = file_dating(None, name, NOW + timedelta(days=3), 60.0, NOW)
    assert (odd.started_at, odd.by) == (None, "nothing")


def test_its_own_tags_come_first() -> None:
    tagged = datetime(2026, 11, 24, 9, 0)
    found = file_dating(tagged, TIMED[0], CHANGED, 60.0, NOW)
    assert (found.started_at, found.by) == (tagged, "tags")


@settings(max_examples=40)
@given(st.text(max_size=12), st.datetimes(datetime(2000, 1, 2), datetime(2026, 11, 26)))
def test_no_name_makes_it_fail_and_none_makes_a_date_to_come(rest: str, at: datetime) -> None:
    for name in (rest, f"{at:%Y%m%d_%H%M%S}{rest}", f"{rest} {at:%Y-%m-%d %H.%M.%S}.wav"):
        found = file_dating(None, name, CHANGED, 60.0, NOW)
        assert found.started_at is not None
        assert found.started_at.replace(tzinfo=None) <= NOW.replace(tzinfo=None) + timedelta(days=1)
