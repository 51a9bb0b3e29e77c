"""Hear one recording as a user's command would, in a process of its own, and keep what came.

The process tells the events (what was heard, by whom, what stands), CPU seconds and peak
memory. What it told is kept under heard/RUN/LISTENER, where RUN is the hash of the code and
grammar that heard, or a name given; so a benchmark can be stopped, run again, and judged anew
for nothing. A recording that has changed is heard again.

Listeners: those of the program (quick, careful, both); the baselines of baseline.py (plain,
dictation, whisper); and `truth`, which says what was said and so shows what a perfect listener
would reach.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import resource
import shutil
import subprocess
import sys
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, fields
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, cast

from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Reading, Roster, Transmitter, Utterance, Verdict

__all__ = ["BASELINES", "LISTENERS", "Heard", "grammar_of", "hear", "kept_at", "roster_of"]

ROOT = Path(__file__).parents[2]
BASELINES = ("plain", "dictation", "whisper")
LISTENERS = ("quick", "careful", "both", *BASELINES, "truth")
GRAMMARS = Path(__file__).parent / "grammars"
EVERY_LEVEL = "public <level> = <number>;"
LEVELS_TO_20 = "public <level> = zero {0} | <digit> | <teen> | twenty {20};"
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Heard:
    """What came of one recording, and what it cost.

    start_cpu_s: CPU until the listeners stood ready; cpu_s: from there to the end; both with
    helper processes. peak_mb: the largest of this process, and the helpers' added to it.
    """

    sha: str
    duration_s: float
    start_cpu_s: float
    cpu_s: float
    peak_mb: float
    who: tuple[str, ...]
    events: tuple[tuple[Utterance, tuple[Reading, ...], Verdict], ...]

    def dump(self) -> str:
        lines = [[one.model_dump(mode="json") for one in (u, *r, v)] for u, r, v in self.events]
        return json.dumps({**asdict(self), "events": lines}, indent=1)

    @classmethod
    def load(cls, text: str) -> Heard:
        told = json.loads(text)
        told["events"] = tuple(
            (
                Utterance.model_validate(line[0]),
                tuple(map(Reading.model_validate, line[1:-1])),
                Verdict.model_validate(line[-1]),
            )
            for line in told["events"]
        )
        told["who"] = tuple(told["who"])
        return cls(**told)


def roster_of(truth: dict[str, Any]) -> Roster:
    """The dogs of a recording, each with a transmitter of its range."""
    unit = Transmitter(top=truth["top"])
    names = truth["dogs"] or ["bracken"]
    return Roster(dogs=tuple(Dog(name=name, transmitter=unit) for name in names))


def grammar_of(truth: dict[str, Any], *, narrow: bool = False) -> Grammar:
    """What the words of a recording mean: the grammar that ships, unless it tells of another.

    narrow: with no level beyond the recording's range, so that none can be a rival of those within.
    """
    folder = GRAMMARS / truth["grammar"] if "grammar" in truth else None
    if not narrow:
        return Grammar.load(folder, roster_of(truth))
    assert truth["top"] == 20, "only the range to 20 is written out"
    with TemporaryDirectory() as place:
        copied = Path(shutil.copytree(ROOT / "grammars" / "en", Path(place) / "en"))
        numbers = copied / "numbers.jsgf"
        text = numbers.read_text("utf-8")
        assert EVERY_LEVEL in text
        numbers.write_text(text.replace(EVERY_LEVEL, LEVELS_TO_20), "utf-8")
        return Grammar.load(copied, roster_of(truth))


@cache
def code_hash() -> str:
    """What the code, the models that ship and the grammar that hear are, in ten letters."""
    code = hashlib.sha256()
    sources = [
        path
        for room in ("recognition", "grammar", "audio")
        for path in sorted((ROOT / "voicelog" / room).rglob("*.py"))
    ]
    for folder in ("artifact", "detector"):
        sources += sorted((ROOT / "voicelog" / "recognition" / folder).iterdir())
    grammars = [*(ROOT / "grammars").rglob("*.jsgf"), *GRAMMARS.rglob("*.jsgf")]
    for path in [*sources, *sorted(grammars)]:
        code.update(path.read_bytes())
    return code.hexdigest()[:10]


def kept_at(store: Path, run: str | None, listener: str, truth_path: Path) -> Path:
    """Where the outcome of a recording is kept."""
    name = run or (code_hash() if listener not in (*BASELINES, "truth") else "baselines")
    split, condition = truth_path.parts[-3:-1]
    return store / name / listener / f"{split}-{condition}-{truth_path.stem}.json"


def hear(
    truth_path: Path,
    listener: str,
    kept: Path,
    *,
    patience_s: float,
    only_kept: bool = False,
    narrow: bool = False,
) -> Heard | None:
    """The outcome of a recording, heard now unless kept; `narrow`: see grammar_of.

    None where it should be kept but is not, or the machine was too busy to hear it in `patience_s`.
    """
    sha = hashlib.sha256(truth_path.with_suffix(".flac").read_bytes()).hexdigest()[:16]
    if kept.exists():
        found = Heard.load(kept.read_text())
        if found.sha == sha:
            return found
    if only_kept:
        return None
    kept.parent.mkdir(parents=True, exist_ok=True)
    partial = kept.with_suffix(".part")
    command = [sys.executable, "-m", "tests.bench.heard", str(truth_path), listener, str(partial)]
    command += ["--narrow"] if narrow else []
    try:
        subprocess.run(command, check=True, timeout=patience_s, cwd=ROOT)
    except subprocess.TimeoutExpired:
        return None
    partial.replace(kept)
    return Heard.load(kept.read_text())


def main() -> None:
    """Hear one recording and write what came (called by `hear`)."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("truth", type=Path)
    parser.add_argument("listener", choices=LISTENERS)
    parser.add_argument("into", type=Path)
    parser.add_argument("--narrow", action="store_true")
    asked = parser.parse_args()
    truth = json.loads(asked.truth.read_text())
    sound = asked.truth.with_suffix(".flac")
    if asked.narrow or "grammar" in truth:
        grammar = grammar_of(truth, narrow=asked.narrow)
        events, who = heard_in(grammar, truth["top"], asked.listener, sound)
    else:
        events, who = heard_by(asked.listener, sound, truth)
    ready_s = cpu_s()
    found = tuple(events)
    outcome = Heard(
        sha=hashlib.sha256(sound.read_bytes()).hexdigest()[:16],
        duration_s=truth["duration_s"],
        start_cpu_s=round(ready_s, 3),
        cpu_s=round(cpu_s() - ready_s, 3),
        peak_mb=round(peak_mb(), 1),
        who=who,
        events=found,
    )
    asked.into.write_text(outcome.dump())


