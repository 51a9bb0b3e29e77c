"""People's whole commands and single words, for the benchmarks.

`orders`: orders of coffee that more than 50 people said, of the public repository
Picovoice/speech-to-intent-benchmark (Apache-2.0), cloned or unpacked into the folder `people` of
the bench data. Its labels tell what was ordered, not in which words; grammars/orders says both, so
what counts is whether all of the order is right. They lie in the folders `people...`.

`words`: single words and names that a few people said for MycroftAI/Precise-Community-Data, in the
same folder: folders whose clips its `licenses` give to the public domain. Most are
two names, said often. grammars/words has them among others that sound alike. They are in `test`
alone, in the folders `words...`; nobody has tuned on them.

`paused`: the orders that go on by "with", each with a pause before that word (found by the careful
listener; who ordered did not pause there), in the folders `paused...`.

`faint`: those of `words` whose loudest sample lies below -38 dBFS, as they are but by themselves,
as from one microphone that is turned down; in `words` they lie among loud ones.

Files whose name's last hex digit is even are `tune`, odd ones are `test`. Who said which is not
known, so the halves may share speakers. `kitchenN` is the repository's noise of a kitchen by its
authors' rule: the loudest 128 ms of each command stand N dB above the loudest of its noise. `downN`
is the same in quiet, turned down by N dB; the noise under all (-80 dBFS) is not. Any other kind is
one of conditions.py, counted as there. A link (links.py) may follow: `gsm`, `kitchen12-opus8`.

    python -m tests.bench.people --split test --condition clean kitchen24 kitchen12 msbc
    python -m tests.bench.people --split test --set words --condition clean kitchen12
    python -m tests.bench.people --split test --set paused --condition clean kitchen12
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

from tests.bench.conditions import Condition
from tests.bench.heard import GRAMMARS
from tests.bench.links import LINKS, part_link
from tests.bench.narrations import write
from tests.bench.voices import RATE, Sound, data_dir
from voicelog.grammar.grammar import Grammar
from voicelog.model import Roster
from voicelog.recognition.ctc import best_path
from voicelog.recognition.phone_posteriors import STEP
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

__all__ = ["GRAMMAR", "commands", "noise_file", "recordings", "scaled", "words"]

GRAMMAR = "orders"
"""The folder of tests/bench/grammars that the orders are of."""
WORDS = {
    "athena/en": "athena",
    "amelia/en": "amelia",
    "computer/en": "computer",
    "heycomputer/en": "hey computer",
    "heychatterbox/en-us": "hey chatterbox",
}
"""What was said in each folder of the collection of words."""
OTHER_WORDS = "not-wake-words/en"
"""A folder whose metadata.csv tells what was said."""
PAUSES_S = (0.5, 0.9)
"""How long who orders pauses; the one who truly did so in the test split took 0.6 s."""
SPELLED = {"cannister": "canister"}
EACH = 16
"""Commands in a recording."""
GAPS_S = (1.2, 2.0)
FAINT_DBFS = -38.0
"""A word whose loudest sample lies below is faint."""
FRAME = 2048
"""Samples over which the authors' rule takes the energy of speech and of noise."""
SPEECH_DB = 25.0
"""Frames of 20 ms that lie no further below the loudest are taken to be within what was said."""
SLOTS = {"size": "size", "roast": "roast", "numberOfShots": "shots", "coffeeDrink": "drink"}


def _folder() -> Path:
    for found in ("speech-to-intent-benchmark", "."):
        if (folder := data_dir() / "people" / found / "data").is_dir():
            return folder
    raise FileNotFoundError(
        f"Found no people's commands in '{data_dir() / 'people'}', wanted the repository "
        "Picovoice/speech-to-intent-benchmark; clone it there."
    )


def noise_file() -> Path:
    """The repository's noise of a kitchen."""
    return _folder() / "noise" / "kitchen.wav"


def commands(split: str) -> Iterator[tuple[str, str, Sound]]:
    """Name, words that mean the same, and sound of each command of a split, by name."""
    folder = _folder()
    labels = json.loads((folder / "label" / "label.json").read_text("utf-8"))
    for path in sorted((folder / "speech" / "clean").iterdir()):
        odd = int(path.stem[-1], 16) % 2
        if split == ("test" if odd else "tune") and (label := labels.get(f"{path.stem}.wav")):
            sound, rate = sf.read(path, dtype="float32")
            assert rate == RATE, f"{path} has {rate} Hz"
            yield path.stem, _words(label["slots"]), np.asarray(sound)


def _words(slots: dict[str, str]) -> str:
    first = [slots[name] for name in SLOTS if name in slots]
    extras = [slots[name].strip() for name in ("milkAmount", "sugarAmount") if name in slots]
    return " ".join(first) + (" with " + " and ".join(extras) if extras else "")


def words(split: str) -> Iterator[tuple[str, str, Sound]]:
    """Name, word and sound of each single word, by folder and name; none but on `test`."""
    folder = data_dir() / "people" / "Precise-Community-Data"
    if not folder.is_dir():
        raise FileNotFoundError(
            f"Found no people's words in '{folder}', wanted the repository "
            "MycroftAI/Precise-Community-Data; clone it there."
        )
    with (folder / OTHER_WORDS / "metadata.csv").open(encoding="utf-8") as table:
        told = {row[0]: row[1].lower() for row in csv.reader(table) if len(row) > 1}
    for part in (*WORDS, OTHER_WORDS) if split == "test" else ():
        for path in sorted((folder / part).glob("*.wav")):
            sound, rate = sf.read(path, dtype="float32")
            assert rate == RATE, f"{path} has {rate} Hz"
            if (said := WORDS.get(part) or told.get(path.name)) and np.abs(sound).max() > 0:
                yield path.stem, SPELLED.get(said, said), np.asarray(sound)


