"""Find the words of a grammar in phone posteriors, and how well given words lie in them.

Every word is a chain of phones, and every way through the grammar a chain of words; the
likeliest way is found by Viterbi's algorithm over the labels of CTC (Graves and others, ICML
2006): a phone may last, and between two phones, or words, there may be any stretch of blank. No
word is likelier than another: only the sound decides.

What lies nearly as well is found with it. The search is run from the end as well; the best way in
from the start and the best way on to the end make, for each word in each of its places in the
grammar, the likeliest notes that have it there (Sixtus and Ortmanns, High quality word graphs using
forward-backward pruning, ICASSP 1999). So no word is passed over because it lies in none of the
first few readings.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from voicelog.grammar.grammar import EVERYTHING, Grammar, RecognitionContext
from voicelog.grammar.pronunciation import NoPronunciationError, shipped_pronouncer
from voicelog.recognition.fst import acceptor
from voicelog.recognition.phone_posteriors import BLANK, PHONE_INDEX, Posteriors

__all__ = ["CtcPath", "NoteSearch", "align_readings", "best_path", "phones_heard"]

_PHONES = tuple(PHONE_INDEX)
_LOG_ZERO = np.float32(-1e9)
_REACHABLE_SCORE = -1e8
"""A score above this belongs to a state that can be reached."""


class CtcPath(NamedTuple):
    """Words, and how they lie in the sound.

    With p(t, k) the posterior of label k (a phone, or blank) at frame t, and k(t) the labels of the
    best path of the words:

    score: sum over t of ln p(t, k(t)); nats.
    phones: how many phones the words have.
    log_likelihood_ratio: score - sum over t of max over k of ln p(t, k), which is the score of the
        likeliest phones of any kind; nats, 0 or less.
    word_scores: the part of that ratio of the frames under each word, in order; nats, 0 or less.
    score_between_words: the part of the frames under no word, where phones were heard all the
        same; nats, 0 or less.
    word_frames: the first and the last frame under each word, in order.
    """

    words: str
    score: float
    phones: int = 0
    log_likelihood_ratio: float = 0.0
    word_scores: tuple[float, ...] = ()
    score_between_words: float = 0.0
    word_frames: tuple[tuple[int, int], ...] = ()

    @property
    def worst(self) -> float:
        """The least of word_scores (nats); 0 of no words."""
        return min(self.word_scores, default=0.0)

    @property
    def worst_word(self) -> str:
        """The word that lies worst; "" of no words."""
        lying = zip(self.word_scores, self.words.split(), strict=True)
        return min(lying, key=lambda one: one[0], default=(0.0, ""))[1]

    @property
    def score_per_phone(self) -> float:
        """log_likelihood_ratio / phones: nats a phone, 0 or less."""
        return self.log_likelihood_ratio / max(1, self.phones)


def best_path(
    posteriors: Posteriors,
    grammar: Grammar,
    recognition_context: RecognitionContext = EVERYTHING,
    *,
    without: str | None = None,
) -> CtcPath | None:
    """The notes that lie best in the sound, `without` a word if one is given; None where it is
    too short for any."""
    return NoteSearch(posteriors, grammar, recognition_context, without=without).best


class NoteSearch:
    """The notes of a grammar in a sound: which lie best, and which others nearly as well.

    posteriors: ln p(t, k), shape (frames, labels). without: a word that may not be said.
    """

    def __init__(
        self,
        posteriors: Posteriors,
        grammar: Grammar,
        recognition_context: RecognitionContext = EVERYTHING,
        *,
        without: str | None = None,
    ) -> None:
        self._posteriors, self._without = posteriors, without
        self._notes = _notes(grammar, recognition_context)
        self._paths = self._notes.chains.viterbi(posteriors, (0,), without)

    @property
    def best(self) -> CtcPath | None:
        """The notes that lie best; None where the sound is too short for any."""
        ends = np.where(self._notes.final, self._paths.ends, _LOG_ZERO)
        state = int(np.argmax(ends))
        if ends[state] <= _REACHABLE_SCORE:
            return None
        return _path_of(self._notes.chains, state, self._paths)

    def readings(self, within: float) -> Iterator[str]:
        """The likeliest notes through each word of the grammar in each of its places, best first
        and each once, up to `within` nats behind the best.

        With i a word that ends at state s, phone(t, i) the score of its last phone, and after(t, s)
        that of the best way from s, left at frame t, to where notes may end:

            through(i) = max over t of phone(t, i) + after(t, s)
        """
        chains, backward = self._notes.chains, self._notes.backward
        if not len(self._posteriors):
            return
        final = np.flatnonzero(self._notes.final)
        rest = backward.viterbi(self._posteriors[::-1], final.tolist(), self._without)
        after = np.full_like(rest.between, _LOG_ZERO)
        after[-1, final] = 0.0
        after[:-1] = rest.between[-2::-1]
        through = self._paths.ending + after[:, chains.led_to]
        ended = through.argmax(axis=0)
        scores = through.max(axis=0)
        told = set[str]()
        for row in np.argsort(-scores, kind="stable"):
            if scores[row] < max(scores.max() - within, _REACHABLE_SCORE):
                return
            frame, last = int(ended[row]), len(after) - 1
            before = chains.words_up_to(int(row), frame, self._paths)
            behind = backward.words_to(int(chains.led_to[row]), last - frame - 1, rest)
            words = " ".join((*before, *reversed(behind)))
            if words not in told:
                told.add(words)
                yield words


def align_readings(posteriors: Posteriors, readings: Sequence[str]) -> tuple[CtcPath | None, ...]:
    """How each reading, or saying nothing (""), lies in the sound; None where it cannot, or where
    a word of it cannot be pronounced."""
    links: list[_PronouncedWord] = []
    starts: list[int] = []
    ends: list[int] = []
    state = 0
    for reading in readings:
        starts.append(state)
        for word in reading.split():
            links += _links(state, state + 1, word)
            state += 1
        ends.append(state)
        state += 1
    if not links:
        blank = float(posteriors[:, BLANK].sum())
        behind = blank - _unconstrained_score(posteriors)
        silent = CtcPath("", blank, log_likelihood_ratio=behind, score_between_words=behind)
        return tuple(None if reading else silent for reading in readings)
    chains = _PhoneTrellis(links, state)
    paths = chains.viterbi(posteriors, starts)
    return tuple(
        _path_of(chains, end, paths) if paths.ends[end] > _REACHABLE_SCORE else None for end in ends
    )


def _path_of(chains: _PhoneTrellis, state: int, paths: _ViterbiResult) -> CtcPath:
    words_back = tuple(chains.backtrace(state, len(paths.stays) - 1, paths))[::-1]
    score = float(paths.ends[state])
    word_scores = tuple(behind for _, behind, _ in words_back)
    return CtcPath(
        words=" ".join(link.word for link, _, _ in words_back),
        score=score,
        phones=sum(len(link.phones) for link, _, _ in words_back),
        log_likelihood_ratio=score - paths.unconstrained,
        word_scores=word_scores,
        score_between_words=score - paths.unconstrained - sum(word_scores),
        word_frames=tuple(frames for _, _, frames in words_back),
    )


class _PronouncedWord(NamedTuple):
    """A word in one pronunciation, from state to state."""

    start: int
    end: int
    word: str
    phones: Sequence[str]


def _links(start: int, end: int, word: str) -> list[_PronouncedWord]:
    """One for each way to pronounce the word; none for what cannot be."""
    try:
        variants = shipped_pronouncer().variants(word)
    except NoPronunciationError:
        return []
    return [_PronouncedWord(start, end, word, phones) for phones in variants]


class _ViterbiResult(NamedTuple):
    """What the search leaves: the score of every state at the end, and how each was come to.

    unconstrained: the score of the likeliest phones of any kind.
    between: by frame and state, the score of what lies between words there.
    frame_ratios: by frame and label, nats that it is behind the frame's likeliest.
    stays, from_phone, to_blank: by frame and phone, whether the best way into it came from
    itself; if not, whether from the phone before rather than the blank after that; and whether
    the blank after it was entered from it rather than kept. ended: by frame and state that a
    word leads to, whether the best way there is a word that ended. ending: by frame and word, in
    the order of `_ending`, the score of its last phone.
    """

    unconstrained: float
    frame_ratios: Posteriors
    ends: NDArray[np.float32]
    between: NDArray[np.float32]
    stays: NDArray[np.bool_]
    from_phone: NDArray[np.bool_]
    to_blank: NDArray[np.bool_]
    ended: NDArray[np.bool_]
    ending: NDArray[np.float32]


def _unconstrained_score(posteriors: Posteriors) -> float:
    """Sum over the frames t of max over the labels k of ln p(t, k): nats, 0 or less; 0 of no
    frames. No path of words can score more."""
    return float(posteriors.max(axis=1).sum()) if len(posteriors) else 0.0


class _PhoneTrellis:
    """Links laid out phone by phone, for a walk over all of them at once."""

    def __init__(self, links: Sequence[_PronouncedWord], states: int) -> None:
        self._links, self._states = links, states
        lengths = np.array([len(link.phones) for link in links])
        self._last = np.cumsum(lengths) - 1
        self._first = self._last - lengths + 1
        self._link_of = np.repeat(np.arange(len(links)), lengths)
        self._place = np.array([PHONE_INDEX[phone] for link in links for phone in link.phones])
        # The same phone twice is one that lasts, unless there is blank between.
        twice = self._place[1:] == self._place[:-1]
        self._onward = np.where(twice, _LOG_ZERO, np.float32(0.0))
        self._start = np.array([link.start for link in links])
        order = np.argsort([link.end for link in links], kind="stable")
        self._ending = self._last[order]
        led_to = np.array([link.end for link in links])[order]
        self._states_led_to, self._begin = np.unique(led_to, return_index=True)
        self._row = {int(state): row for row, state in enumerate(self._states_led_to)}
        self.led_to = led_to
        """The state that each word leads to, in the order of `_ViterbiResult.ending`."""

    def viterbi(
        self, posteriors: Posteriors, starts: Sequence[int], without: str | None = None
    ) -> _ViterbiResult:
        """Follow the best way into every phone through all frames, from `starts` on.

        posteriors: ln p(t, k), shape (frames, labels). starts: states where words may begin.
        without: a word that may not be said. All scores are sums of ln p along a path (nats).

        The Viterbi recursion (IEEE Trans. Information Theory 13, 1967) over the labels of CTC
        (Graves and others, ICML 2006, section 4), where each phone i may be followed by blank:

            phone(t, i) = ln p(t, i) + max(phone(t-1, i), phone(t-1, i-1), blank(t-1, i-1))
            blank(t, i) = ln p(t, blank) + max(phone(t-1, i), blank(t-1, i))

        For the first phone of a word what lies between words takes the place of i-1; where i and
        i-1 are the same phone, only blank leads from one to the other. `_end_words` has what
        lies between words.
        """
        barred = np.array([link.word == without for link in self._links])
        frames, phones = len(posteriors), len(self._place)
        paths = _ViterbiResult(
            _unconstrained_score(posteriors),
            posteriors - posteriors.max(axis=1, keepdims=True),
            np.full(self._states, _LOG_ZERO, np.float32),
            np.empty((frames, self._states), np.float32),
            np.zeros((frames, phones), np.bool_),
            np.zeros((frames, phones), np.bool_),
            np.zeros((frames, phones), np.bool_),
            np.zeros((frames, len(self._states_led_to)), np.bool_),
            np.empty((frames, len(self._ending)), np.float32),
        )
        between = paths.ends
        between[list(starts)] = 0.0
        at_phone = np.full(phones, _LOG_ZERO, np.float32)
        at_blank = at_phone.copy()
        entered = at_phone.copy()
        before = np.empty(phones - 1, np.float32)
        for now, row in enumerate(posteriors):
            np.add(at_phone[:-1], self._onward, out=before)
            np.greater_equal(before, at_blank[:-1], out=paths.from_phone[now, 1:])
            np.maximum(before, at_blank[:-1], out=entered[1:])
            entered[self._first] = between[self._start]
            entered[self._first[barred]] = _LOG_ZERO
            np.greater_equal(at_phone, at_blank, out=paths.to_blank[now])
            np.maximum(at_phone, at_blank, out=at_blank)
            at_blank += row[BLANK]
            np.greater_equal(at_phone, entered, out=paths.stays[now])
            np.maximum(at_phone, entered, out=at_phone)
            at_phone += row[self._place]
            np.take(at_phone, self._ending, out=paths.ending[now])
            self._end_words(paths.ending[now], between, row[BLANK], paths.ended[now])
            paths.between[now] = between
        return paths

    def _end_words(
        self,
        ending: NDArray[np.float32],
        between: NDArray[np.float32],
        blank: np.float32,
        ended: NDArray[np.bool_],
    ) -> None:
        """Bring what lies between words one frame on, in place (nats):

            between(t, s) = max(between(t-1, s) + ln p(t, blank), phone(t, i))

        for each state s and the last phone i of any word that leads there.

        ending: phone(t, i) of the words' last phones, in the order of `_ending`. between:
        between(t-1, .) of every state, becomes that of t. blank: ln p(t, blank). ended: of frame t,
        by the states that words lead to (in the order of `_states_led_to`); gets whether a word's
        end is the best way.
        """
        best = np.maximum.reduceat(ending, self._begin)
        between += blank
        np.greater(best, between[self._states_led_to], out=ended)
        ended &= best > _REACHABLE_SCORE
        between[self._states_led_to[ended]] = best[ended]

    def _last_phone(self, row: int, ending: NDArray[np.float32]) -> int:
        """The last phone of the word that ended best, of those that lead to the state of a row."""
        begin = int(self._begin[row])
        end = int(self._begin[row + 1]) if row + 1 < len(self._begin) else len(ending)
        return int(self._ending[begin + int(np.argmax(ending[begin:end]))])

    def words_to(self, state: int, now: int, paths: _ViterbiResult) -> list[str]:
        """The words on the best way to a state at frame `now`, in order."""
        return [link.word for link, _, _ in self.backtrace(state, now, paths)][::-1]

    def words_up_to(self, row: int, now: int, paths: _ViterbiResult) -> list[str]:
        """The words on the best way to a word's end at frame `now`, in order, with that word; row:
        its place in `ending`."""
        phone = int(self._ending[row])
        link = self._link_of[phone]
        begin, _ = self._entry(phone, now, int(self._first[link]), paths)
        return [*self.words_to(self._links[link].start, begin, paths), self._links[link].word]

    def backtrace(
        self, state: int, now: int, paths: _ViterbiResult
    ) -> Iterator[tuple[_PronouncedWord, float, tuple[int, int]]]:
        """The words on the best way to a state at frame `now`, the last first, each with how far it
        is behind the likeliest phones in its place (nats), and its first and last frame."""
        while now >= 0:
            row = self._row.get(state)
            if row is None or not paths.ended[now, row]:
                now -= 1
                continue
            phone = self._last_phone(row, paths.ending[now])
            link = self._link_of[phone]
            last = now
            now, short = self._entry(phone, now, int(self._first[link]), paths)
            yield self._links[link], short, (now + 1, last)
            state = self._links[link].start

    def _entry(self, phone: int, now: int, first: int, paths: _ViterbiResult) -> tuple[int, float]:
        """The frame before a word that ends with `phone` at frame `now` (-1: it begins with the
        sound), and the part of the log-likelihood ratio of its frames: the sum of
        ln p(t, k(t)) - max over k of ln p(t, k), with k(t) the label on the best path; nats, 0
        or less. first: the word's first phone."""
        in_phone, short = True, 0.0
        while True:
            label = int(self._place[phone]) if in_phone else BLANK
            short += float(paths.frame_ratios[now, label])
            if not in_phone:
                in_phone = bool(paths.to_blank[now, phone])
            elif paths.stays[now, phone]:
                pass
            elif phone == first:
                return now - 1, short
            else:
                in_phone = bool(paths.from_phone[now, phone])
                phone -= 1
            now -= 1


