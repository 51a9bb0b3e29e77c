"""Which readings a segment may have, and what is asked about each: told with listeners that
know what they will hear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from tests.recognition.listening import Knowing, Telling, fitting
from tests.recognition.speaking import burst
from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.model import Dog, Roster
from voicelog.recognition import candidates
from voicelog.recognition.candidates import (
    MAX_ALIGNED,
    Candidate,
    CandidateSet,
    PhoneEvidence,
    generate_candidates,
)
from voicelog.recognition.ctc import CtcPath, align_readings
from voicelog.recognition.name_verification import sound_likeness, spelled
from voicelog.recognition.noise_reduction import FFT_BINS, FFT_LENGTH
from voicelog.recognition.phone_posteriors import PHONE_INDEX, Posteriors
from voicelog.recognition.quick_recognizer import NO_HYPOTHESIS, Hypothesis, WordTime
from voicelog.recognition.segmenter import Segment
from voicelog.recognition.voice_activity import FRAME

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),)))
TO_20 = RecognitionContext(top_level=20)
SOUND = burst(1.6)[: 50 * FRAME]
SEGMENT = Segment(0, len(SOUND), SOUND, None, np.ones(50, np.bool_))
S = len(SOUND) / RATE

COUNT = 1 + len(PHONE_INDEX)
ALONE = "level three came"
FITS = {"level three came": -1.0}
OTHER = "mother should azure judge choose beige"


def heard(words: str = ALONE, **more: object) -> Hypothesis:
    match = fitting(-1.0, -1.2, (WordTime(words, 0.0, S),))
    return Hypothesis(words, True, -1.0, match=match, **{"repeats": (words,), **more})  # type: ignore[arg-type]


def considered(
    quick: Knowing | None,
    careful: Telling | None = None,
    recognition_context: RecognitionContext = TO_20,
) -> CandidateSet:
    return generate_candidates(SEGMENT, GRAMMAR, recognition_context, quick, careful)


def by_words(of: CandidateSet) -> dict[str, Candidate]:
    return {one.words: one for one in of.candidates}


def test_the_quick_one_alone_has_its_own_reading_and_what_it_heard_again() -> None:
    of = considered(Knowing(heard(repeats=("level nine came",), others=("tap two",)), FITS))
    assert list(by_words(of)) == [ALONE, "level nine came", "tap two"]
    assert [(one.quick, one.repeat_agreement) for one in of.candidates] == [
        (True, 0.0),
        (False, 1.0),
        (False, 0.0),
    ]
    assert of.heard_phones is None
    assert {one.phone_evidence for one in of.candidates} == {None}


def test_the_sound_is_matched_with_few_readings_and_not_again_with_the_quick_ones_own() -> None:
    quick = Knowing(heard(), FITS)
    of = considered(quick, Telling("level nine came", sure=3.0))
    assert "level nine came" in quick.matched
    assert ALONE not in quick.matched  # its own it has matched in hearing it
    assert len(of.candidates) <= MAX_ALIGNED + 1


def test_nothing_heard_by_either_is_no_reading() -> None:
    assert considered(Knowing(NO_HYPOTHESIS)).candidates == ()
    assert considered(Knowing(NO_HYPOTHESIS), Telling(OTHER)).candidates == ()
    assert considered(None, Telling(OTHER)).candidates == ()


@pytest.mark.parametrize(("share", "unaligned_s"), [(0.0, S), (0.5, S / 2), (1.0, 0.0)])
def test_speech_under_no_word_is_told(share: float, unaligned_s: float) -> None:
    match = fitting(-1.0, times=(WordTime("level", 0.0, share * S),))
    of = considered(Knowing(Hypothesis(ALONE, True, -1.0, repeats=(ALONE,), match=match)))
    assert of.candidates[0].unaligned_s == pytest.approx(unaligned_s, abs=0.02)


def test_a_reading_that_cannot_lie_in_the_sound_has_all_speech_untold() -> None:
    of = considered(Knowing(heard(others=("tap two",)), FITS))
    other = by_words(of)["tap two"]
    assert other.match is None
    assert other.unaligned_s == pytest.approx(S, abs=0.02)


def test_where_they_differ_both_readings_are_looked_into() -> None:
    careful = Telling("level nine came", sure=3.0)
    of = considered(Knowing(heard(), FITS), careful)
    assert careful.asked[:2] == ["load_segment", "phones"]
    assert of.heard_phones is not None
    found = by_words(of)
    assert next(iter(found)) == "level nine came"
    nine, three = found["level nine came"].phone_evidence, found[ALONE].phone_evidence
    assert nine is not None
    assert three is not None
    assert (nine.first, nine.score_behind_best) == (True, 0.0)
    assert nine.score_per_phone == pytest.approx(0.0, abs=1e-3)
    assert not three.first
    assert three.score_behind_best < -5.0
    assert three.score_per_phone < -0.5
    assert (found[ALONE].quick, found["level nine came"].quick) == (True, False)


def test_both_may_have_the_same_reading_and_its_neighbours_are_looked_into() -> None:
    of = considered(Knowing(heard("level fifteen came")), Telling("level fifteen came"))
    first = of.candidates[0]
    assert (
        first.words,
        first.quick,
        bool(first.phone_evidence and first.phone_evidence.first),
    ) == (
        "level fifteen came",
        True,
        True,
    )
    behind = [one.phone_evidence.score_behind_best for one in of.candidates if one.phone_evidence]
    assert behind == sorted(behind, reverse=True)


def test_a_word_that_is_told_surely_has_less_uncertainty_and_a_long_reading_less_a_phone() -> None:
    """The entropy of a frame whose labels are all as likely is ln of how many there are."""
    blurred = Telling("level nine came", sure=0.0)
    of = by_words(considered(Knowing(heard(), FITS), blurred))
    short = of[ALONE].phone_evidence
    assert short is not None
    assert of_posteriors(blurred) == pytest.approx(len(blurred.phones()) * math.log(COUNT))
    phones = len(shipped_pronouncer().phrase(ALONE)[0])
    assert short.uncertainty_per_phone == pytest.approx(of_posteriors(blurred) / phones)
    sure = by_words(considered(Knowing(heard(), FITS), Telling(ALONE)))[ALONE].phone_evidence
    assert sure is not None
    assert 0.0 <= sure.uncertainty_per_phone < short.uncertainty_per_phone / 5


def of_posteriors(careful: Telling) -> float:
    logs = careful.phones().astype(np.float64)
    return -float((np.exp(logs) * logs).sum())


def test_a_note_that_lies_nearly_as_well_in_the_phones_is_looked_into_too() -> None:
    """With a word more, which neither listener heard first."""
    of = considered(Knowing(NO_HYPOTHESIS), Telling("level nine came", sure=2.0)).candidates
    more = [one for one in of if len(one.words.split()) > 3]
    assert of[0].words == "level nine came"
    assert more
    assert not any(one.quick for one in more)
    assert all(one.phone_evidence and not one.phone_evidence.first for one in more)


def test_how_far_a_number_lies_ahead_of_one_that_sounds_like_it_is_told() -> None:
    fifteen = considered(Knowing(NO_HYPOTHESIS), Telling("level fifteen came"))
    ahead = fifteen.ahead_of_sound_alikes
    assert ahead["level fifteen came"] > 2.5
    assert all(nats < 0 for words, nats in ahead.items() if words != "level fifteen came")
    fifty = considered(Knowing(NO_HYPOTHESIS), Telling("level fifty came")).ahead_of_sound_alikes
    assert fifty["level fifty came"] > 0 > fifty["level fifteen came"]
    assert ALONE not in considered(Knowing(heard()), Telling(ALONE)).ahead_of_sound_alikes


def test_between_teen_and_ty_the_layer_is_asked_and_about_nothing_else() -> None:
    fifteen = "level fifteen came"
    careful = Telling(fifteen, sure=3.0, teen_sure=-3.0)
    of = considered(Knowing(NO_HYPOTHESIS), careful)
    assert careful.asked == ["load_segment", "phones", "teen_odds"]
    assert of.number_odds[fifteen] == -3.0
    assert of.number_odds["level fifty came"] == 3.0
    assert ALONE not in considered(Knowing(heard()), Telling(ALONE)).number_odds
    nothing = Telling("neck twitch", teen_sure=9.0)
    assert considered(Knowing(NO_HYPOTHESIS), nothing).number_odds == {}
    assert nothing.asked == ["load_segment", "phones"]


def test_where_the_phones_are_quite_others_no_reading_is_looked_into() -> None:
    of = considered(Knowing(heard("tap two", repeats=())), Telling(OTHER))
    assert of.candidates == ()
    assert of.heard_phones is not None


def test_what_the_careful_one_has_told_is_not_asked_again() -> None:
    careful = Telling(ALONE, sure=3.0)
    alone = considered(None, careful)
    careful.asked.clear()
    both = generate_candidates(
        SEGMENT, GRAMMAR, TO_20, Knowing(heard("tap two")), careful, alone.heard_phones
    )
    assert not {"load_segment", "phones"} & set(careful.asked)
    assert alone.heard == NO_HYPOTHESIS
    assert both.heard.words == "tap two"
    assert both.heard_phones is alone.heard_phones
    assert set(by_words(alone)) <= set(by_words(both))


def test_what_was_found_in_the_phones_is_not_searched_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    careful = Telling("level nine came", sure=3.0)
    alone = considered(None, careful)
    at_once = considered(Knowing(heard("tap two")), careful)
    aligned: list[str] = []

    def align(posteriors: Posteriors, readings: Sequence[str]) -> tuple[CtcPath | None, ...]:
        aligned.extend(readings)
        return align_readings(posteriors, readings)

    monkeypatch.setattr(candidates, "NoteSearch", None)
    monkeypatch.setattr(candidates, "align_readings", align)
    both = generate_candidates(
        SEGMENT, GRAMMAR, TO_20, Knowing(heard("tap two")), careful, alone.heard_phones
    )
    assert "tap two" in aligned
    assert not set(by_words(alone)) & set(aligned)
    assert both.candidates == at_once.candidates


@pytest.mark.parametrize("said", ["thirty", "forty", "fifty", "ninety"])
def test_a_level_above_the_transmitters_is_found_in_phones(said: str) -> None:
    of = considered(Knowing(NO_HYPOTHESIS), Telling(f"level {said} came"))
    first = next(one for one in of.candidates if one.phone_evidence and one.phone_evidence.first)
    assert first.words == f"level {said} came"


@pytest.mark.parametrize(("said", "verified_name"), [("bracken", True), ("ben", False)])
def test_a_name_that_lies_badly_in_the_phones_is_another(said: str, verified_name: bool) -> None:
    of = considered(Knowing(NO_HYPOTHESIS), Telling(f"start session {said}"))
    lying = [
        one.phone_evidence for one in of.candidates if one.phone_evidence and "bracken" in one.words
    ]
    assert {one.verified_name for one in lying} == {verified_name}
    assert {one.missing_name for one in lying} == {not verified_name}
    assert {one.other_name for one in lying} == {not verified_name}
    heard_there = lying[0].name_sound
    assert of.missing_name.get("start session bracken", "") == (
        "" if verified_name else heard_there
    )
    assert spelled(heard_there) == said
    assert sound_likeness(heard_there, heard_there) == 1


@pytest.mark.parametrize(
    ("name", "rival", "missing", "other"),
    [
        (-1.0, 2.0, False, False),
        (-7.6, 7.6, True, False),
        (-9.0, 8.5, True, True),
        (-11.9, 0.0, False, False),
        (-12.1, 0.0, True, True),
    ],
)
def test_a_name_is_another_one_only_where_a_word_lies_far_better(
    name: float, rival: float, missing: bool, other: bool
) -> None:
    found = PhoneEvidence(True, 0.0, -0.5, 0.0, name=name, rival=rival, name_sound="B EH N")
    assert (found.missing_name, found.other_name) == (missing, other)
    candidate = Candidate("start session bracken", True, 1.0, None, 0.0, 4.0, found)
    told = CandidateSet(NO_HYPOTHESIS, (candidate,), 30.0).missing_name
    heard_there = "B EH N" if other else ""
    assert told == ({"start session bracken": heard_there} if missing else {})


@pytest.mark.parametrize(
    ("over_db", "rival", "sure"),
    [(21.0, 2.0, True), (21.0, 2.1, False), (19.0, -1.0, True), (19.0, -0.9, False)],
)
def test_in_loud_noise_a_name_is_sure_only_ahead_of_every_other_word(
    over_db: float, rival: float, sure: bool
) -> None:
    phones = PhoneEvidence(True, 0.0, -0.5, 0.0, name=-0.5, rival=rival)
    candidate = Candidate("start session bracken", True, 1.0, None, 0.0, 4.0, phones)
    told = CandidateSet(NO_HYPOTHESIS, (candidate,), over_db).verified_name
    assert told == (("start session bracken",) if sure else ())


def test_how_far_a_name_lies_ahead_of_the_nearest_word_is_told() -> None:
    of = considered(Knowing(NO_HYPOTHESIS), Telling("start session bracken"))
    lying = by_words(of)["start session bracken"].phone_evidence
    assert lying is not None
    assert -math.inf < lying.rival < 0.0


@pytest.mark.parametrize(("noise_db", "ways"), [(-60.0, 1), (-15.0, 2)], ids=["quiet", "noisy"])
def test_in_noise_the_careful_one_is_given_the_sound_cleaned_as_well(
    noise_db: float, ways: int
) -> None:
    loud = float(np.mean(np.square(SOUND)))
    noise = np.full(FFT_BINS, 10 ** (noise_db / 10) * loud * FFT_LENGTH / 4)
    segment = replace(SEGMENT, noise=noise)
    careful = Telling(ALONE)
    generate_candidates(segment, GRAMMAR, TO_20, Knowing(heard(), FITS), careful)
    assert careful.ways == ways