Events = Iterator[tuple[Utterance, tuple[Reading, ...], Verdict]]


def heard_by(listener: str, sound: Path, truth: dict[str, Any]) -> tuple[Events, tuple[str, ...]]:
    """What a listener hears, still to be heard, and who listens; all that loads is loaded."""
    roster = roster_of(truth)
    if listener in BASELINES:
        from tests.bench.baseline import baseline

        return baseline(listener, sound, roster), (listener,)
    if listener == "truth":
        return said(truth), (listener,)
    from voicelog.app.open_file import IntakeOptions, open_file
    from voicelog.safety.settings import Settings

    known: dict[str, Any] = {"roster": roster, "settings": Settings(), "dog": None}
    if "listener" in {field.name for field in fields(IntakeOptions)}:
        known["listener"] = listener
    elif listener != "quick":
        raise SystemExit(f"this program has no {listener} listener yet")
    intake = open_file(sound, IntakeOptions(**known))

    def events() -> Events:
        for batch in intake:
            utterance = next(one for one in batch if isinstance(one, Utterance))
            verdict = next(one for one in batch if isinstance(one, Verdict))
            yield utterance, tuple(one for one in batch if isinstance(one, Reading)), verdict

    return events(), tuple(intake.recording.listeners)


def heard_in(
    grammar: Grammar, top: int, listener: str, sound: Path
) -> tuple[Events, tuple[str, ...]]:
    """The same for a recording in words of another grammar, which no log takes."""
    import soundfile

    from voicelog.recognition.recognize import recognize
    from voicelog.recognition.recognizers import make_recognizers

    context = RecognitionContext(top)
    samples, _ = soundfile.read(sound, dtype="float32")
    recognizers = make_recognizers(grammar, context, cast(Any, listener))
    return recognize([samples], recognizers, grammar, context, "bench"), recognizers.names


def said(truth: dict[str, Any]) -> Events:
    """Every command as one who hears all would hear it."""
    for place, one in enumerate(truth["utterances"]):
        if one["kind"] == "command":
            name = f"said-{place:04d}"
            where = Utterance(
                id=name, recording="bench", start_s=one["start_s"], end_s=one["end_s"]
            )
            words = one["words"]
            yield where, (), taken(name, words, "accepted", "truth")


def taken(name: str, words: str, status: Any, judge: str) -> Verdict:
    """A verdict on the utterance of that name."""
    return Verdict(
        id=f"{name}.v", utterance=name, status=status, words=words, confidence=1.0, judge=judge
    )


def cpu_s(*, own: bool = True) -> float:
    """CPU seconds of this process and of those it started, ended or not; without `own`, of
    those it started that live."""
    total = sum(int(stat[11]) + int(stat[12]) for stat in descendants()) / TICKS
    if own:
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN):
            used = resource.getrusage(who)
            total += used.ru_utime + used.ru_stime
    return total


def peak_mb() -> float:
    """The largest memory of this process, and of each it started, added up."""
    total = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    living = [high_water_mb(stat[-1]) for stat in descendants()]
    ended = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return total + (sum(living) or ended)


def high_water_mb(process: str) -> float:
    lines = Path(f"/proc/{process}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024


def descendants() -> Iterable[list[str]]:
    """/proc/ID/stat after the name, with the id at the end, of the children that live."""
    found: list[list[str]] = []
    parents = {str(Path("/proc/self").resolve().name)}
    stats = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            stats[path.parts[2]] = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
    while parents:
        children = {name for name, stat in stats.items() if stat[1] in parents}
        found += [[*stats[name], name] for name in children]
        parents = children
    return found


if __name__ == "__main__":
    main()
