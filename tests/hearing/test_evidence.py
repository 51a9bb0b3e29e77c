"""How likely readings are: a conditional logit (McFadden, 1974) with "none of these" in it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.hearing.listening import Knowing, Writing, fitting
from voicelog.hearing.candidates import Candidate, Considered, InPhones
from voicelog.hearing.companies import (
    BOTH,
    BOTH_WRITING,
    CAREFUL,
    CAREFUL_WRITING,
    QUICK,
    company_of,
)
from voicelog.hearing.evidence import evidence, likelihoods
from voicelog.hearing.listener import NOTHING
from voicelog.hearing.posteriors import PLACES, Posteriors
from voicelog.hearing.transcript import Line, Transcript, Weight

WELL = Candidate(
    words="level three came",
    quick=True,
    again=1.0,
    match=fitting(-1.0, -1.5),
    untold_s=0.1,
    weight=Weight(-1.0, -0.2, -0.5),
    held_first=True,
    free=True,
    phones=6.0,
    in_phones=InPhones(first=True, behind=0.0, short=-0.1, between=-0.1),
)
BADLY = replace(
    WELL,
    quick=False,
    again=0.0,
    match=None,
    untold_s=1.5,
    weight=Weight(-40.0, -4.0, -8.0),
    held_first=False,
    free=False,
    in_phones=InPhones(first=False, behind=-20.0, short=-3.0, between=-8.0),
)
SETS = pytest.mark.parametrize(
    "weights",
    [BOTH, QUICK, CAREFUL, BOTH_WRITING, CAREFUL_WRITING],
    ids=["both", "quick", "careful", "both, one writing", "one writing"],
)

numbers = st.floats(-100, 100, allow_nan=False)
candidates = st.builds(
    Candidate,
    words=st.sampled_from(["came", "level three came", "tap two"]),
    quick=st.booleans(),
    again=st.floats(0, 1),
    match=st.none() | st.builds(fitting, numbers, numbers, pace=st.floats(0, 100)),
    untold_s=st.floats(0, 14),
    weight=st.builds(Weight, numbers, numbers, numbers),
    held_first=st.booleans(),
    free=st.booleans(),
    phones=st.floats(1, 20),
    in_phones=st.builds(
        InPhones,
        first=st.booleans(),
        behind=st.floats(-500, 0),
        short=st.floats(-50, 0),
        between=st.floats(-300, 0),
    ),
)
TOLD = np.zeros((0, 1 + len(PLACES)), np.float32)
"""Phones of no sound: somebody told them."""


def considered(
    *candidates: Candidate, loud_db: float = 30.0, free: Line | None = None
) -> Considered:
    return Considered(NOTHING, Transcript(free=free), candidates, loud_db)


def chance(one: Candidate, *others: Candidate, weights: object) -> float:
    return likelihoods(considered(one, *others), weights)[0]  # type: ignore[arg-type]


@SETS
@given(st.lists(candidates, max_size=6), st.floats(-20, 80))
def test_likelihoods_leave_a_part_for_none_of_these(
    weights: dict[str, float], some: list[Candidate], loud_db: float
) -> None:
    found = likelihoods(considered(*some, loud_db=loud_db), weights)
    assert len(found) == len(some)
    assert all(0.0 <= one <= 1.0 for one in found)
    assert sum(found) <= 1.0 + 1e-9


@SETS
def test_what_all_speaks_for_is_likely_and_what_nothing_speaks_for_is_not(
    weights: dict[str, float],
) -> None:
    assert chance(WELL, weights=weights) > 0.9
    assert chance(BADLY, weights=weights) < 0.1
    assert chance(WELL, BADLY, weights=weights) > chance(BADLY, WELL, weights=weights)


def test_nothing_to_choose_from_is_nothing() -> None:
    assert likelihoods(considered(), BOTH) == ()


def test_the_likelihoods_are_the_logits() -> None:
    two = considered(WELL, BADLY)
    scores = [
        sum(BOTH[name] * value for name, value in evidence(one, two).items() if name in BOTH)
        for one in (WELL, BADLY)
    ]
    total = 1 + sum(map(math.exp, scores))
    assert likelihoods(two, BOTH) == pytest.approx([math.exp(s) / total for s in scores])


@given(candidates, candidates, st.floats(0, 3), st.floats(0, 3))
def test_more_weight_on_what_speaks_for_a_reading_makes_it_no_less_likely(
    one: Candidate, other: Candidate, less: float, more: float
) -> None:
    low, high = sorted((less, more))
    two = considered(replace(one, quick=True), replace(other, quick=False))
    assert likelihoods(two, {"quick": high})[0] >= likelihoods(two, {"quick": low})[0]
    assert likelihoods(two, {"quick": high})[1] <= likelihoods(two, {"quick": low})[1]


@given(candidates, st.lists(candidates, max_size=4))
def test_another_reading_never_makes_one_likelier(one: Candidate, others: list[Candidate]) -> None:
    alone = considered(one, free=Line("", -3.0, -1.0))
    among = considered(one, *others, free=Line("", -3.0, -1.0))
    assert likelihoods(among, BOTH)[0] <= likelihoods(alone, BOTH)[0] + 1e-9


@pytest.mark.parametrize("weights", [BOTH, BOTH_WRITING], ids=["telling phones", "writing"])
@pytest.mark.parametrize(
    "worse",
    [
        pytest.param({"again": 0.0}, id="hearing again, it differs"),
        pytest.param({"untold_s": 1.0}, id="more speech lies under no word"),
        pytest.param({"match": fitting(-3.5, -5.0)}, id="the sound fits it badly"),
        pytest.param({"quick": False, "again": 0.0}, id="the quick one hears another"),
    ],
)
def test_each_of_these_makes_a_reading_less_likely(
    weights: dict[str, float], worse: dict[str, object]
) -> None:
    assert chance(replace(WELL, **worse), weights=weights) < chance(WELL, weights=weights)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("weights", "worse"),
    [
        pytest.param(BOTH_WRITING, {"weight": Weight(-15.0, -3.0, -6.0)}, id="it doubts the text"),
        pytest.param(BOTH_WRITING, {"held_first": False}, id="it writes another first"),
        pytest.param(BOTH_WRITING, {"words": "came"}, id="it is a single word"),
        pytest.param(
            BOTH, {"in_phones": InPhones(False, -3.0, -0.8, -0.1)}, id="others lie better"
        ),
        pytest.param(BOTH, {"in_phones": InPhones(True, 0.0, -2.5, -0.1)}, id="it lies badly"),
        pytest.param(
            BOTH,
            {"in_phones": InPhones(True, 0.0, -0.1, -12.0)},
            id="some lie under no word",
        ),
    ],
)
def test_each_of_these_makes_the_careful_one_doubt_it(
    weights: dict[str, float], worse: dict[str, object]
) -> None:
    assert chance(replace(WELL, **worse), weights=weights) < chance(WELL, weights=weights)  # type: ignore[arg-type]


def test_in_company_each_uses_the_weights_fitted_for_it() -> None:
    class Bare:
        name = "bare 1"
        hear = Knowing.hear

    quick, careful = Knowing(NOTHING), Writing([])
    written, told = considered(), Considered(NOTHING, None, (), 30.0, TOLD)
    assert company_of(quick, None, considered()).weights is QUICK
    assert company_of(quick, careful, told).weights is BOTH
    assert company_of(quick, careful, written).weights is BOTH_WRITING
    assert company_of(Bare(), careful, told).weights is CAREFUL  # type: ignore[arg-type]
    assert company_of(Bare(), careful, written).weights is CAREFUL_WRITING  # type: ignore[arg-type]
    assert company_of(None, careful, told).weights is CAREFUL
    assert company_of(None, careful, written).weights is CAREFUL_WRITING


@pytest.mark.parametrize("told", [TOLD, None], ids=["telling phones", "writing"])
def test_the_bars_stand_in_order_and_in_noise_no_lower(told: Posteriors | None) -> None:
    of = Considered(NOTHING, None, (), 30.0, told)
    for quick, careful in (
        (Knowing(NOTHING), None),
        (Knowing(NOTHING), Writing([])),
        (None, Writing([])),
    ):
        company = company_of(quick, careful, of)
        for bars in (company.quiet, company.noisy):
            assert 0.0 < bars.look < bars.sure <= min(bars.word, bars.twin)
            assert max(bars) < 1.0
        assert all(low <= high for low, high in zip(company.quiet, company.noisy, strict=True))
        assert company.bars(40.0) == company.quiet
        assert company.bars(10.0) == company.noisy


@SETS
def test_every_weight_has_its_evidence(weights: dict[str, float]) -> None:
    assert set(weights) <= set(evidence(WELL, considered(WELL)))
