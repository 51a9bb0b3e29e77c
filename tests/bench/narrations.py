"""Narrated sessions as sound with their truth: what every accuracy figure is counted on.

Each narration is a sound file (16 kHz mono FLAC) and a JSON file of the same name:
`utterances` (start_s, end_s, words, kind "command" or "talk", voice) and `reps` as the
scenario invented them, with what a listener must make of each (see scenario.py). The sound
has random gain, small changes of loudness between utterances and a room's noise floor.
Everything follows from the split and the number, so a narration can be made again alone.
They lie in SPLIT/CONDITION (see conditions.py); one that is there is kept.

    python -m tests.bench.narrations --split tune --condition clean pink20 wind5 real15
    python -m tests.bench.narrations --split test --count 20 --top 100
    python -m tests.bench.narrations --split tune --talk 10        # minutes of other talk only
"""

from __future__ import annotations

import argparse
import json
import random
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import soundfile as sf

from tests.bench import noise, scenario
from tests.bench.conditions import Condition
from tests.bench.noise import REAL
from tests.bench.scenario import Said, Scenario, invent
from tests.bench.talk import sentences
from tests.bench.voices import RATE, VOICES, Sound, Voice, absent, available, data_dir

__all__ = ["narration", "render", "talk_only", "write"]

FLOOR_DBFS = (-68.0, -58.0)  # RMS of the room without speech, before the gain
GAIN_DB = (-10.0, 6.0)
TEMPI = (0.95, 1.05, 1.15)


def cast(split: str, index: int) -> tuple[Voice, Voice]:
    """The narrator and the helper of a narration; the narrators take turns."""
    voices = list(available(split))
    if len(voices) < 2:
        raise RuntimeError("fewer than two voices can speak here; see python -m tests.bench.voices")
    random.Random(f"cast {split}").shuffle(voices)
    return voices[index % len(voices)], voices[(index + 5) % len(voices)]


def render(
    said: list[Said], narrator: Voice, helper: Voice, seed: str
) -> tuple[Sound, list[dict[str, Any]]]:
    """The sound of a scenario without added noise, and its utterances with their times."""
    rng = random.Random(seed)
    noise_rng = np.random.default_rng(rng.randrange(1 << 32))
    tempo = rng.choice(TEMPI)
    placed: list[tuple[int, Sound]] = []
    utterances: list[dict[str, Any]] = []
    at = round(rng.uniform(0.4, 1.0) * RATE)
    for one in said:
        voice = helper if one.helper else narrator
        sound = voice.sound(", ".join(one.phrases), tempo)
        sound = sound * np.float32(10 ** (rng.uniform(-2.5, 1.5) / 20))
        at += round(one.pause_s * RATE)
        placed.append((at, sound))
        utterances.append(
            {"start_s": round(at / RATE, 3), "end_s": round((at + len(sound)) / RATE, 3),
             "words": one.words, "kind": one.kind, "voice": voice.name, "rep": one.rep}
        )  # fmt: skip
        at += len(sound)
    total = noise.pink(at + RATE, noise_rng) * np.float32(10 ** (rng.uniform(*FLOOR_DBFS) / 20))
    for start, sound in placed:
        total[start : start + len(sound)] += sound
    gain = 10 ** (rng.uniform(*GAIN_DB) / 20)
    return (total * min(gain, 0.95 / np.abs(total).max())).astype(np.float32), utterances


def narration(split: str, index: int, top: int = 20) -> tuple[Sound, dict[str, Any]]:
    """Sound and truth of narration `index` of a split, clean; top: highest level (dial)."""
    invented: Scenario = invent(split, index, top)
    narrator, helper = cast(split, index)
    sound, utterances = render(invented.said, narrator, helper, f"render {split} {index}")
    for number, rep in enumerate(invented.reps):
        rep["utterances"] = [at for at, one in enumerate(utterances) if one["rep"] == number]
    truth = {"split": split, "index": index, "voice": narrator.name, "engine": narrator.engine,
             "top": top, "dogs": invented.dogs, "utterances": utterances,
             "reps": invented.reps}  # fmt: skip
    return sound, truth


def talk_only(split: str, index: int, seconds: float = 60.0) -> tuple[Sound, dict[str, Any]]:
    """About a minute of other talk by two voices; nothing in it may become a record."""
    rng = random.Random(f"talk only {split} {index}")
    narrator, helper = cast(split, index)
    said = [
        Said((sentence,), rng.uniform(0.7, 2.5), "talk", helper=rng.random() < 0.2)
        for sentence in sentences(split, index)[: round(seconds / 3.4)]
    ]
    sound, utterances = render(said, narrator, helper, f"talk {split} {index}")
    truth = {"split": split, "index": index, "voice": narrator.name, "engine": narrator.engine,
             "top": 20, "dogs": [], "utterances": utterances, "reps": []}  # fmt: skip
    return sound, truth


def write(folder: Path, sound: Sound, truth: dict[str, Any], condition: str) -> Path:
    """Write sound and truth under that condition."""
    spans = [(one["start_s"], one["end_s"]) for one in truth["utterances"]]
    sound, noise = Condition.parse(condition).apply(sound, spans, truth["split"], truth["index"])
    path = folder / f"{truth['index']:02}-{truth['voice']}.flac"
    folder.mkdir(parents=True, exist_ok=True)
    sf.write(path, sound, RATE, subtype="PCM_16")
    record = {"format": 2, "audio": path.name, "duration_s": round(len(sound) / RATE, 3),
              "condition": condition, "noise": noise, **truth}  # fmt: skip
    path.with_suffix(".json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    return path


def main() -> None:
    """Make a batch and print what was made."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", choices=tuple(REAL), required=True)
    parser.add_argument("--condition", nargs="+", default=["clean"])
    parser.add_argument("--count", type=int, default=12, help="narrations (default 12)")
    parser.add_argument("--top", type=int, default=20, help="highest level (default 20)")
    parser.add_argument("--talk", type=float, help="minutes of other talk instead of narrations")
    parser.add_argument("--data", type=Path, help="folder (default: VOICELOG_BENCH_DATA, or cache)")
    asked = parser.parse_args()
    for voice in VOICES:
        if voice.split == asked.split and (reason := absent(voice)):
            print(f"without {voice.name}: {reason}")
    seconds, index, words = 0.0, 0, Counter[str]()
    truths = []
    while seconds < asked.talk * 60 if asked.talk else index < asked.count:
        if asked.talk:
            sound, truth = talk_only(asked.split, index)
        else:
            sound, truth = narration(asked.split, index, asked.top)
        for condition in asked.condition:
            name = f"talk-{condition}" if asked.talk else condition
            name += f"-top{asked.top}" if asked.top != 20 else ""
            folder = (asked.data or data_dir()) / asked.split / name
            if not (folder / f"{index:02}-{truth['voice']}.json").exists():
                print(write(folder, sound, truth, condition), flush=True)
        truths.append(truth)
        words.update(one["words"] for one in truth["utterances"])
        seconds += len(sound) / RATE
        index += 1
    print(f"{index} files, {seconds / 60:.1f} min, {sum(len(t['reps']) for t in truths)} reps, "
          f"{words.total()} utterances, {len({t['voice'] for t in truths})} voices")  # fmt: skip
    if not asked.talk:
        said = " ".join(words)
        unsaid = [w for w in (*scenario.NOTICED, *scenario.STRONG, *scenario.WEAK,
                              *scenario.OUTCOMES) if w not in said]  # fmt: skip
        print("never said in this batch:", ", ".join(unsaid) or "nothing, all are covered")


if __name__ == "__main__":
    main()
