"""What an exchange tells of itself while it goes on."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from tests.web.evening import keep
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.share import share_now, start_share
from voicelog.store import Log

LINES = ("start session bracken", "here level four", "came")


def test_who_joins_hears_how_many_files_are_read_and_then_how_many_recordings_are_derived(
    tmp_path: Path,
) -> None:
    names = (tmp_path / "anna", tmp_path / "joe")
    for name in names:
        name.mkdir()
    with (
        Log.open(names[0], now=lambda: datetime.now(UTC)) as anna,
        Log.open(names[1], now=lambda: datetime.now(UTC)) as joe,
    ):
        for day in (1, 2):
            keep(anna, LINES, f"day {day}", at=datetime(2026, 4, day, 7, 30))
        start_share(anna, tmp_path / "share", "Anna")
        share_now(SessionCatalog(anna))
        start_share(joe, tmp_path / "share", "Joe")
        told: list[tuple[int, int]] = []
        share_now(SessionCatalog(joe), lambda *so_far: told.append(so_far))
        assert told == [(0, 1), (1, 2), (2, 2)]
        told.clear()
        share_now(SessionCatalog(joe), lambda *so_far: told.append(so_far))
        assert told == [], "nothing new, nothing told"
