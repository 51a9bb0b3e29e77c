"""What each segment of the tuning recordings may say, with the evidence: weights rest on it.

Each recording (tests/bench/narrations.py, units.py and people.py make them) is heard by both
recognizers and by the quick one alone, and kept as JSON, one for each. Phones are told by a layer
that has not heard the speaker (layer_files.py), unless the shipped one is asked for. What is there
is passed over, so it can be stopped and run again.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

import soundfile

from tests.bench.heard import grammar_of
from tests.bench.voices import data_dir
from training.layer_files import layer_without
from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext, beyond_range
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model.phrases import phrase_slots
from voicelog.recognition.candidates import CandidateSet, generate_candidates
from voicelog.recognition.features import features
from voicelog.recognition.noise_reduction import NOISY_DB
from voicelog.recognition.phone_posteriors import PhoneLayer
from voicelog.recognition.quick_recognizer import Alignment, Hypothesis, Spectrum
from voicelog.recognition.segmenter import Segment, segments
from voicelog.recognition.sphinx import SphinxRecognizer
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

__all__ = [
    "CONDITIONS",
    "HEARD_BY",
    "NOISES",
    "Observation",
    "Option",
    "hear",
    "kept_observations",
    "observations",
]

HeardBy = Literal["quick", "both"]
HEARD_BY: tuple[HeardBy, ...] = ("quick", "both")
NOISES = ("clean", "pink10", "real15")
CONDITIONS = (
    *(*NOISES, "wind5", "pink20", "digits", "human"),
    *("people", "people-kitchen24", "people-kitchen12", "people-kitchen6"),
    *("beyond", "beyond-pink10", "beyond-real15", "within", "within-pink10", "within-real15"),
)
"""Folders of the split `tune`."""
SAID_SHARE = 0.7
"""Of an utterance, by time, that a segment must hold to be a hearing of it."""


@dataclass(frozen=True)
class Option:
    """A reading that a segment may have: its meaning, comparable, whether it has a sound-alike,
    whether it holds a level beyond the transmitter's range, its features by name, and how far ahead
    of the numbers that sound like its own it lies in the phones (nats; None where that is not
    told)."""

    words: str
    meaning: str | None
    sound_alike: bool
    beyond: bool
    features: dict[str, float]
    ahead: float | None = None


@dataclass(frozen=True)
class Observation:
    """One segment: whose voice, in which condition, how far above the noise (dB), the readings it
    may have, and the meaning of what was said (None where that was no note)."""

    voice: str
    condition: str
    above_noise_db: float
    said: str | None
    options: tuple[Option, ...]

    @property
    def right(self) -> int:
        """Which option is right; -1 when none is."""
        meanings = [one.meaning for one in self.options]
        return meanings.index(self.said) if self.said in meanings and self.said else -1

    @property
    def noisy(self) -> bool:
        """Whether the thresholds for noise hold for it."""
        return self.above_noise_db < NOISY_DB


def hear(shard: int = 0, shards: int = 1, *, shipped_layer: bool = False) -> None:
    """Hear the recordings of `tune`, or every `shards`th of them, and keep what was found.

    shipped_layer: tell phones by the layer that ships, which knows these voices.
    """
    every = [
        (folder, path)
        for folder in CONDITIONS
        for path in sorted((data_dir() / "tune" / folder).glob("*.json"))
    ]
    for folder, path in every[shard::shards]:
        kept = {by: _kept(by, folder, path.stem) for by in HEARD_BY}
        if all(one.exists() for one in kept.values()):
            continue
        for by, found in _heard(path, folder, shipped_layer=shipped_layer).items():
            kept[by].parent.mkdir(parents=True, exist_ok=True)
            kept[by].write_text(json.dumps([asdict(one) for one in found]))
        print(folder, path.stem, len(found), flush=True)


def observations(by: HeardBy) -> list[Observation]:
    """All that was kept of a way of hearing."""
    found = []
    for path in sorted((data_dir() / "candidates" / by.replace(" ", "-")).glob("*.json")):
        found += [_observation(one) for one in json.loads(path.read_text())]
    return found


def kept_observations(by: HeardBy, recording: str) -> list[Observation]:
    """What was kept of one recording, by its folder and name; one for each of its segments."""
    path = data_dir() / "candidates" / by.replace(" ", "-") / f"{recording}.json"
    return [_observation(one) for one in json.loads(path.read_text())]


def _kept(by: HeardBy, folder: str, stem: str) -> Path:
    return data_dir() / "candidates" / by.replace(" ", "-") / f"{folder}-{stem}.json"


def _observation(one: dict[str, Any]) -> Observation:
    return Observation(**{**one, "options": tuple(Option(**option) for option in one["options"])})


class _HeardOnce:
    """A quick recognizer that decodes a segment once for both ways of hearing it."""

    def __init__(self, recognizer: SphinxRecognizer) -> None:
        self._recognizer = recognizer
        self._last: tuple[Samples, Hypothesis] | None = None
        self.name = recognizer.name

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        if self._last is None or self._last[0] is not sound:
            self._last = sound, self._recognizer.hear(sound, noise)
        return self._last[1]

    def match(self, sound: Samples, words: str) -> Alignment | None:
        return self._recognizer.match(sound, words)


def _heard(path: Path, condition: str, *, shipped_layer: bool) -> dict[HeardBy, list[Observation]]:
    truth = json.loads(path.read_text())
    grammar, context = grammar_of(truth), RecognitionContext(top_level=truth["top"])
    quick = _HeardOnce(SphinxRecognizer(grammar, context))
    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    layer = PhoneLayer(
        shipped_artifact().layer_file if shipped_layer else layer_without(truth["voice"])
    )
    careful = WhisperEncoder(model, layer)
    sound, _ = soundfile.read(path.with_suffix(".flac"), dtype="float32")
    found: dict[HeardBy, list[Observation]] = {by: [] for by in HEARD_BY}
    for segment in segments([sound]):
        said = _meaning(grammar, _words_in(segment, truth["utterances"]))
        for by in HEARD_BY:
            second = careful if by == "both" else None
            sets = generate_candidates(segment, grammar, context, quick, second)
            found[by].append(
                Observation(
                    truth["voice"],
                    condition,
                    sets.above_noise_db,
                    said,
                    tuple(_options(grammar, context, sets)),
                )
            )
    return found


def _words_in(segment: Segment, utterances: Sequence[dict[str, Any]]) -> str:
    """The words of the notes that a segment holds; "" when it holds anything else."""
    start, end = segment.start / RATE, segment.end / RATE
    over = [one for one in utterances if one["start_s"] < end and one["end_s"] > start]
    whole = all(
        one["kind"] == "command"
        and min(one["end_s"], end) - max(one["start_s"], start)
        > SAID_SHARE * (one["end_s"] - one["start_s"])
        for one in over
    )
    return " ".join(one["words"] for one in over) if whole else ""


def _options(
    grammar: Grammar, context: RecognitionContext, found: CandidateSet
) -> Iterator[Option]:
    for one in found.candidates:
        yield Option(
            one.words,
            _meaning(grammar, one.words),
            bool(sound_alike_readings(grammar, one.words)),
            beyond_range(grammar, one.words, context),
            features(one, found),
            found.ahead_of_sound_alikes.get(one.words),
        )


def _meaning(grammar: Grammar, words: str) -> str | None:
    phrases = grammar.interpret(words) if words else None
    return repr([(p.kind, sorted(phrase_slots(p).items())) for p in phrases]) if phrases else None
