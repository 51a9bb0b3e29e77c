"""The quick recognizer on PocketSphinx, with the English model that its wheel carries.

The grammar is one finite-state search. Every segment is decoded as it is, among what is
expected, and once more among all that may be said: in quiet under a little added noise, in
noise cleaned of it. A reading that so little overturns is not sure. And it can be asked how well
a segment fits given words, by decoding those alone.

What the search calls probabilities is of no use for rejection; the acoustic scores are
(features.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from importlib.metadata import version

import numpy as np
from pocketsphinx import Config, Decoder, get_model_path

from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import EVERYTHING, Grammar, RecognitionContext
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.recognition.fst import INFINITE_COST, Acceptor, acceptor
from voicelog.recognition.noise_reduction import NOISY_DB, level_above_noise_db, reduce_noise
from voicelog.recognition.quick_recognizer import (
    NO_HYPOTHESIS,
    Alignment,
    Hypothesis,
    Spectrum,
    WordTime,
)
from voicelog.recognition.segmenter import pcm16

__all__ = ["SphinxRecognizer"]

LANGUAGE_WEIGHT = 3.0
WORD_PENALTY = 0.1
GAUSSIANS = 2
"""Of each mixture, the nearest so many are summed. With 4, the default, 296 of 349 commands of
the tuning narrations were right and hearing cost a fifth more; with 2, 297."""
FRAMES = 100
"""Frames a second of the decoder."""
_ALL, _EXPECTED = "all", "expected"
"""The names of the decoder's two searches."""
SCALE = 1024.0
"""The search keeps its scores divided by this."""
ADDED_NOISE_SNR_DB = 21.0
"""Speech to added noise (dB) of the other hearing in quiet. At 15 dB a third of the right readings
fell, at 24 dB twice as many wrong ones stood (tuning narrations)."""
MIN_FIT, MIN_FIT_IN_NOISE = -2.8, -3.1
"""A segment that fits its best words worse than this is talk, and is not heard again: of 305
right readings in quiet 1% did, of 149 of talk 70%."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """One decoding: the words, where they lie, and the log score and the frames of each.

    `frames_per_phone` is the frames for each phone of the most hurried word.
    """

    words: str = ""
    times: tuple[WordTime, ...] = ()
    scores: tuple[tuple[float, int], ...] = ()
    frames_per_phone: float = 1.0

    @property
    def mean_word_score(self) -> float:
        """Mean log score a frame over the words; below 0, and nearer to 0 is better."""
        frames = sum(frames for _, frames in self.scores)
        return sum(score for score, _ in self.scores) / frames if frames else -INFINITE_COST

    @property
    def worst_word_score(self) -> float:
        """The mean log score a frame of the word that fits worst."""
        return min((score / frames for score, frames in self.scores), default=-INFINITE_COST)


class SphinxRecognizer:
    """Hears segments of English against a grammar; first among what is expected."""

    def __init__(
        self, grammar: Grammar, recognition_context: RecognitionContext = EVERYTHING
    ) -> None:
        self._grammar = grammar
        self._decoder = _decoder(grammar, recognition_context)
        self._noise = np.random.default_rng(0).standard_normal(30 * RATE).astype(np.float32)

    @cached_property
    def name(self) -> str:
        """Engine, version, model."""
        return f"pocketsphinx {version('pocketsphinx')} en-us"

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        """What a segment says; `score` is its mean log score a frame when aligned with the words
        (nats, below 0), None where it cannot be aligned.

        noise: the power of the noise around it, as `noise_reduction.power` gives it; where speech
        stands less than NOISY_DB over it the second hearing is of the sound cleaned of it.
        """
        plain = self.decode(sound)
        if not plain.words:
            return NO_HYPOTHESIS
        match = self.match(sound, plain.words)
        noisy = noise is not None and level_above_noise_db(sound, noise) < NOISY_DB
        repeats: list[str] = []
        if match is not None and match.mean_word_score > (MIN_FIT_IN_NOISE if noisy else MIN_FIT):
            other = (
                reduce_noise(sound, noise)
                if noisy and noise is not None
                else self.with_added_noise(sound)
            )
            repeats = [self._among_all(other).words]
        return Hypothesis(
            words=plain.words,
            complete=self._grammar.interpret(plain.words) is not None,
            score=match.mean_word_score if match else None,
            times=plain.times,
            repeats=tuple(repeats),
            match=match,
        )

    def _among_all(self, sound: Samples) -> Decoded:
        """Decode a segment among all that may be said, levels beyond the range too."""
        self._decoder.activate_search(_ALL)
        try:
            return self.decode(sound)
        finally:
            self._decoder.activate_search(_EXPECTED)

    def match(self, sound: Samples, words: str) -> Alignment | None:
        """How well a segment fits these words and no others, with silence between them (forced
        alignment): mean log scores a frame (nats), times in s. None where not all fit."""
        decoder = self._decoder
        decoder.set_align_text(words)
        try:
            found = self.decode(sound)
        finally:
            decoder.activate_search(_EXPECTED)
        if found.words != words:
            return None
        return Alignment(
            found.mean_word_score, found.worst_word_score, found.times, found.frames_per_phone
        )

    def decode(self, sound: Samples) -> Decoded:
        """Decode a segment once, with the search that is active.

        The score of a word is the sum of its frames' log-likelihoods as the engine scales them
        (nats, below 0): ln(ascore) * SCALE. Times are in s from the segment's start.
        """
        if not len(sound):
            return Decoded()
        decoder = self._decoder
        # Else what the noise removal learnt from the last segment would colour this one.
        decoder.reinit_feat()
        decoder.start_utt()
        decoder.process_raw(pcm16(sound), full_utt=True)
        decoder.end_utt()
        found = decoder.hyp()
        if found is None or not found.hypstr:
            return Decoded()
        times: list[WordTime] = []
        scores: list[tuple[float, int]] = []
        paces: list[float] = []
        for part in decoder.seg():
            score = math.log(part.ascore) * SCALE if part.ascore > 0 else -INFINITE_COST
            if part.word[0] in "<[(":
                continue
            word = part.word.partition("(")[0]
            end = (part.end_frame + 1) / FRAMES
            times.append(WordTime(word, part.start_frame / FRAMES, end))
            frames = part.end_frame - part.start_frame + 1
            scores.append((score, frames))
            paces.append(frames / len(decoder.lookup_word(part.word).split()))
        words = " ".join(time.word for time in times)
        return Decoded(words, tuple(times), tuple(scores), min(paces, default=1.0))

    def with_added_noise(self, sound: Samples) -> Samples:
        """The same sound under white noise, the same noise every time; its RMS is that of the
        segment times 10 ** (-ADDED_NOISE_SNR_DB / 20)."""
        noise = np.resize(self._noise, len(sound))
        loudness = math.sqrt(float(np.mean(np.square(sound))))
        with_added_noise: Samples = sound + noise * np.float32(
            loudness * 10 ** (-ADDED_NOISE_SNR_DB / 20)
        )
        return with_added_noise


def _decoder(grammar: Grammar, recognition_context: RecognitionContext) -> Decoder:
    """A decoder of the wheel's model for the grammar.

    The best-path search is off: with it a result may stop in the middle of a phrase, and
    takes three times as long.
    """
    decoder = Decoder(
        Config(
            hmm=get_model_path("en-us/en-us"),
            dict=get_model_path("en-us/cmudict-en-us.dict"),
            lm=None,
            lw=LANGUAGE_WEIGHT,
            topn=GAUSSIANS,
            wip=WORD_PENALTY,
            bestpath=False,
            loglevel="FATAL",
        )
    )
    every = grammar.network()
    pronouncer = shipped_pronouncer()
    for word in every.words():
        if decoder.lookup_word(word) is None:
            for number, phones in enumerate(pronouncer.variants(word), start=1):
                spelled = word if number == 1 else f"{word}({number})"
                decoder.add_word(spelled, " ".join(phones), update=False)
    decoder.add_fsg(_ALL, _search(decoder, acceptor(every)))
    decoder.add_fsg(_EXPECTED, _search(decoder, acceptor(grammar.network(recognition_context))))
    decoder.activate_search(_EXPECTED)
    return decoder


def _search(decoder: Decoder, notes: Acceptor) -> object:
    """The acceptor as the engine's own automaton, which has one final state.

    Empty arcs to it would not do: the engine follows them only in part. So each arc into a
    state where one may stop is doubled by one into the final state.
    """
    final = len(notes.arcs)
    arcs: list[tuple[int, int, float, str]] = []
    for state, leaving in enumerate(notes.arcs):
        for arc in leaving:
            weight = math.exp(-arc.cost)
            arcs.append((state, arc.end, weight, arc.word))
            if notes.final[arc.end] < INFINITE_COST:
                arcs.append((state, final, weight, arc.word))
    return decoder.create_fsg("notes", 0, final, arcs)
