"""Fit the weights of voicelog/recognition/features.py, on tuning narrations and talk only.

    python -m tests.bench.calibrate hear tune/clean tune/pink10 ... [--shard 0/2] [--by both]
    python -m tests.bench.calibrate fit [BOTH ...]

`hear` looks into every segment of the folders named, below VOICELOG_BENCH_DATA, and keeps
what it found in calibrate/ there; it can be stopped and run again. Phones are told by a layer
that has not heard the voice (phones.py). `fit` prints the weights for each company of listeners,
and then, each voice judged by a fit on the others, how many right readings lie above bars that let
some wrong ones through: the risk-coverage curve, for each condition, and for each kind of reading
that has a bar of its own.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.optimize import minimize

from tests.bench.phones import layer_without
from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.model import Dog, Roster
from voicelog.recognition.candidates import CandidateSet, generate_candidates
from voicelog.recognition.features import candidate_probabilities, features
from voicelog.recognition.noise_reduction import NOISY_DB
from voicelog.recognition.phone_posteriors import PhoneLayer
from voicelog.recognition.segmenter import segments
from voicelog.recognition.sphinx import SphinxRecognizer
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

Numbers = NDArray[np.float64]
DATA = Path(os.environ.get("VOICELOG_BENCH_DATA", "."))
WRONG = (0, 1, 2, 3, 5, 10, 20)
_QUICK = [
    *("quick", "again", "fit", "fit in noise", "least", "untold_s", "untold in noise"),
    *("constant", "single", "loud"),
]
_PHONES = ["phones first", "phones behind", "phones short", "phones between", "noise"]
EVIDENCE = {
    "QUICK": [*_QUICK, "phones", "again in noise", "pace", "noise"],
    "CAREFUL": ["constant", "quick", "single", "loud", *_PHONES],
    "BOTH": [*_QUICK, *_PHONES],
}
"""What each company of listeners can know."""
HEARD = {"QUICK": "quick", "CAREFUL": "both", "BOTH": "both"}
"""By whom what it is fitted on was heard."""


@dataclass(frozen=True)
class Look:
    """One segment: who spoke, in what, what was found, what was said (None: no note).

    meant, twin: of each candidate, its meaning and whether it has a twin.
    """

    voice: str
    condition: str
    of: CandidateSet
    said: str | None
    meant: tuple[str | None, ...]
    twin: tuple[bool, ...]

    def kind(self, candidate: int) -> str:
        """By which of a company's bars a candidate is judged."""
        one = self.of.candidates[candidate]
        kind = "twin" if self.twin[candidate] else "more" if " " in one.words else "word"
        return f"{kind}, {'quiet' if self.of.above_noise_db >= NOISY_DB else 'noisy'}"

    @property
    def right(self) -> int:
        """Which candidate is right; -1 when none is."""
        return self.meant.index(self.said) if self.said in self.meant and self.said else -1


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("hear", "fit"))
    parser.add_argument("folders", nargs="*")
    parser.add_argument("--shard", default="0/1")
    parser.add_argument("--by", choices=("quick", "both"), default="both")
    parser.add_argument("--top", type=int, default=100, help="top level of the transmitter")
    options = parser.parse_args()
    if options.what == "fit":
        for company in options.folders or EVIDENCE:
            mean_word_score(company, EVIDENCE[company])
        return
    shard, shards = map(int, options.shard.split("/"))
    for folder in options.folders:
        for number, path in enumerate(sorted((DATA / folder).glob("*.json"))):
            if number % shards == shard:
                hear(path, folder, options.top, options.by)


def hear(path: Path, condition: str, top: int, by: str) -> None:
    folder = DATA / "calibrate" / by
    kept = folder / f"{condition.replace('/', '-')}-{path.stem}.pickle"
    if kept.exists():
        return
    truth = json.loads(path.read_text())
    dogs = tuple(truth["dogs"]) or ("bracken",)
    grammar = Grammar.load(roster=Roster(dogs=tuple(Dog(name=dog) for dog in dogs)))
    recognition_context = RecognitionContext(top_level=top)
    first_pass = SphinxRecognizer(grammar, recognition_context)
    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    whisper = None
    if by == "both":
        whisper = WhisperEncoder(model, PhoneLayer(layer_without(truth["voice"])))
    sound, _ = soundfile.read(path.with_suffix(".flac"), dtype="float32")
    looks: list[Look] = []
    for cut in segments([sound]):
        start, end = cut.start / RATE, cut.end / RATE
        over = [u for u in truth["utterances"] if u["start_s"] < end and u["end_s"] > start]
        whole = all(
            u["kind"] == "command"
            and min(u["end_s"], end) - max(u["start_s"], start) > 0.7 * (u["end_s"] - u["start_s"])
            for u in over
        )
        words = " ".join(u["words"] for u in over) if over and whole else ""
        found = generate_candidates(cut, grammar, recognition_context, first_pass, whisper)
        meant = tuple(meaning(grammar, one.words) for one in found.candidates)
        said = meaning(grammar, words)
        twin = tuple(
            bool(sound_alike_readings(grammar, one.words, top)) for one in found.candidates
        )
        looks.append(Look(truth["voice"], condition, found, said, meant, twin))
    kept.parent.mkdir(exist_ok=True, parents=True)
    kept.write_bytes(pickle.dumps(looks))
    print(kept.name, flush=True)