def phones_heard(posteriors: Posteriors, first: int, last: int) -> str:
    """The likeliest phones from one frame to another, both included: that of each frame, what lasts
    once, blank left out; as they are named in `PHONES`, with spaces between."""
    likeliest = posteriors[max(0, first) : last + 1].argmax(axis=1).tolist()
    changes = (
        label
        for before, label in zip([BLANK, *likeliest], likeliest, strict=False)
        if label not in (BLANK, before)
    )
    return " ".join(_PHONES[label - 1] for label in changes)


class _Notes(NamedTuple):
    """What may be said as chains, the same from the end to the start, and the states where it may
    end."""

    chains: _PhoneTrellis
    backward: _PhoneTrellis
    final: NDArray[np.bool_]


@lru_cache(maxsize=4)
def _notes(grammar: Grammar, recognition_context: RecognitionContext) -> _Notes:
    notes = acceptor(grammar.network(recognition_context))
    links: list[_PronouncedWord] = []
    for state, leaving in enumerate(notes.arcs):
        for arc in leaving:
            links += _links(state, arc.end, arc.word)
    back = [_PronouncedWord(end, start, word, phones[::-1]) for start, end, word, phones in links]
    states = len(notes.arcs)
    return _Notes(
        _PhoneTrellis(links, states),
        _PhoneTrellis(back, states),
        np.isfinite(np.array(notes.final)),
    )
