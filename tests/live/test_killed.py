"""Killed at any moment: what was committed is there, a second of sound is lost at most."""

from __future__ import annotations

import random
from pathlib import Path

from tests.live.kills import Counts, how_of, kill_one, make_sound

KILLS = 4


def test_a_killed_session_loses_nothing_committed_and_is_completed(tmp_path: Path) -> None:
    """A short form of `tests/bench/field_kills.py`."""
    sound, chance, counts = make_sound(tmp_path), random.Random(11), Counts()
    for number in range(KILLS):
        kill_one(sound, chance, counts, how_of(number))
    assert counts.committed > KILLS, "the kills fell before anything was said"
    assert counts.lost == 0
    assert max(counts.lost_s) <= 1.0
    assert counts.completed == KILLS
