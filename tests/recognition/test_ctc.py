"""Words found in phone posteriors, against the definition of CTC worked through by force."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.recognition.listening import posteriors, saying
from voicelog.grammar.grammar import EVERYTHING, Grammar, RecognitionContext
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.model import Dog, Roster
from voicelog.recognition.ctc import NoteSearch, align_readings, best_path
from voicelog.recognition.phone_posteriors import BLANK, PHONE_INDEX, Posteriors

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Wren"),)))
TO_20 = RecognitionContext(top_level=20)
COUNT = 1 + len(PHONE_INDEX)
SAY = shipped_pronouncer()


def noise(frames: int, seed: int, spread: float = 3.0) -> Posteriors:
    rng = np.random.default_rng(seed)
    return posteriors(spread * rng.standard_normal((frames, COUNT)))


def collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    """The map B of Graves and others (2006, section 3.1): repeats are one, blanks are none."""
    return tuple(place for place, _ in itertools.groupby(path) if place != BLANK)


def freest(heard: Posteriors) -> float:
    return float(heard.max(axis=1).sum())


def scores(heard: Posteriors, readings: Sequence[str]) -> tuple[float, ...]:
    return tuple(way.score if way else -math.inf for way in align_readings(heard, readings))


def by_force(heard: Posteriors, phones: tuple[str, ...]) -> float:
    """The likeliest of all paths whose collapse is these phones."""
    wanted = tuple(PHONE_INDEX[phone] for phone in phones)
    places = sorted({BLANK, *wanted})
    totals = [
        sum(float(heard[at, place]) for at, place in enumerate(path))
        for path in itertools.product(places, repeat=len(heard))
        if collapsed(path) == wanted
    ]
    return max(totals, default=-math.inf)


@pytest.mark.parametrize("word", ["came", "tone", "yard", "here", "up", "tap"])
@settings(deadline=None, max_examples=15)
@given(frames=st.integers(1, 6), seed=st.integers(0, 9999))
def test_a_word_scores_as_its_likeliest_path_of_labels(word: str, frames: int, seed: int) -> None:
    heard = noise(frames, seed)
    expected = max(by_force(heard, phones) for phones in SAY.variants(word))
    assert scores(heard, [word])[0] == pytest.approx(expected, abs=1e-3)


def test_the_same_phone_twice_in_a_word_wants_blank_between() -> None:
    # No word of the dictionary's usual ones has it within: "bookcase" does, K K.
    (phones,) = SAY.variants("bookcase")[:1]
    assert any(a == b for a, b in itertools.pairwise(phones))
    rows = [PHONE_INDEX[phone] for phone in phones]
    heard = np.zeros((len(rows), COUNT))
    heard[np.arange(len(rows)), rows] = 8.0
    without = scores(posteriors(heard), ["bookcase"])[0]
    assert without == -math.inf
    double = next(at for at, (a, b) in enumerate(itertools.pairwise(rows)) if a == b)
    heard = np.insert(heard, double + 1, 0.0, axis=0)
    heard[double + 1, BLANK] = 8.0
    assert scores(posteriors(heard), ["bookcase"])[0] > -1.0


@settings(deadline=None, max_examples=30)
@given(st.integers(1, 60), st.integers(0, 9999))
def test_the_best_way_is_a_note_and_scores_as_its_words_do(frames: int, seed: int) -> None:
    heard = noise(frames, seed)
    way = best_path(heard, GRAMMAR, TO_20)
    assert way is not None
    if way.words:
        assert GRAMMAR.interpret(way.words) is not None
        assert scores(heard, [way.words])[0] == pytest.approx(way.score, abs=1e-2)
    assert way.log_likelihood_ratio <= 1e-3
    assert way.score - way.log_likelihood_ratio == pytest.approx(freest(heard), abs=1e-2)


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 9999), st.sampled_from(["came", "tap two", "level three came neck twitch"]))
def test_no_reading_is_better_than_the_best_way(seed: int, words: str) -> None:
    heard = noise(40, seed)
    way = best_path(heard, GRAMMAR, TO_20)
    assert way is not None
    assert scores(heard, [words])[0] <= way.score + 1e-2


@pytest.mark.parametrize(
    "words",
    [
        "level three came neck twitch",
        "wren here no button all in praised",
        "up to fifteen thumb off",
        "distance forty five yards",
        "no reaction",
    ],
)
@pytest.mark.parametrize("lasting", [1, 5])
def test_what_is_said_distinctly_is_found(words: str, lasting: int) -> None:
    way = best_path(saying(words, lasting), GRAMMAR, EVERYTHING)
    assert way is not None
    assert way.words == words
    assert (way.log_likelihood_ratio, way.worst, way.score_between_words) == pytest.approx(
        (0.0, 0.0, 0.0), abs=1e-2
    )


def test_the_word_that_was_not_said_is_the_worst_and_by_how_much_is_told() -> None:
    heard = saying("level three came")
    right, wrong = align_readings(heard, ["level three came", "level nine came"])
    assert right is not None
    assert wrong is not None
    assert right.worst == pytest.approx(0.0, abs=1e-3)
    # Of what is lost, its neighbours bear some: it takes a frame or two of theirs.
    assert wrong.score - right.score <= wrong.worst < -10.0
    assert wrong.log_likelihood_ratio == pytest.approx(wrong.score - freest(heard), abs=1e-2)
    assert right.phones == len(SAY.phrase("level three came")[0])


@settings(deadline=None, max_examples=20)
@given(st.integers(0, 9999))
def test_without_a_word_the_next_best_way_is_found(seed: int) -> None:
    heard = noise(40, seed)
    best = best_path(heard, GRAMMAR, TO_20)
    assert best is not None
    assert best.worst_word in best.words.split()
    other = best_path(heard, GRAMMAR, TO_20, without=best.worst_word)
    assert other is not None
    assert best.worst_word not in other.words.split()
    assert other.score <= best.score + 1e-3


WITHIN = 12.0


def near(heard: Posteriors, within: float = WITHIN) -> tuple[str, ...]:
    return tuple(NoteSearch(heard, GRAMMAR, TO_20).readings(within))


@settings(deadline=None, max_examples=30)
@given(st.integers(1, 60), st.integers(0, 9999))
def test_what_lies_nearly_as_well_are_notes_each_once_and_the_best_first(
    frames: int, seed: int
) -> None:
    heard = noise(frames, seed, 1.0)
    found = near(heard)
    best = best_path(heard, GRAMMAR, TO_20)
    assert best is not None
    assert len(set(found)) == len(found)
    assert all(GRAMMAR.interpret(words) for words in found)
    if best.words:
        assert found[0] == best.words
    ranked = scores(heard, found)
    if found:
        assert max(ranked) == pytest.approx(ranked[0], abs=1e-2)
        assert max(ranked) <= best.score + 1e-2
        assert min(ranked) >= max(ranked) - WITHIN - 1e-2


@settings(deadline=None, max_examples=40)
@given(
    st.integers(0, 9999),
    st.sampled_from(
        ["came", "came partway", "tap two", "tone came partway", "level nine notch down startled"]
    ),
    st.floats(1.0, 4.0),
)
def test_no_word_of_any_note_that_lies_nearly_as_well_is_passed_over(
    seed: int, words: str, sure: float
) -> None:
    """Of each word of the note, the likeliest notes with that word there score as much at least."""
    heard = posteriors(saying(words, sure=sure) + noise(len(saying(words)), seed, 1.0))
    found = near(heard)
    said = scores(heard, [words])[0]
    best = best_path(heard, GRAMMAR, TO_20)
    assert best is not None
    if said < best.score - WITHIN:
        return
    ranked = dict(zip(found, scores(heard, found), strict=True))
    for word in words.split():
        assert max(s for one, s in ranked.items() if word in one.split()) >= said - 1e-2


def test_notes_with_another_number_and_with_a_word_more_are_near_where_the_sound_is_unsure() -> (
    None
):
    found = near(saying("level nine came", sure=3.0), 20.0)
    assert any("five" in words.split() for words in found)
    assert "level nine came in" in found


def test_where_one_note_is_certain_no_other_is_near() -> None:
    said = "level three came neck twitch"
    assert near(saying(said, sure=12.0), 4.0) == (said,)


def test_no_sound_has_no_notes() -> None:
    assert near(np.zeros((0, COUNT), np.float32)) == ()


def test_what_else_a_word_may_have_been_is_the_word_most_like_it() -> None:
    heard = saying("distance fifteen metres", sure=4.0)
    other = best_path(heard, GRAMMAR, EVERYTHING, without="fifteen")
    assert other is not None
    assert other.words.startswith("distance fifty")


def test_a_word_that_a_reading_lacks_is_told_between_its_words() -> None:
    heard = saying("tone stood fast")
    whole, short = align_readings(heard, ["tone stood fast", "stood fast"])
    assert whole is not None
    assert short is not None
    assert whole.score_between_words == pytest.approx(0.0, abs=1e-2)
    assert short.score_between_words < -20.0
    assert short.worst > -1.0
    assert short.log_likelihood_ratio == pytest.approx(
        short.worst + short.score_between_words, abs=1.0
    )


def test_readings_side_by_side_score_as_each_by_itself() -> None:
    heard = noise(50, 3)
    readings = ["came", "level three came", "tap fifteen", "tap fifty", ""]
    together = scores(heard, readings)
    assert together == pytest.approx([scores(heard, [one])[0] for one in readings])


def test_a_level_that_the_transmitter_lacks_is_not_found() -> None:
    heard = saying("level thirty came")
    narrow = best_path(heard, GRAMMAR, TO_20)
    wide = best_path(heard, GRAMMAR, RecognitionContext(top_level=40))
    assert narrow is not None
    assert wide is not None
    assert wide.words == "level thirty came"
    assert narrow.words != "level thirty came"


def test_silence_says_nothing_and_no_sound_nothing_either() -> None:
    silent = np.full((30, COUNT), -20.0)
    silent[:, BLANK] = 0.0
    way = best_path(posteriors(silent), GRAMMAR, TO_20)
    assert way is not None
    assert way.words == ""
    none = np.zeros((0, COUNT), np.float32)
    assert scores(none, ["came"]) == (-math.inf,)
    assert scores(none, [""]) == (0.0,)
    nothing = best_path(none, GRAMMAR, TO_20)
    assert nothing is not None
    assert nothing.words == ""


def test_a_reading_with_a_word_that_cannot_be_pronounced_does_not_lie_in_the_sound() -> None:
    heard = saying("came")
    assert align_readings(heard, ["level 7"]) == (None,)
    assert align_readings(heard, ["7"]) == (None,)
    came, seven, nothing = align_readings(heard, ["came", "7", ""])
    assert came is not None
    assert seven is None
    assert nothing is not None
    assert nothing.words == ""
