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
from voicelog.recognition.features import IN_NOISE, SIGNS, candidate_probabilities, features
from voicelog.recognition.quick_recognizer import NO_HYPOTHESIS
from voicelog.recognition.trained_artifact import shipped_artifact

MODELS = shipped_artifact().fusion
BOTH_WEIGHTS = MODELS.both.weights

WELL = Candidate(
    words="level three came",
    quick=True,
    repeat_agreement=1.0,
    match=fitting(-1.0, -1.5),
    unaligned_s=0.1,
    phones=6.0,
    phone_evidence=PhoneEvidence(
        first=True,
        score_behind_best=0.0,
        score_per_phone=-0.1,
        score_between_words=-0.1,
        uncertainty_per_phone=0.5,
    ),
)
BADLY = replace(
    WELL,
    quick=False,
    repeat_agreement=0.0,
    match=None,
    unaligned_s=1.5,
    phone_evidence=PhoneEvidence(
        first=False,
        score_behind_best=-20.0,
        score_per_phone=-3.0,
        score_between_words=-8.0,
        uncertainty_per_phone=3.0,
    ),
)
SETS = pytest.mark.parametrize(
    "weights",
    [
        BOTH_WEIGHTS,
        MODELS.quick.weights,
        MODELS.careful.weights,
        MODELS.unaligned.weights,
    ],
    ids=["both", "quick", "careful", "quick one that cannot align"],
)

