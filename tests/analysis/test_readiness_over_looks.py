"""Readiness over all looks: seldom for a poor dog, soon for a good one, by the bench's simulation.

`python -m tests.bench.evidence readiness` prints the whole tables.
"""

from __future__ import annotations

import math
import random

import pytest

from tests.analysis.dogs import rep, session_digest
from tests.bench.readiness_looks import allowed, first_ready, looked_at
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.readiness import readiness
from voicelog.analysis.session_scope import scope_of
from voicelog.analysis.statistics.session_evidence import LUCK_IN_TEN, LUCK_IN_TWENTY

RUNS = 400


@pytest.mark.parametrize("law", ["beta", "runs"])
@pytest.mark.parametrize("calls", ["3", "10", "3-15", "3 to a good one"])
def test_a_poor_dog_is_seldom_ready_in_twenty_sessions(calls: str, law: str) -> None:
    assert looked_at(RUNS, 20, 0.6, 0.2, calls, 1, law).share <= allowed(RUNS)


def test_the_chance_of_luck_that_is_printed_is_that_of_playing_it() -> None:
    """With the number of calls that is worst; three standard errors, and not twice too high."""
    found = looked_at(3000, 20, 0.6, 0.2, "5", 2, "runs")
    ten = sum(sessions <= 10 for sessions in found.sessions) / found.runs
    for share, said in ((found.share, LUCK_IN_TWENTY), (ten, LUCK_IN_TEN)):
        assert said / 2 <= share <= said + 3 * math.sqrt(said / found.runs)


def test_a_good_dog_is_ready_within_some_sessions() -> None:
    found = looked_at(RUNS // 4, 20, 0.9, 0.1, "3-15", 1)
    assert found.share >= 0.95
    assert 4 <= float(found.middle) <= 8


def test_the_simulation_goes_by_the_rule_that_ships() -> None:
    chance, rules = random.Random(3), Criteria()
    for _ in range(12):
        rate = chance.choice([0.7, 0.9, 0.95])
        work = [[chance.random() < rate for _ in range(chance.randint(3, 15))] for _ in range(14)]
        days = [
            session_digest(
                [rep(n, outcome="complied" if came else "ignored") for n, came in enumerate(calls)],
                day,
            )
            for day, calls in enumerate(work)
        ]
        looks = (
            readiness(scope_of(days[:many]), rules)[0].verdict for many in range(1, len(days) + 1)
        )
        assert next((n for n, one in enumerate(looks, 1) if one == "ready"), None) == first_ready(
            work
        )
