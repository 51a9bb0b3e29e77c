"""Broken input never makes a traceback, a hang, or a half-kept thing; tests/bench/fuzz.py has
the long form."""

from __future__ import annotations

import os

import pytest

from tests.bench.fuzz import FUZZERS, run

COUNTS = {
    "readings": 15,  # sessions of 20 readings
    "audio": 30,
    "grammars": 15,
    "settings": 100,
    "databases": 15,
    "bundles": 30,
    "page": 150,
    "imports": 4,
}


def test_every_fuzzer_has_its_short_form() -> None:
    assert set(COUNTS) == set(FUZZERS)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the cases run in forked children")
@pytest.mark.parametrize("fuzzer", sorted(COUNTS))
def test_broken_input_is_refused_in_a_sentence_or_borne(fuzzer: str) -> None:
    outcomes = run(fuzzer, COUNTS[fuzzer], seed=2)
    assert [outcome for outcome in outcomes if outcome.startswith("FAILED")] == []
    assert sum(outcomes.values()) == COUNTS[fuzzer]
