"""How likely readings are: a conditional logit (McFadden, 1974) with "none of these" in it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recognition.listening import Knowing, Telling, fitting
from voicelog.recognition.candidates import Candidate, CandidateSet, PhoneEvidence
from voicelog.recognition.features import candidate_probabilities, features
from voicelog.recognition.first_pass import NO_HYPOTHESIS
from voicelog.recognition.fusion import (
    FIRST_PASS_WEIGHTS,
    SECOND_PASS_WEIGHTS,
    TWO_PASS_WEIGHTS,
    fusion_model_for,
)

WELL = Candidate(
    words="level three came",
    quick=True,
    again=1.0,
    match=fitting(-1.0, -1.5),
    untold_s=0.1,
    phones=6.0,
    in_phones=PhoneEvidence(first=True, behind=0.0, short=-0.1, between=-0.1),
)
BADLY = replace(
    WELL,
    quick=False,
    again=0.0,
    match=None,
    untold_s=1.5,
    in_phones=PhoneEvidence(first=False, behind=-20.0, short=-3.0, between=-8.0),
)
SETS = pytest.mark.parametrize(
    "weights",
    [TWO_PASS_WEIGHTS, FIRST_PASS_WEIGHTS, SECOND_PASS_WEIGHTS],
    ids=["both", "quick", "careful"],
)

numbers = st.floats(-100, 100, allow_nan=False)
candidates = st.builds(
    Candidate,
    words=st.sampled_from(["came", "level three came", "tap two"]),
    quick=st.booleans(),
    again=st.floats(0, 1),
    match=st.none() | st.builds(fitting, numbers, numbers, pace=st.floats(0, 100)),
    untold_s=st.floats(0, 14),
    phones=st.floats(1, 20),
    in_phones=st.builds(
        PhoneEvidence,
        first=st.booleans(),
        behind=st.floats(-500, 0),
        short=st.floats(-50, 0),
        between=st.floats(-300, 0),
    ),
)


def considered(*candidates: Candidate, above_noise_db: float = 30.0) -> CandidateSet:
    return CandidateSet(NO_HYPOTHESIS, candidates, above_noise_db)


def chance(one: Candidate, *others: Candidate, weights: Mapping[str, float]) -> float:
    return candidate_probabilities(considered(one, *others), weights)[0]


@SETS
@given(st.lists(candidates, max_size=6), st.floats(-20, 80))
def test_likelihoods_leave_a_part_for_none_of_these(
    weights: dict[str, float], some: list[Candidate], above_noise_db: float
) -> None:
    found = candidate_probabilities(considered(*some, above_noise_db=above_noise_db), weights)
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
    assert candidate_probabilities(considered(), TWO_PASS_WEIGHTS) == ()


def test_the_likelihoods_are_the_logits() -> None:
    two = considered(WELL, BADLY)
    scores = [
        sum(
            TWO_PASS_WEIGHTS[name] * value
            for name, value in features(one, two).items()
            if name in TWO_PASS_WEIGHTS
        )
        for one in (WELL, BADLY)
    ]
    total = 1 + sum(map(math.exp, scores))
    assert candidate_probabilities(two, TWO_PASS_WEIGHTS) == pytest.approx(
        [math.exp(s) / total for s in scores]
    )


@given(candidates, candidates, st.floats(0, 3), st.floats(0, 3))
def test_more_weight_on_what_speaks_for_a_reading_makes_it_no_less_likely(
    one: Candidate, other: Candidate, less: float, more: float
) -> None:
    low, high = sorted((less, more))
    two = considered(replace(one, quick=True), replace(other, quick=False))
    assert (
        candidate_probabilities(two, {"quick": high})[0]
        >= candidate_probabilities(two, {"quick": low})[0]
    )
    assert (
        candidate_probabilities(two, {"quick": high})[1]
        <= candidate_probabilities(two, {"quick": low})[1]
    )


@given(candidates, st.lists(candidates, max_size=4))
def test_another_reading_never_makes_one_likelier(one: Candidate, others: list[Candidate]) -> None:
    alone, among = considered(one), considered(one, *others)
    assert (
        candidate_probabilities(among, TWO_PASS_WEIGHTS)[0]
        <= candidate_probabilities(alone, TWO_PASS_WEIGHTS)[0] + 1e-9
    )


@pytest.mark.parametrize(
    "worse",
    [
        pytest.param({"again": 0.0}, id="hearing again, it differs"),
        pytest.param({"untold_s": 1.0}, id="more speech lies under no word"),
        pytest.param({"match": fitting(-3.5, -5.0)}, id="the sound fits it badly"),
        pytest.param({"quick": False, "again": 0.0}, id="the quick one hears another"),
    ],
)
def test_each_of_these_makes_a_reading_less_likely(worse: dict[str, Any]) -> None:
    assert chance(replace(WELL, **worse), weights=TWO_PASS_WEIGHTS) < chance(
        WELL, weights=TWO_PASS_WEIGHTS
    )


@pytest.mark.parametrize(
    "in_phones",
    [
        pytest.param(PhoneEvidence(False, -3.0, -0.8, -0.1), id="others lie better"),
        pytest.param(PhoneEvidence(True, 0.0, -2.5, -0.1), id="it lies badly"),
        pytest.param(PhoneEvidence(True, 0.0, -0.1, -12.0), id="some lie under no word"),
    ],
)
def test_each_of_these_makes_the_careful_one_doubt_it(in_phones: PhoneEvidence) -> None:
    doubted = replace(WELL, in_phones=in_phones)
    assert chance(doubted, weights=TWO_PASS_WEIGHTS) < chance(WELL, weights=TWO_PASS_WEIGHTS)


def test_in_company_each_uses_the_weights_fitted_for_it() -> None:
    class Bare:
        name = "bare 1"
        hear = Knowing.hear

    quick, careful = Knowing(NO_HYPOTHESIS), Telling("came")
    assert fusion_model_for(quick, None).weights is FIRST_PASS_WEIGHTS
    assert fusion_model_for(quick, careful).weights is TWO_PASS_WEIGHTS
    assert fusion_model_for(Bare(), careful).weights is SECOND_PASS_WEIGHTS
    assert fusion_model_for(None, careful).weights is SECOND_PASS_WEIGHTS


def test_the_bars_stand_in_order_and_in_noise_no_lower() -> None:
    for quick, careful in (
        (Knowing(NO_HYPOTHESIS), None),
        (Knowing(NO_HYPOTHESIS), Telling("came")),
        (None, Telling("came")),
    ):
        company = fusion_model_for(quick, careful)
        for bars in (company.quiet, company.noisy):
            assert 0.0 < bars.look < bars.sure <= min(bars.word, bars.twin)
            assert max(bars) < 1.0
        assert all(low <= high for low, high in zip(company.quiet, company.noisy, strict=True))
        assert company.bars(40.0) == company.quiet
        assert company.bars(10.0) == company.noisy


@SETS
def test_every_weight_has_its_evidence(weights: dict[str, float]) -> None:
    assert set(weights) <= set(features(WELL, considered(WELL)))
