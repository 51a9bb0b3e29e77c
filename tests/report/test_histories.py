"""Random histories through every paper: no exception, no dog lost, no two papers at odds."""

from __future__ import annotations

import re

import pytest

from tests.histories import history, papers, session_digests_of
from tests.paper_claims import contradictions
from voicelog.analysis.plan import plan
from voicelog.analysis.readiness import readiness
from voicelog.analysis.session_scope import scope_of
from voicelog.report.wording.matters import beside_mark
from voicelog.report.wording.reasons import reason_words
from voicelog.safety import Settings

FIRST, MANY, AT_ONCE = 200, 200, 25
"""Among these seeds is one whose fit used to be singular (232)."""


@pytest.mark.parametrize("first", range(FIRST, FIRST + MANY, AT_ONCE))
def test_every_paper_of_a_random_history_is_made(first: int) -> None:
    """And after a stop none of them names a level to start at, or a step."""
    stops = 0
    for seed in range(first, first + AT_ONCE):
        made = {name: " ".join(words.split()) for name, words in papers(seed)}
        for name, words in made.items():
            where = f"{name} of seed {seed}"
            assert words, where
            assert "Could not be worked out" not in words, where
            assert not re.search(r"\b(nan|inf|NaN|Infinity)\b", words), where
        assert contradictions(seed) == [], seed
        dog, past = history(seed)
        session_digests = session_digests_of(past)
        if not session_digests or not session_digests[-1].stops:
            continue
        stops += 1
        rules = Settings().for_dog(dog.name)
        one = plan(session_digests, dog, rules)
        assert (one.button, one.start, one.most) == (False, None, None), seed
        steps = readiness(scope_of(session_digests), rules, dog.reached)
        assert all(step.verdict != "ready" for step in steps), seed
        for name in ("plan", "progress", "kennel"):
            assert "no higher than" not in made[name], (seed, name)
            assert beside_mark(reason_words(one.stops[0])) in made[name], (seed, name)
    assert stops
