"""Recordings of single utterances, in the form of the narrations: sound and truth.

    python -m tests.bench.units --split tune            the sets that are not there yet
    python -m tests.bench.units --split test --set beyond strangers --condition clean pink10

`digits`: numbers said by people, in phrases otherwise said by a voice of the split ("up to
    SEVEN", "level SEVEN came"). On `test` the recordings as they are, at 16 and 8 kHz; on `tune`
    and `fresh` the same speaker played slower or faster, since there are too few to part.
`human`: other talk by people. `noise`: nothing said at all.
`beyond`: levels above the transmitter's 20. `within`: the same notes with levels of 1 to 20, to
    see what looking for those above costs. `strangers`: sessions begun with a dog that is not on
    the roster. Every voice of the split says 30 of each of the first two and 10 of the last, and
    the names on the roster.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import soxr

from tests.bench import human, noise
from tests.bench.narrations import FLOOR_DBFS, GAIN_DB, write
from tests.bench.scenario import spoken
from tests.bench.voices import RATE, Sound, Voice, available, data_dir

__all__ = ["beyond", "digits", "human_talk", "noise_alone", "strangers", "within"]

FORMS = ("up to {}", "level {} came", "tap {}", "level {} ignored", "down to {}")
BEYOND = (
    *("level {} came", "tap {}", "level {}", "up to {}"),
    *("level {} ignored", "here level {} came"),
)
ROSTERS = {
    "tune": ("bracken", "teal", "jem", "otter"),
    "test": ("wren", "fern", "moss", "sorrel"),
    "fresh": ("finch", "kes", "barley", "dot"),
}
STRANGERS = {
    "tune": (
        *("ted", "neil", "gem", "deal", "tim", "rook", "bramley", "hotter", "patch", "bonnie"),
        *("shadow", "lad", "bell", "peel", "jan", "jet", "brecon", "holly", "kim", "fleck"),
    ),
    "test": (
        *("ben", "vern", "ross", "glen", "floss", "coral", "jen", "turn", "max", "bess"),
        *("rex", "boss", "laurel", "penny", "tess", "burn", "mars", "duke", "rennie", "star"),
    ),
    "fresh": (
        *("flint", "tess", "carly", "spot", "finn", "jess", "harley", "dolly", "wince", "kez"),
        *("minch", "gyp", "marley", "scott", "inch", "nell", "charlie", "tot", "fitch", "mist"),
    ),
}
"""Names that are not on the roster; every other one of the first half sounds like one that is."""
SHIFTED = {"tune": (0.88, 1.1), "fresh": (0.94, 1.05)}  # speed of playing
MINUTES = {"game": 50, "dutch": 12, "prompts": 15, "novel": 5}  # of human talk, at most
LONGEST_S = 120

Made = tuple[Sound, dict[str, Any]]


def joined(
    said: list[tuple[str, str, Sound]], voice: str, split: str, index: int, gaps: tuple[float, ...]
) -> Made:
    """One recording of (words, kind, sound), with pauses of gaps (s, least and most)."""
    rng = random.Random(f"units {split} {voice} {index}")
    at = RATE
    placed, utterances = [], []
    for words, kind, sound in said:
        placed.append((at, sound * np.float32(10 ** (rng.uniform(-2.5, 1.5) / 20))))
        utterances.append(
            {"start_s": round(at / RATE, 3), "end_s": round((at + len(sound)) / RATE, 3),
             "words": words, "kind": kind, "voice": voice, "rep": None}
        )  # fmt: skip
        at += len(sound) + round(rng.uniform(*gaps) * RATE)
    floor = 10 ** (rng.uniform(*FLOOR_DBFS) / 20)
    total = noise.pink(at + RATE, np.random.default_rng(rng.randrange(1 << 32))) * np.float32(floor)
    for start, sound in placed:
        total[start : start + len(sound)] += sound
    gain = min(10 ** (rng.uniform(*GAIN_DB) / 20), 0.95 / float(np.abs(total).max()))
    truth = {"split": split, "index": index, "voice": voice, "engine": "human", "top": 20,
             "dogs": [], "utterances": utterances, "reps": []}  # fmt: skip
    return (total * gain).astype(np.float32), truth


def digits(split: str) -> Iterator[Made]:
    """Each number of each speaker in two phrases."""
    carriers = [voice for voice in available(split) if voice.engine != "kokoro"]
    sources: list[tuple[str, list[tuple[int, Sound]]]] = []
    if split == "test":
        sources = [(name, human.numbers(name)) for name in human.SPEAKERS]
    for shift in SHIFTED.get(split, ()):
        moved = [
            (number, _shifted(sound, shift)) for number, sound in human.numbers(human.SPEAKERS[0])
        ]
        sources.append((f"prompts-x{shift}", moved))
    for index, (speaker, numbers) in enumerate(sources):
        rng = random.Random(f"digits {split} {speaker}")
        said: list[tuple[str, str, Sound]] = []
        for number, sound in numbers * 2:
            form = rng.choice(FORMS[:2] if len(said) % 2 else FORMS)
            voice = rng.choice(carriers)
            before, _, after = form.partition(" {}")
            parts = [voice.sound(before), _hush(rng), sound]
            parts += [_hush(rng), voice.sound(after.strip())] if after else []
            said.append((form.format(spoken(number)), "command", np.concatenate(parts)))
        yield joined(said, speaker, split, index, (1.3, 2.2))


def beyond(split: str) -> Iterator[Made]:
    """Notes with levels of 21 to 100, said to a transmitter that ends at 20."""
    for index, voice in enumerate(available(split)):
        rng = random.Random(f"beyond {split} {voice.name}")
        tens, others = range(30, 100, 10), range(21, 101)
        levels = [rng.choice(tens if turn % 2 else others) for turn in range(30)]
        notes = [BEYOND[turn % len(BEYOND)].format(spoken(n)) for turn, n in enumerate(levels)]
        yield _all_said(notes, voice, split, index, ROSTERS[split])


def within(split: str) -> Iterator[Made]:
    """Notes with levels that the transmitter has."""
    for index, voice in enumerate(available(split)):
        rng = random.Random(f"within {split} {voice.name}")
        levels = [*range(1, 21), *rng.sample(range(1, 21), 10)]
        rng.shuffle(levels)
        notes = [BEYOND[turn % len(BEYOND)].format(spoken(n)) for turn, n in enumerate(levels)]
        yield _all_said(notes, voice, split, index, ROSTERS[split])


def strangers(split: str) -> Iterator[Made]:
    """Sessions of dogs that are not on the roster, some of whose names sound like one that is;
    and, for comparison, of those that are."""
    for index, voice in enumerate(available(split)):
        forms = ("start session {}", "next dog {}")
        names = (*STRANGERS[split][index % 2 :: 2], *ROSTERS[split])
        notes = [forms[turn % 2].format(name) for turn, name in enumerate(names)]
        yield _all_said(notes, voice, split, index, ROSTERS[split])


def _all_said(
    notes: list[str], voice: Voice, split: str, index: int, dogs: tuple[str, ...]
) -> Made:
    said = [(words, "command", voice.sound(words)) for words in notes]
    sound, truth = joined(said, voice.name, split, index, (1.3, 2.2))
    return sound, truth | {"engine": voice.engine, "dogs": list(dogs)}


def human_talk(split: str) -> Iterator[Made]:
    """Other talk, each recording of one package and in the order that its lines have."""
    index, waiting, length = 0, list[tuple[str, str, Sound]](), 0.0
    spent = dict.fromkeys(MINUTES, 0.0)
    last = ""
    for source, name, sound in human.lines(split):
        if waiting and (source != last or length > LONGEST_S):
            yield joined(waiting, last, split, index, (0.4, 1.5))
            index, waiting, length = index + 1, [], 0.0
        last = source
        if spent[source] < MINUTES[source] * 60:
            waiting.append((name, "talk", sound))
            length += len(sound) / RATE + 0.95
            spent[source] += len(sound) / RATE + 0.95
    if waiting:
        yield joined(waiting, last, split, index, (0.4, 1.5))


def noise_alone(split: str) -> Iterator[Made]:
    """A minute of every recorded subject, and of pink noise and wind, at many loudnesses."""
    for index, subject in enumerate((*noise.REAL[split], "pink", "wind", "barks")):
        rng = np.random.default_rng([*map(ord, f"alone {split} {subject}")])
        sound = noise.make(subject, 60 * RATE, rng, split)
        level = 10 ** (rng.uniform(-45, -20) / 20)
        sound = (sound * min(level, 0.95 / float(np.abs(sound).max()))).astype(np.float32)
        truth = {"split": split, "index": index, "voice": subject, "engine": "noise", "top": 20,
                 "dogs": [], "utterances": [], "reps": []}  # fmt: skip
        yield sound, truth


def _hush(rng: random.Random) -> Sound:
    return np.zeros(round(rng.uniform(0.02, 0.07) * RATE), dtype=np.float32)


def _shifted(sound: Sound, factor: float) -> Sound:
    return np.asarray(soxr.resample(sound, RATE * factor, RATE), dtype=np.float32)


SETS = {
    "digits": digits,
    "human": human_talk,
    "noise": noise_alone,
    "beyond": beyond,
    "within": within,
    "strangers": strangers,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", choices=human.SPLITS, required=True)
    parser.add_argument("--set", nargs="+", choices=SETS, default=list(SETS))
    parser.add_argument("--condition", nargs="+", default=["clean"])
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    for name in asked.set:
        for sound, truth in SETS[name](asked.split):
            for condition in asked.condition:
                made = name if condition == "clean" else f"{name}-{condition}"
                print(write(asked.data / asked.split / made, sound, truth, condition), flush=True)


if __name__ == "__main__":
    main()
