"""The quick listener on PocketSphinx, with the English model that its wheel carries.

The whole grammar is one finite-state search. Every segment is decoded as it is, and once
more under a little added noise: a reading that so little overturns is not sure. Where the
two differ, the segment is heard once more at another speed, for readings to offer.

What the search calls probabilities is of no use for rejection. Three things are: how well
the sound fits the words (the mean log acoustic score of their frames), how hurried the most
hurried word would be, and whether the reading stands under noise. `confidence` joins them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from importlib.metadata import version

import numpy as np
import soxr
from pocketsphinx import Config, Decoder, get_model_path

from voicelog.grammar.grammar import EVERYTHING, Grammar, Narrowing
from voicelog.grammar.pronounce import Pronouncer
from voicelog.hearing.fst import NEVER, Acceptor, acceptor
from voicelog.hearing.listener import NOTHING, RATE, Bars, Heard, Sound, WordTime
from voicelog.hearing.segmenter import pcm16

__all__ = ["Decoded", "SphinxListener", "confidence", "evidence"]

LANGUAGE_WEIGHT = 3.0
WORD_PENALTY = 0.1
GAUSSIANS = 2
"""Of each mixture, the nearest so many are summed. With 4, the default, 296 of 349 commands of
the tuning narrations were right and hearing cost a fifth more; with 2, 297."""
FRAMES = 100
"""Frames a second of the decoder."""
SCALE = 1024.0
"""The search keeps its scores divided by this."""
SHAKEN_DB = 21.0
"""Speech to added noise (dB) of the second hearing. At 15 dB a third of the right readings
fell, at 24 dB twice as many wrong ones stood (tuning narrations)."""
SPEED = 1.07
"""Speed of the third hearing."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """One decoding: the words, where they lie, and how well the sound fits them.

    `fit` is the mean log acoustic score a frame over the words: below 0, and nearer to 0 is
    better. `pace` is the frames for each phone in the most hurried word: a word that was
    never said is squeezed in, or lies where other words were said.
    """

    words: str
    times: tuple[WordTime, ...]
    fit: float
    pace: float


SILENCE = Decoded("", (), -NEVER, 1.0)


class SphinxListener:
    """Hears segments of English against a grammar, narrowed to what may be expected."""

    bars = Bars(sure=0.85, look=0.20, word=0.95, twin=0.99)
    """On the tuning narrations, each voice judged by a fit on the others: 263 of 296 right
    readings lay above 0.80, with 6 wrong ones; above 0.31 lay 291, with 20 wrong. Of 40
    single words, 36 lay above `word`."""

    def __init__(self, grammar: Grammar, narrowing: Narrowing = EVERYTHING) -> None:
        self._grammar = grammar
        self._decoder = _decoder(grammar, narrowing)
        self._noise = np.random.default_rng(0).standard_normal(30 * RATE).astype(np.float32)

    @cached_property
    def name(self) -> str:
        """Engine, version, model."""
        return f"pocketsphinx {version('pocketsphinx')} en-us"

    def hear(self, sound: Sound) -> Heard:
        """What a segment says; `score` is the fit, `others` what other hearings made of it."""
        plain = self.decode(sound)
        meant = self._meaning(plain.words)
        if meant is None:
            return replace(NOTHING, words=plain.words)
        if confidence(plain, stands=True) < self.bars.look:
            return Heard(plain.words, True, plain.fit, confidence(plain, stands=False), plain.times)
        shaken = self.decode(self.shaken(sound))
        stands = meant == self._meaning(shaken.words)
        others: list[str] = []
        if not stands:
            quicker = self.decode(soxr.resample(sound, RATE, RATE / SPEED))
            for other in (shaken, quicker):
                if self._meaning(other.words) not in (None, meant):
                    others.append(other.words)
        return Heard(
            words=plain.words,
            complete=True,
            score=plain.fit,
            confidence=confidence(plain, stands=stands),
            times=plain.times,
            others=tuple(dict.fromkeys(others)),
        )

    def decode(self, sound: Sound) -> Decoded:
        """Decode a segment once."""
        if not len(sound):
            return SILENCE
        decoder = self._decoder
        # Else what the noise removal learnt from the last segment would colour this one.
        decoder.reinit_feat()
        decoder.start_utt()
        decoder.process_raw(pcm16(sound), full_utt=True)
        decoder.end_utt()
        found = decoder.hyp()
        if found is None or not found.hypstr:
            return SILENCE
        times: list[WordTime] = []
        scores: list[tuple[float, int]] = []
        paces: list[float] = []
        for part in decoder.seg():
            if part.word[0] in "<[":
                continue
            frames = part.end_frame - part.start_frame + 1
            paces.append(frames / len(decoder.lookup_word(part.word).split()))
            word = part.word.partition("(")[0]
            times.append(WordTime(word, part.start_frame / FRAMES, (part.end_frame + 1) / FRAMES))
            scores.append((math.log(part.ascore) * SCALE if part.ascore > 0 else -NEVER, frames))
        if not scores:
            return SILENCE
        return Decoded(
            words=" ".join(time.word for time in times),
            times=tuple(times),
            fit=sum(score for score, _ in scores) / sum(frames for _, frames in scores),
            pace=min(paces),
        )

    def shaken(self, sound: Sound) -> Sound:
        """The same sound under white noise, the same noise every time."""
        noise = np.resize(self._noise, len(sound))
        loudness = math.sqrt(float(np.mean(np.square(sound))))
        shaken: Sound = sound + noise * np.float32(loudness * 10 ** (-SHAKEN_DB / 20))
        return shaken

    def _meaning(self, words: str) -> str | None:
        phrases = self._grammar.interpret(words) if words else None
        return (
            None if phrases is None else repr([(p.kind, sorted(p.slots.items())) for p in phrases])
        )


# Logistic regression of "this complete reading is right" on 560 readings of the tuning
# narrations and talk, 296 of them right (tests/bench/calibrate.py). Judged by a fit on the
# other voices, 263 right ones lie above 6 wrong; without the pace it was 233. The score of
# the worst word and the number of words added nothing to these three.
_CONSTANT = -5.80
_WEIGHTS = (1.96, 8.08, 1.57)


def evidence(plain: Decoded, *, stands: bool) -> tuple[float, ...]:
    """What tells a right reading from a wrong one, in the order of the weights: the fit, the
    logarithm of the pace, and whether the reading stands when shaken."""
    return (plain.fit, math.log(plain.pace), float(stands))


def confidence(plain: Decoded, *, stands: bool) -> float:
    """How likely a complete reading is right, 0 to 1; fitted on the tuning narrations."""
    known = evidence(plain, stands=stands)
    logit = _CONSTANT + sum(w * x for w, x in zip(_WEIGHTS, known, strict=True))
    return 1.0 / (1.0 + math.exp(-max(-50.0, min(50.0, logit))))


def _decoder(grammar: Grammar, narrowing: Narrowing) -> Decoder:
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
    network = grammar.network(narrowing)
    pronouncer = Pronouncer()
    for word in network.words():
        if decoder.lookup_word(word) is None:
            for number, phones in enumerate(pronouncer.variants(word), start=1):
                spelled = word if number == 1 else f"{word}({number})"
                decoder.add_word(spelled, " ".join(phones), update=False)
    decoder.add_fsg("notes", _search(decoder, acceptor(network)))
    decoder.activate_search("notes")
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
            if notes.final[arc.end] < NEVER:
                arcs.append((state, final, weight, arc.word))
    return decoder.create_fsg("notes", 0, final, arcs)