def faint(split: str) -> Iterator[tuple[str, str, Sound]]:
    """The words of a split whose loudest sample is below FAINT_DBFS."""
    for name, said, sound in words(split):
        if float(np.abs(sound).max()) < 10 ** (FAINT_DBFS / 20):
            yield name, said, sound


def paused(split: str) -> Iterator[tuple[str, str, Sound]]:
    """The commands of a split that go on by "with", each with a pause before it."""
    model = packaged_whisper_model()
    assert model is not None
    listener = WhisperEncoder(model, shipped_artifact().layer())
    grammar = Grammar.load(GRAMMARS / GRAMMAR, Roster())
    for name, words, sound in commands(split):
        listener.load_segment(sound)
        path = best_path(listener.phones(), grammar)
        if path is not None and "with" in (heard := path.words.split()):
            at = path.word_frames[heard.index("with")][0] * STEP
            pause = np.zeros(round(random.Random(name).uniform(*PAUSES_S) * RATE), np.float32)
            yield name, words, np.concatenate((sound[:at], pause, sound[at:]))


OWN = r"clean|(kitchen|down)\d+"
"""Conditions that are made here, command by command."""
SETS = {
    "orders": ("people", GRAMMAR, commands),
    "words": ("words", "words", words),
    "faint": ("faint", "words", faint),
    "paused": ("paused", GRAMMAR, paused),
}


def recordings(
    split: str, condition: str, what: str = "orders"
) -> Iterator[tuple[Sound, dict[str, Any]]]:
    """What a set of SETS has of a split, some to a recording, each under a stretch of noise of
    its own."""
    made, grammar, source = SETS[what]
    every = list(source(split))
    noise = None
    condition, link = part_link(condition)
    down = float(condition.removeprefix("down")) if condition.startswith("down") else 0.0
    if condition.startswith("kitchen"):
        noise = np.asarray(sf.read(noise_file(), dtype="float32")[0])
    for index in range(-(-len(every) // EACH)):
        rng = random.Random(f"{made} {split} {index}")
        parts, utterances, at = list[Sound](), list[dict[str, Any]](), 0
        for name, words, sound in every[index :: -(-len(every) // EACH)]:
            before, after = (round(rng.uniform(*GAPS_S) / 2 * RATE) for _ in range(2))
            placed = np.pad(sound, (before, after))
            if noise is not None:
                start = rng.randrange(len(noise) - len(placed))
                snr_db = float(condition.removeprefix("kitchen"))
                placed = placed + scaled(noise[start : start + len(placed)], sound, snr_db)
                placed = placed / (2 * float(np.abs(placed).max()))  # as the authors do
            start_s, end_s = ((at + before + sample) / RATE for sample in _spoken(sound))
            utterances.append(
                {"start_s": round(start_s, 3), "end_s": round(end_s, 3), "words": words,
                 "kind": "command", "voice": name, "rep": None}
            )  # fmt: skip
            parts.append(placed.astype(np.float32))
            at += len(placed)
        total = np.concatenate(parts) * np.float32(10 ** (-down / 20))
        if not re.fullmatch(OWN, condition):
            spans = [(one["start_s"], one["end_s"]) for one in utterances]
            total, _ = Condition.parse(condition).apply(total, spans, split, index)
        total = LINKS[link](total) if link else total
        floor = np.random.default_rng(rng.randrange(1 << 32)).standard_normal(len(total))
        truth = {"split": split, "index": index, "voice": "people", "engine": "human",
                 "top": 100, "dogs": [], "grammar": grammar, "utterances": utterances,
                 "reps": []}  # fmt: skip
        yield (total + floor * 1e-4).astype(np.float32), truth


def _spoken(sound: Sound) -> tuple[int, int]:
    """The first and last sample of a clip that are near enough to its loudest to be speech."""
    step = RATE // 50
    frames = sound[: len(sound) // step * step].reshape(-1, step)
    power = (frames**2).mean(axis=1)
    loud = np.flatnonzero(power > power.max() * 10 ** (-SPEECH_DB / 10))
    return int(loud[0]) * step, int(loud[-1] + 1) * step


def scaled(noise: Sound, speech: Sound, snr_db: float) -> Sound:
    """Noise with its loudest 128 ms so many dB below those of the speech."""
    ratio = _loudest(speech) / (_loudest(noise) * 10 ** (snr_db / 10))
    return noise * np.float32(ratio**0.5)


def _loudest(sound: Sound) -> float:
    """The greatest energy of any FRAME samples in a row."""
    frames = len(sound) // FRAME
    return float((sound[: frames * FRAME].reshape(frames, FRAME) ** 2).sum(axis=1).max())


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", choices=("tune", "test"), required=True)
    parser.add_argument("--set", choices=tuple(SETS), default="orders")
    parser.add_argument("--condition", nargs="+", default=["clean"])
    asked = parser.parse_args()
    for condition in asked.condition:
        if not re.fullmatch(OWN, part_link(condition)[0]):
            try:
                Condition.parse(condition)
            except ValueError as problem:
                parser.error(f"{problem}, or kitchen or down and dB.")
        made = SETS[asked.set][0] + ("" if condition == "clean" else f"-{condition}")
        for sound, truth in recordings(asked.split, condition, asked.set):
            print(write(data_dir() / asked.split / made, sound, truth, "clean"), flush=True)


if __name__ == "__main__":
    main()
