"""The one definition of a first call, for a rep in full and in short alike."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.analysis.dogs import rep as short
from tests.report.build import rep as full
from voicelog.analysis.session_digest import RepDigest
from voicelog.analysis.unaided import asked, came_at_once, stimulated, unaided
from voicelog.model import Rep

CASES = [
    ({}, (True, True, True, False)),
    ({"outcome": "slow"}, (True, True, True, False)),
    ({"outcome": "partial"}, (False, False, True, False)),
    ({"outcome": "ignored"}, (False, False, True, False)),
    ({"outcome": None}, (False, False, False, False)),
    ({"outcome": "unknown"}, (False, False, False, False)),
    ({"cues": 2}, (False, False, True, False)),
    ({"cues": 0}, (False, False, False, False)),
    ({"cues": 0, "drill": "steady"}, (True, False, False, False)),
    ({"mode": "unknown"}, (False, True, True, False)),
    ({"mode": "vibrate"}, (False, True, True, True)),
    ({"mode": "tone"}, (False, True, True, True)),
    ({"mode": "momentary", "levels": (2,)}, (False, True, True, True)),
    ({"mode": "continuous", "levels": (2,)}, (False, True, True, True)),
    ({"mode": "continuous"}, (False, True, True, True)),
    ({"mode": "none", "levels": (2,)}, (False, True, True, True)),
]


@pytest.mark.parametrize(("said", "is_"), CASES)
@pytest.mark.parametrize("make", [short, full], ids=["short", "full"])
def test_asked_once_with_no_stimulus_it_came(
    make: Callable[..., RepDigest | Rep], said: dict[str, Any], is_: tuple[bool, bool, bool, bool]
) -> None:
    one = make(1, **said)
    assert (unaided(one), came_at_once(one), asked(one), stimulated(one)) == is_