numbers = st.floats(-100, 100, allow_nan=False)
candidates = st.builds(
    Candidate,
    words=st.sampled_from(["came", "level three came", "tap two"]),
    quick=st.booleans(),
    repeat_agreement=st.floats(0, 1),
    match=st.none() | st.builds(fitting, numbers, numbers, frames_per_phone=st.floats(0, 100)),
    unaligned_s=st.floats(0, 14),
    phones=st.floats(1, 20),
    phone_evidence=st.builds(
        PhoneEvidence,
        first=st.booleans(),
        score_behind_best=st.floats(-500, 0),
        score_per_phone=st.floats(-50, 0),
        score_between_words=st.floats(-300, 0),
        uncertainty_per_phone=st.floats(0, 200),
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
    assert candidate_probabilities(considered(), BOTH_WEIGHTS) == ()


def test_the_likelihoods_are_the_logits() -> None:
    two = considered(WELL, BADLY)
    scores = [
        sum(
            BOTH_WEIGHTS[name] * value
            for name, value in features(one, two).items()
            if name in BOTH_WEIGHTS
        )
        for one in (WELL, BADLY)
    ]
    total = 1 + sum(map(math.exp, scores))
    assert candidate_probabilities(two, BOTH_WEIGHTS) == pytest.approx(
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
        candidate_probabilities(among, BOTH_WEIGHTS)[0]
        <= candidate_probabilities(alone, BOTH_WEIGHTS)[0] + 1e-9
    )


@pytest.mark.parametrize(
    "worse",
    [
        pytest.param({"repeat_agreement": 0.0}, id="hearing again, it differs"),
        pytest.param({"unaligned_s": 1.0}, id="more speech lies under no word"),
        pytest.param({"match": fitting(-3.5, -5.0)}, id="the sound fits it badly"),
        pytest.param({"quick": False, "repeat_agreement": 0.0}, id="the quick one hears another"),
    ],
)
def test_each_of_these_makes_a_reading_less_likely(worse: dict[str, Any]) -> None:
    assert chance(replace(WELL, **worse), weights=BOTH_WEIGHTS) < chance(WELL, weights=BOTH_WEIGHTS)


@pytest.mark.parametrize(
    "phone_evidence",
    [
        pytest.param(PhoneEvidence(False, -3.0, -0.8, -0.1), id="others lie better"),
        pytest.param(PhoneEvidence(True, 0.0, -2.5, -0.1), id="it lies badly"),
        pytest.param(PhoneEvidence(True, 0.0, -0.1, -12.0), id="some lie under no word"),
    ],
)
def test_each_of_these_makes_the_careful_one_doubt_it(phone_evidence: PhoneEvidence) -> None:
    doubted = replace(WELL, phone_evidence=phone_evidence)
    assert chance(doubted, weights=BOTH_WEIGHTS) < chance(WELL, weights=BOTH_WEIGHTS)


def numbered(words: str, odds: float, likely: float) -> Candidate:
    """A reading with a number whose score by the one feature "quick" is `likely`."""
    phones = replace(WELL.phone_evidence or PhoneEvidence(True, 0, 0, 0), number_odds=(odds,))
    return replace(WELL, words=words, phone_evidence=phones, repeat_agreement=likely)


@given(st.floats(-30, 30), st.floats(0, 1), st.floats(0, 1))
def test_between_teen_and_ty_the_odds_of_the_layer_alone_divide_what_both_have(
    odds: float, one: float, other: float
) -> None:
    weights = {"repeat_agreement": 2.0}
    pair = (
        numbered("level thirteen came", odds, one),
        numbered("level thirty came", -odds, other),
    )
    plain = [replace(each, phone_evidence=None) for each in pair]
    before = candidate_probabilities(considered(*plain, BADLY), weights)
    now = candidate_probabilities(considered(*pair, BADLY), weights)
    assert now[0] + now[1] == pytest.approx(before[0] + before[1])
    assert now[0] == pytest.approx((before[0] + before[1]) / (1 + math.exp(-odds)))
    assert now[2] == before[2]


def test_a_number_whose_sound_alike_was_told_is_unlikely_though_that_is_no_candidate() -> None:
    weights = {"quick": 5.0}
    alone = numbered("level thirteen came", -4.0, 1.0)
    assert chance(alone, weights=weights) == pytest.approx(
        chance(WELL, weights=weights) / (1 + math.exp(4.0))
    )


def test_in_company_each_uses_the_weights_fitted_for_it() -> None:
    class Bare:
        name = "bare 1"
        hear = Knowing.hear

    quick, careful = Knowing(NO_HYPOTHESIS), Telling("came")
    assert MODELS.of(quick, None) is MODELS.quick
    assert MODELS.of(quick, careful) is MODELS.both
    assert MODELS.of(Bare(), careful) is MODELS.unaligned
    assert MODELS.of(None, careful) is MODELS.careful


def test_the_bars_stand_in_order_and_in_noise_no_lower() -> None:
    for quick, careful in (
        (Knowing(NO_HYPOTHESIS), None),
        (Knowing(NO_HYPOTHESIS), Telling("came")),
        (None, Telling("came")),
    ):
        company = MODELS.of(quick, careful)
        for thresholds in (company.quiet, company.noisy):
            assert (
                0.0
                < thresholds.offer
                < thresholds.accept
                <= min(thresholds.accept_single_word, thresholds.accept_sound_alike)
            )
            assert max(thresholds[:4]) < 1.0
            assert thresholds.sound_alike_margin is None or thresholds.sound_alike_margin > 0
        bars = zip(company.quiet, company.noisy, strict=True)
        assert all((low or 0.0) <= (high or 0.0) for low, high in bars)
        assert company.thresholds(40.0) == company.quiet
        assert company.thresholds(10.0) == company.noisy


def better_of(one: Candidate, other: Candidate) -> Candidate:
    """The words of the one, with the better of both in all that is known to speak for a reading."""
    matches = [each.match for each in (one, other) if each.match]
    phones = [each.phone_evidence for each in (one, other) if each.phone_evidence]
    match = fitting(
        max((each.mean_word_score for each in matches), default=0.0),
        max((each.worst_word_score for each in matches), default=0.0),
        frames_per_phone=max((each.frames_per_phone for each in matches), default=1.0),
    )
    return replace(
        one,
        quick=one.quick or other.quick,
        repeat_agreement=max(one.repeat_agreement, other.repeat_agreement),
        match=match if matches else None,
        unaligned_s=min(one.unaligned_s, other.unaligned_s),
        phone_evidence=PhoneEvidence(
            first=any(each.first for each in phones),
            score_behind_best=max(each.score_behind_best for each in phones),
            score_per_phone=max(each.score_per_phone for each in phones),
            score_between_words=max(each.score_between_words for each in phones),
        ),
    )


def held_to_signs(weights: dict[str, float]) -> dict[str, float]:
    """The same weights, zero where one has the wrong sign in quiet or in full noise."""
    held = dict(weights)
    for name, sign in SIGNS.items():
        noisy = IN_NOISE.get(name, "")
        quiet = held.get(name, 0.0)
        if sign * quiet < 0.0:
            held[name] = quiet = 0.0
        if noisy in held and sign * (quiet + held[noisy]) < 0.0:
            held[noisy] = -quiet
    return held


@SETS
@given(one=candidates, other=candidates, above_noise_db=st.floats(-20, 80))
def test_with_the_known_signs_what_is_better_in_all_ways_is_no_less_likely_in_any_noise(
    weights: dict[str, float], one: Candidate, other: Candidate, above_noise_db: float
) -> None:
    weights = held_to_signs(weights)
    worse, better = (
        features(each, considered(each, above_noise_db=above_noise_db))
        for each in (one, better_of(one, other))
    )
    scores = [sum(w * each[name] for name, w in weights.items()) for each in (worse, better)]
    assert scores[0] <= scores[1] + 1e-9


@SETS
def test_every_weight_has_its_evidence(weights: dict[str, float]) -> None:
    assert set(weights) <= set(features(WELL, considered(WELL)))