def meaning(grammar: Grammar, words: str) -> str | None:
    phrases = grammar.interpret(words) if words else None
    return phrases and repr([(p.kind, sorted(p.slots.items())) for p in phrases])


def mean_word_score(company: str, names: Sequence[str]) -> None:
    folder = DATA / "calibrate" / HEARD[company]
    files = sorted(folder.glob("*.pickle"))
    looks = [look for file in files for look in pickle.loads(file.read_bytes())]
    print(f"\n{company}: Mapping[str, float] = {{")
    for name, weight in fitted(looks, names).items():
        print(f'    "{name}": {weight:.2f},')
    print("}")
    judged: list[tuple[float, bool, Look, int]] = []
    for voice in sorted({look.voice for look in looks}):
        weights = fitted([look for look in looks if look.voice != voice], names)
        for look in looks:
            if look.voice == voice and look.of.candidates:
                likely = candidate_probabilities(look.of, weights)
                best = int(np.argmax(likely))
                judged.append((likely[best], best == look.right, look, best))
    judged.sort(key=lambda one: -one[0])
    for condition in sorted({look.condition for look in looks}):
        here = [one for one in judged if one[2].condition == condition]
        notes = sum(look.said is not None for look in looks if look.condition == condition)
        curve = [f"{most} wrong {right} right ({bar:.3f})" for most, right, bar in above(here)]
        print(f"{condition}: {notes} notes, {sum(one[1] for one in here)} best", "; ".join(curve))
    for kind in sorted({look.kind(best) for _, _, look, best in judged}):
        here = [one for one in judged if one[2].kind(one[3]) == kind]
        curve = [f"{most} wrong {right} right ({bar:.3f})" for most, right, bar in above(here)]
        print(f"{kind}: {sum(one[1] for one in here)} right", "; ".join(curve))
    for likely, right, look, best in judged:
        if not right and likely > 0.6:
            words = look.of.candidates[best].words
            print(f"  {likely:.3f} {look.condition} {look.voice}: {words!r} for {look.said}")


def above(judged: Sequence[tuple[float, bool, Look, int]]) -> list[tuple[int, int, float]]:
    """For each number of wrong ones let through, how many right ones, and above which bar."""
    found = []
    for most in WRONG:
        right = wrong = 0
        bar = 1.0
        for likely, is_right, *_ in judged:
            wrong += not is_right
            if wrong > most:
                break
            right, bar = right + is_right, likely
        found.append((most, right, bar))
    return found


def fitted(looks: Sequence[Look], names: Sequence[str]) -> dict[str, float]:
    """The weights of greatest penalised likelihood, for evidence as it is."""
    tables = [
        np.array([[features(one, look.of)[name] for name in names] for one in look.of.candidates])
        if look.of.candidates
        else np.zeros((0, len(names)))
        for look in looks
    ]
    every = np.concatenate(tables)
    mean, spread = every.mean(axis=0), every.std(axis=0) + 1e-9
    constant = list(names).index("constant")
    mean[constant], spread[constant] = 0.0, 1.0
    scaled = [(table - mean) / spread for table in tables]
    right = [look.right for look in looks]

    def loss(weights: Numbers) -> tuple[float, Numbers]:
        total, slope = 0.15 * float(weights @ weights), 0.3 * weights
        for table, place in zip(scaled, right, strict=True):
            scores = np.append(table @ weights, 0.0)
            likely = np.exp(scores - scores.max())
            likely /= likely.sum()
            total -= math.log(max(likely[place], 1e-12))
            if len(table):
                likely[place] -= 1.0
                slope = slope + table.T @ likely[:-1]
        return total, slope

    found = minimize(loss, np.zeros(len(names)), jac=True, method="L-BFGS-B").x
    weights = found / spread
    weights[constant] -= float(weights @ mean)
    return dict(zip(names, map(float, weights), strict=True))


if __name__ == "__main__":
    # By its full name, so that what is kept can be read again from anywhere.
    from tests.bench import calibrate

    calibrate.main()
