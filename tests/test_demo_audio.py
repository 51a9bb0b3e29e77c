"""The demo folder holds together: sound, words and expected reps tell the same story.

What the program makes of the sound is not asked here; see the tests of the whole path.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
import soundfile as sf

DEMO = Path(__file__).parent.parent / "demo_audio"
FOLDERS = sorted(path.parent for path in DEMO.glob("*/expected.json"))
MODES = {"none", "vibrate", "tone", "momentary", "continuous", "unknown"}
OUTCOMES = {"complied", "slow", "partial", "ignored", "left", "broke", "helped", "unknown", None}
REP_FIELDS = {
    "number", "dog", "drill", "mode", "levels", "peak_level", "end_level", "outcome", "signs",
    "cue", "cue_by", "cues", "rewards", "distraction", "distance", "distance_unit", "stress",
    "void", "why_void",
}  # fmt: skip


def expected(folder: Path) -> dict[str, Any]:
    told: dict[str, Any] = json.loads((folder / "expected.json").read_text(encoding="utf-8"))
    return told


def words(folder: Path) -> list[tuple[float, float, str, str]]:
    rows = (folder / "words.tsv").read_text(encoding="utf-8").splitlines()
    fields = [row.split("\t") for row in rows]
    return [(float(start), float(end), said, kind) for start, end, said, kind in fields]


def sound(folder: Path) -> tuple[np.ndarray, int]:
    samples, rate = sf.read(folder / expected(folder)["audio"], dtype="float32")
    return samples, rate


each_folder = pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)


def test_the_demo_lasts_six_minutes_and_stays_small() -> None:
    files = [folder / expected(folder)["audio"] for folder in FOLDERS]
    assert sum(sf.info(file).duration for file in files) >= 360
    assert sum(file.stat().st_size for file in files) < 6_000_000
    assert set(DEMO.glob("*/*.opus")) == set(files)


def test_the_demo_spans_three_days_and_two_dogs() -> None:
    truths = [expected(folder) for folder in FOLDERS]
    starts = [datetime.fromisoformat(truth["started_at"]) for truth in truths]
    assert len({start.date() for start in starts}) == 3
    assert {start.year for start in starts} == {2026}
    assert {dog for truth in truths for dog in truth["dogs"]} == {"bracken", "wren"}


@each_folder
def test_the_sound_says_when_it_began(folder: Path) -> None:
    truth = expected(folder)
    with av.open(str(folder / truth["audio"])) as file:
        tags = {**file.metadata, **file.streams.audio[0].metadata}
    began = {name.lower(): value for name, value in tags.items()}["date"]
    assert began == truth["started_at"]
    assert datetime.fromisoformat(began).tzinfo is not None


@each_folder
def test_lines_lie_in_order_inside_the_sound(folder: Path) -> None:
    samples, rate = sound(folder)
    assert len(samples) / rate == pytest.approx(expected(folder)["duration_s"], abs=0.1)
    lines = words(folder)
    assert {kind for *_, kind in lines} == {"command", "talk"}
    before = 0.0
    for start_s, end_s, said, _ in lines:
        assert said == said.lower().strip()
        assert "," not in said
        assert before < start_s < end_s < len(samples) / rate
        before = end_s


@each_folder
def test_there_is_speech_at_every_line_and_less_of_it_before(folder: Path) -> None:
    samples, rate = sound(folder)
    lines = words(folder)

    def rms_db(start_s: float, end_s: float) -> float:
        part = samples[round(start_s * rate) : round(end_s * rate)]
        return 10 * float(np.log10(np.mean(part**2) + 1e-12))

    gaps = zip([0.0, *(end for _, end, *_ in lines)], lines, strict=False)
    quiet = [rms_db(end + 0.05, line[0] - 0.05) for end, line in gaps]
    assert np.median([rms_db(start, end) for start, end, *_ in lines]) > np.median(quiet) + 10
    assert min(rms_db(start, end) for start, end, *_ in lines) > float(np.median(quiet)) + 3
    assert float(np.abs(samples).max()) <= 1.0


@each_folder
def test_expected_reps_are_complete_and_agree_with_themselves(folder: Path) -> None:
    truth = expected(folder)
    assert truth["reps"]
    for dog in truth["dogs"]:
        numbers = [rep["number"] for rep in truth["reps"] if rep["dog"] == dog]
        assert numbers == list(range(1, len(numbers) + 1))
        assert numbers
    for rep in truth["reps"]:
        assert set(rep) == REP_FIELDS
        assert rep["mode"] in MODES
        assert rep["outcome"] in OUTCOMES
        assert bool(rep["levels"]) == (rep["mode"] in {"momentary", "continuous"})
        assert rep["peak_level"] == max(rep["levels"], default=None)
        assert rep["end_level"] == (rep["levels"][-1] if rep["levels"] else None)
        assert rep["void"] == (rep["why_void"] is not None)
        assert (rep["cue"] is None) == (rep["cue_by"] is None) == (rep["cues"] == 0)
        assert rep["outcome"] is not None or rep["drill"] == "find level"


@each_folder
def test_expected_findings_name_judged_rules_and_real_reps(folder: Path) -> None:
    truth = expected(folder)
    numbers = {(rep["dog"], rep["number"]) for rep in truth["reps"]}
    for finding in truth["findings"]:
        assert finding["rule"] in truth["findings_judged"]
        assert {(finding["dog"], number) for number in finding["reps"]} <= numbers


def test_the_stories_hold_what_the_readme_promises() -> None:
    said = {folder.name: [line[2] for line in words(folder)] for folder in FOLDERS}
    spoken = [line for lines in said.values() for line in lines]
    assert "strike that" in spoken
    assert any(line.startswith("correction ") for line in spoken)
    assert any(line.startswith("next dog ") for line in said["day3-both"])
    found = {finding["rule"] for folder in FOLDERS for finding in expected(folder)["findings"]}
    assert found == {"fit-missing", "contact-poor", "step-big", "stress-strong", "skin"}
    free = expected(DEMO / "day2-bracken")["reps"][4:]
    assert {rep["mode"] for rep in free} == {"none"}


def test_the_readme_names_every_folder() -> None:
    readme = (DEMO / "README.md").read_text(encoding="utf-8")
    assert [folder.name for folder in FOLDERS if f"| {folder.name} |" not in readme] == []
    assert "invented" in readme
    assert "synthetic" in readme
