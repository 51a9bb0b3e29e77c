"""Fit what the PocketSphinx listener's confidence is made of, on tuning narrations only.

    python -m tests.bench.calibrate

hears every segment of the folders tune and talk_tune (see narrations.py), fits a logistic
regression of "this complete reading is right" on what the listener knows of it, and prints
the coefficients for voicelog/hearing/sphinx.py. Below them: how many right readings lie
above bars that let some wrong ones through, each voice judged by a fit on the others.
"""

from __future__ import annotations

import argparse
import json
import os
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.bench.recognition import meaning, overlapping, spoken
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.listener import RATE
from voicelog.hearing.segmenter import segments
from voicelog.hearing.sphinx import SphinxListener, evidence
from voicelog.model import Dog, Roster, Utterance

Numbers = NDArray[np.float64]
WRONG = (0, 1, 3, 6, 10, 20)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, default=Path(os.environ["VOICELOG_BENCH_DATA"]))
    parser.add_argument("--top", type=int, default=100, help="top level of the transmitter")
    options = parser.parse_args()
    rows: list[tuple[float, ...]] = []
    right: list[bool] = []
    voices: list[str] = []
    for path in sorted(p for n in ("tune", "talk_tune") for p in (options.data / n).glob("*.json")):
        truth = json.loads(path.read_text())
        for known, is_right in readings(path, truth, options.top):
            rows.append(known)
            right.append(is_right)
            voices.append(truth["voice"])
    known, wanted, voice = np.array(rows), np.array(right, dtype=float), np.array(voices)
    print(f"{len(rows)} complete readings, {int(wanted.sum())} right")
    print("constant and coefficients", np.round(fitted(known, wanted), 2))
    logit = np.empty(len(rows))
    for one in set(voices):
        other = voice != one
        weights = fitted(known[other], wanted[other])
        logit[~other] = weights[0] + known[~other] @ weights[1:]
    order = np.argsort(-logit)
    wrong = np.cumsum(1 - wanted[order])
    for most in WRONG:
        place = int(np.searchsorted(wrong, most + 1)) - 1
        bar = 1 / (1 + np.exp(-logit[order][place]))
        print(f"{most:3} wrong: {int(wanted[order][: place + 1].sum())} right above {bar:.3f}")


def readings(
    path: Path, truth: dict[str, object], top: int
) -> list[tuple[tuple[float, ...], bool]]:
    """What the listener knows of each complete reading, and whether it is right."""
    dogs = tuple(truth["dogs"]) or ("bracken",)  # type: ignore[arg-type]
    grammar = Grammar.load(roster=Roster(dogs=tuple(Dog(name=dog) for dog in dogs)))
    listener = SphinxListener(grammar, Narrowing(top_level=top))
    sound, _ = soundfile.read(path.with_suffix(".flac"), dtype="float32")
    found = []
    for cut in segments([sound]):
        plain = listener.decode(cut.sound)
        got = meaning(grammar, plain.words)
        if got is None:
            continue
        again = listener.decode(listener.shaken(cut.sound))
        where = Utterance(id="", recording="", start_s=cut.start / RATE, end_s=cut.end / RATE)
        words = spoken(overlapping(where, truth["utterances"]))  # type: ignore[arg-type]
        is_right = words is not None and meaning(grammar, words) == got
        stands = meaning(grammar, again.words) == got
        found.append((evidence(plain, stands=stands), is_right))
    return found


def fitted(known: Numbers, wanted: Numbers) -> Numbers:
    """Constant and coefficients of a logistic regression, with a little shrinkage."""
    mean, spread = known.mean(axis=0), known.std(axis=0)
    columns = np.column_stack((np.ones(len(known)), (known - mean) / spread))
    weights = np.zeros(columns.shape[1])
    for _ in range(50):
        likely = 1 / (1 + np.exp(-np.clip(columns @ weights, -40, 40)))
        slope = columns.T @ (likely - wanted) + 0.01 * weights
        bend = (columns * (likely * (1 - likely))[:, None]).T @ columns
        weights = weights - np.linalg.solve(bend + 0.01 * np.eye(len(weights)), slope)
    inner = weights[1:] / spread
    return np.concatenate(([weights[0] - float(inner @ mean)], inner))


if __name__ == "__main__":
    main()
