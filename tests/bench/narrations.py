"""Narrated sessions as sound with their truth: what every accuracy figure is counted on.

Each narration is a sound file (16 kHz mono FLAC) and a JSON file of the same name:
`utterances` (start_s, end_s, words, kind "command" or "talk", voice) and `reps` as the
scenario invented them, with what a listener must make of each (see scenario.py). The sound
has random gain, small changes of loudness between utterances and a room's noise floor.
Everything follows from the split and the number, so a narration can be made again alone.

    python -m tests.bench.narrations --split tune --count 12
    python -m tests.bench.narrations --split test --count 12 --noise wind --snr 5
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


def narration(split: str, index: int) -> tuple[Sound, dict[str, Any]]:
    """Sound and truth of narration `index` of a split, clean."""
    invented: Scenario = invent(split, index)
    narrator, helper = cast(split, index)
    sound, utterances = render(invented.said, narrator, helper, f"render {split} {index}")
    for number, rep in enumerate(invented.reps):
        rep["utterances"] = [at for at, one in enumerate(utterances) if one["rep"] == number]
    truth = {"split": split, "index": index, "voice": narrator.name, "engine": narrator.engine,
             "dogs": invented.dogs, "utterances": utterances, "reps": invented.reps}  # fmt: skip
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
             "dogs": [], "utterances": utterances, "reps": []}  # fmt: skip
    return sound, truth


def write(
    folder: Path, sound: Sound, truth: dict[str, Any], kind: str | None, snr_db: float | None
) -> Path:
    """Write sound and truth, with noise of that kind mixed in when one is named."""
    if kind is not None and snr_db is not None:
        rng = np.random.default_rng([truth["index"], sum(map(ord, kind))])
        spans = [(one["start_s"], one["end_s"]) for one in truth["utterances"]]
        added = noise.make(kind, len(sound), rng, truth["split"])
        sound, _ = noise.mix(sound, added, snr_db, spans)
    path = folder / f"{truth['index']:02}-{truth['voice']}.flac"
    folder.mkdir(parents=True, exist_ok=True)
    sf.write(path, sound, RATE, subtype="PCM_16")
    record = {"format": 1, "audio": path.name, "duration_s": round(len(sound) / RATE, 3),
              "noise": kind, "snr_db": snr_db, **truth}  # fmt: skip
    path.with_suffix(".json").write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    return path


def main() -> None:
    """Make a batch and print what was made."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", choices=("tune", "test"), required=True)
    parser.add_argument("--count", type=int, default=12, help="narrations (default 12)")
    parser.add_argument("--talk", type=float, help="minutes of other talk instead of narrations")
    parser.add_argument("--noise", choices=noise.KINDS)
    parser.add_argument("--snr", type=float, help="dB over the stretches with speech")
    parser.add_argument("--data", type=Path, help="folder (default: VOICELOG_BENCH_DATA, or cache)")
    asked = parser.parse_args()
    if (asked.noise is None) != (asked.snr is None):
        parser.error("--noise and --snr go together")
    name = f"{'talk_' if asked.talk else ''}{asked.split}"
    name += f"-{asked.noise}{asked.snr:g}" if asked.noise else ""
    folder = (asked.data or data_dir()) / name
    for voice in VOICES:
        if voice.split == asked.split and (reason := absent(voice)):
            print(f"without {voice.name}: {reason}")
    seconds, index, words = 0.0, 0, Counter[str]()
    truths = []
    while seconds < asked.talk * 60 if asked.talk else index < asked.count:
        make = talk_only if asked.talk else narration
        sound, truth = make(asked.split, index)
        path = write(folder, sound, truth, asked.noise, asked.snr)
        truths.append(truth)
        words.update(one["words"] for one in truth["utterances"])
        seconds += len(sound) / RATE
        print(f"{path}  {len(sound) / RATE:5.1f} s  {len(truth['utterances'])} utterances,"
              f" {len(truth['reps'])} reps")  # fmt: skip
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
