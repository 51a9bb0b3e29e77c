"""Is every dangerous thing warned of, how soon, and nothing else? For `field_live`.

`incidents` plays the thirty of tests/live/incidents_script.py, spoken by a synthetic voice, into
`voicelog listen` through a PulseAudio server, records her ear, and finds the warnings in that
recording by their sound (spectra correlated with what the voice makes of each text; the beginning
of a stop is enough). Beside each it prints where the time went, as tests/bench/staged_listen.py
wrote it down. The three sessions take twelve minutes. One that fails is told, and its incidents
count as not warned of. `calm` plays ten calm sessions of ten minutes to the dialogue without sound,
and as many as asked for through recognition, as fast as it goes: what it counts is the false
warnings. Both can be played in parts. `scripted` counts what is said in three sessions.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numpy as np
import numpy.typing as npt
import soundfile as sf

from tests.bench.parts import Parts, Result
from tests.live.fields import BRACKEN, HEARD_S, ROSTER, SPOKEN_S, Field
from tests.live.incidents_script import SESSIONS, ScriptedIncident
from tests.live.pulse import Pulse, heard_in, pulse
from tests.live.scripted import Line, Told, busy, calm, dreadful, play
from tests.recognition.speaking import hiss, say
from voicelog.app.recognizers import load_recognizers
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.speech_synthesis import SpeechSynthesizer, find_voice
from voicelog.live.tones import tone
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.report.spoken_wording import (
    MAX_SPOKEN_WORDS,
    SPOKEN_WARNINGS,
    THUMB_OFF,
    without_advice,
)
from voicelog.safety.settings import Settings
from voicelog.store import Log

PROGRAM = (sys.executable, "-m", "tests.bench.staged_listen")
VOICE = "flite:rms"
ALIKE = 0.75
"""Correlation of bands from which a sound is one of ours: what was said has 0.97 and more, or 0.8
where the machine dropped sound, other words 0.7 and less, the same after "perhaps" 0.8."""
HOP, WINDOW = RATE // 100, 512
EDGES = np.unique(np.round(np.geomspace(4, 200, 25)).astype(int))
"""Edges of the bands, in bins of 31 Hz."""

BEGINNING_S = 1.0
"""So much (s) of a stop, its own sound before it included, is looked for in the ear: "thumb off"
breaks it off."""
READY_S, LEAVE_S = 600.0, 300.0
"""Within so long (s) a session has to listen, and to end once it was told to."""

Placed = tuple[float, float, float, ScriptedIncident]
"""From when on the warning of an incident is looked for (s): the end of the words before its proof
where the proof is an answer, else that of the proof; when the proof ends (s), until when it has to
be warned of (s), the incident."""
Stages = list[list[str]]
"""The lines of staged_listen.py, each in its parts."""


@dataclass(frozen=True, slots=True)
class Narrated:
    """A session as sound, and where each incident lies in it; `starts_s` is where its first words
    end."""

    sound: Samples
    starts_s: float
    placed: list[Placed]


@dataclass(frozen=True, slots=True)
class Heard:
    """What came of a session: how much was said, her ear from the first sample of the sound on, the
    stages, and the CPU (s) of all its processes."""

    said: int
    ear: npt.NDArray[np.float32]
    stages: Stages
    cpu_s: float


EARLY_S = 0.5
"""How long before its time a warning by time may begin (s): the press began with the word, and the
time is counted from the word's end."""


def incidents(parts: Parts, only: Sequence[int], listener: str = "both") -> None:
    """Thirty incidents through a sound server, in three sessions (`only` some of them), a recording
    for each, scored by the ear; then the sum of all `parts`."""
    for number in only:
        told = narration(*SESSIONS[number - 1])
        seconds = len(told.sound) / RATE
        print(f"session {number}: {seconds:.0f} s, real time, listener {listener}", flush=True)
        try:
            with tempfile.TemporaryDirectory() as name, pulse(Path(name)) as server:
                heard = listened(server, Path(name), told.sound, listener)
        except (AssertionError, OSError, subprocess.SubprocessError) as problem:
            print(f"  FAILED: {problem!r}", flush=True)
            missed = [one.name for *_, one in told.placed]
            parts.keep(number, {"said": 0, "took": [], "missed": missed, "failed": repr(problem)})
            continue
        load = os.getloadavg()[0]
        print(f"  CPU {heard.cpu_s:.0f} s of its processes; load {load:.1f} at its end")
        parts.keep(number, scored(told, heard))
    sum_of_incidents(parts)


def scored(told: Narrated, heard: Heard) -> Result:
    """What came of a session: how much was said, how long (s) each warning took, what was missed;
    printed as it is found."""
    voice = find_voice()
    assert voice is not None, "no voice to find in the ear; install voicelog[voice]"
    took: list[float] = []
    missed: list[str] = []
    for from_s, end_s, until_s, one in told.placed:
        early_s = EARLY_S if one.by_time_s else 0.0
        unasked = heard.ear[round(from_s * RATE) : round(end_s * RATE)]
        left = heard.ear[round((end_s - early_s) * RATE) : round(until_s * RATE)]
        found = first_warning(unasked, texts(one), voice) if from_s < end_s else None
        found = found or first_warning(left, texts(one), voice)
        where = stages_of(one, end_s, told, heard)
        if found is None:
            missed.append(one.name)
            print(f"  {clock(end_s)} {one.name}: NOT WARNED; {where}")
            continue
        after_s, words, alike = found[0] - early_s, *found[1:]
        took.append(round(after_s, 3))
        print(f"  {clock(end_s)} {one.name}: {after_s:.2f} s, '{words}' ({alike:.2f}); {where}")
    return {"said": heard.said, "took": took, "missed": missed}


def sum_of_incidents(parts: Parts) -> None:
    """Print what all the sessions that were played come to, in one run or in several."""
    results = parts.results.values()
    took = [one for result in results for one in result["took"]]
    missed = [one for result in results for one in result["missed"]]
    said = sum(result["said"] for result in results)
    print(f"warned of {len(took)} of {len(took) + len(missed)}; {said} utterances in all")
    print(f"missed: {', '.join(missed) or 'none'}")
    if took:
        p95 = float(np.percentile(took, 95))
        print(f"end of word to its sound in the ear: median {median(took):.2f} s, p95 {p95:.2f} s")
    tell_parts(parts, range(1, len(SESSIONS) + 1))


def tell_parts(parts: Parts, wanted: Sequence[int]) -> None:
    """Print when each session was played, and which were not."""
    for number, result in parts.results.items():
        failed = f", FAILED: {result['failed']}" if "failed" in result else ""
        print(f"  session {number}: {result['at']} UTC, load {result['load']}{failed}")
    if absent := parts.missing(wanted):
        print(f"  NOT PLAYED YET: sessions {', '.join(map(str, absent))}")


def narration(ready: Sequence[tuple[float, str]], ten: Sequence[ScriptedIncident]) -> Narrated:
    """A session as sound."""
    parts: list[Samples] = []
    ends: list[tuple[float, float, ScriptedIncident]] = []
    said: list[float] = []
    length = 0

    def add(part: Samples) -> None:
        nonlocal length
        parts.append(part)
        length += len(part)

    def speak(pause_s: float, words: str) -> None:
        add(np.zeros(round(pause_s * RATE), np.float32))
        add(say(words, VOICE, edge_s=0.0))
        said.append(length / RATE)

    for line in ready:
        speak(*line)
    for one in ten:
        for line in (*one.before, one.proof):
            speak(*line)
        end_s = length / RATE + one.by_time_s
        ends.append((said[-2] if one.answers else end_s, end_s, one))
        add(np.zeros(4 * RATE, np.float32))
    speak(3.0, "came")
    speak(4.0, "end session")
    add(np.zeros(6 * RATE, np.float32))
    sound = np.concatenate(parts)
    nexts = [end_s for _, end_s, _ in ends[1:]] + [length / RATE]
    placed = [
        (from_s, end_s, min(end_s + 12.0, next_s), one)
        for (from_s, end_s, one), next_s in zip(ends, nexts, strict=True)
    ]
    return Narrated(sound + hiss(len(sound) / RATE)[: len(sound)], said[0], placed)


def listened(server: Pulse, folder: Path, sound: Samples, listener: str) -> Heard:
    """What `listen` made of the sound while it was played."""
    with Log.open(folder / "log", now=lambda: datetime.now(UTC)) as log:
        log.put_dog(BRACKEN)
    printed, stages = folder / "printed.txt", folder / "stages.txt"
    command = [*PROGRAM, str(stages), "listen", "--plain", "--earpiece"]
    command += ["--data-dir", str(folder / "log")]
    if listener != "both":
        command += ["--listener", listener]
    both = np.stack([np.zeros_like(sound), 0.5 * sound], axis=1)
    with (
        printed.open("w") as lines,
        subprocess.Popen(command, env=server.environment, stdout=lines) as listen,
    ):
        try:
            until_s = time.monotonic() + READY_S
            while "Listening with" not in printed.read_text():
                assert listen.poll() is None, f"it ended: {printed.read_text()[-400:]}"
                assert time.monotonic() < until_s, f"not ready: {printed.read_text()[-400:]}"
                time.sleep(0.1)
            with server.ear(folder / "ear.raw") as recording:
                time.sleep(1.0)
                mark = folder / "mark.wav"
                sf.write(mark, both, RATE)
                command = ["paplay", "--device=ear", str(mark)]  # the other channel tells when
                with subprocess.Popen(command, env=server.environment) as marking:
                    server.play(sound).wait(len(sound) / RATE + 60.0)
                    marking.wait(60.0)
                time.sleep(3.0)
                recording.terminate()
            assert listen.poll() is None, f"it ended: {printed.read_text()[-400:]}"
            used_s = cpu_s(listen.pid)
            listen.send_signal(signal.SIGINT)
            listen.wait(LEAVE_S)
        finally:
            listen.kill()
    ear = heard_in((folder / "ear.raw").read_bytes())
    head = sound[: 20 * RATE]
    near = ear[: 40 * RATE, 1]
    size = 1 << (len(near) + len(head)).bit_length()
    lag = np.fft.irfft(np.fft.rfft(near, size) * np.conj(np.fft.rfft(head, size)), size)
    began = int(np.argmax(lag[: len(near)]))
    said = sum(line.startswith("says:") for line in printed.read_text().splitlines())
    told = [line.split("\t") for line in stages.read_text().splitlines()]
    return Heard(said, ear[began:, 0], told, used_s)


def cpu_s(pid: int) -> float:
    """CPU (s) of a process and of all that it started, ended ones that it waited for included."""
    parents: dict[int, list[int]] = {}
    used: dict[int, float] = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            parts = path.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue  # it ended just now
        number = int(path.parent.name)
        parents.setdefault(int(parts[1]), []).append(number)
        used[number] = sum(map(int, parts[11:15])) / os.sysconf("SC_CLK_TCK")
    family = [pid]
    for one in family:
        family += parents.get(one, [])
    return sum(used.get(one, 0.0) for one in family)


def stages_of(one: ScriptedIncident, end_s: float, told: Narrated, heard: Heard) -> str:
    """Where the time went: when (s after the proof) its pause was noticed, its words came from
    recognition and how surely, they were kept, and a warning was handed to the earphone."""
    notes = [(float(at), rest) for at, kind, *rest in heard.stages if kind == "noted"]
    starts = (float(rest[1]) for _, rest in notes if "start session" in rest[3])
    first_s = next(starts, None)
    if first_s is None:
        return "its beginning was not heard"
    zero_s = first_s - told.starts_s + end_s  # the proof's end on the clock of the recording
    proof = next((at for at, rest in notes if float(rest[1]) > zero_s - one.by_time_s - 0.8), None)
    if proof is None:
        return "its proof was not noted"
    parts = []
    pauses = [float(at) for at, kind, *_ in heard.stages if kind == "pause" and float(at) <= proof]
    if pauses:
        parts.append(f"pause {pauses[-1] - zero_s:.2f}")
    for at, kind, *rest in heard.stages:
        if float(at) < zero_s - one.by_time_s:
            continue
        if kind == "noted" and float(at) >= proof:
            parts.append(f"noted {float(at) - zero_s:.2f} ({rest[2]} '{rest[3]}')")
        elif kind == "kept" and float(at) >= proof:
            parts.append(f"kept {float(at) - zero_s:.2f}")
        elif kind == "says" and rest[0] in one.rules:
            return ", ".join([*parts[:3], f"said {float(at) - zero_s:.2f}"])
    return ", ".join([*parts[:3], "not said"])


def first_warning(
    ear: npt.NDArray[np.float32], wanted: Iterable[tuple[str, bool]], voice: SpeechSynthesizer
) -> tuple[float, str, float] | None:
    """When (s) the first of these (words, whether they are a stop's) begins in the ear, which, and
    how alike it is."""
    found = []
    heard = bands(ear)
    for words, is_stop in wanted:
        sound = voice.sound(words)
        if is_stop:
            sound = np.concatenate([tone("stop"), sound])[: round(BEGINNING_S * RATE)]
        alike = correlation(heard, bands(sound))
        places = np.flatnonzero(alike >= ALIKE)
        if len(places):
            best = int(places[0] + np.argmax(alike[places[0] : places[0] + 10]))
            found.append((best * HOP / RATE, words, float(alike[best])))
    return min(found, default=None)


def bands(sound: npt.NDArray[np.float32]) -> npt.NDArray[np.float64]:
    """Log energies of 32 ms of sound every 10 ms, shape (times, bands)."""
    count = max(0, (len(sound) - WINDOW) // HOP + 1)
    places = np.arange(WINDOW)[None, :] + HOP * np.arange(count)[:, None]
    power = np.abs(np.fft.rfft(sound[places] * np.hanning(WINDOW), axis=1)) ** 2
    return np.asarray(np.log(np.add.reduceat(power, EDGES[:-1], axis=1) + 1e-3))


def correlation(
    heard: npt.NDArray[np.float64], wanted: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Normalized correlation of bands at each place at which all of the wanted ones fit."""
    places = len(heard) - len(wanted) + 1
    if places < 1:
        return np.zeros(0)
    centred = wanted - wanted.mean()
    found = np.empty(places)
    for at in range(places):
        part = heard[at : at + len(wanted)]
        part = part - part.mean()
        found[at] = (part * centred).sum() / np.sqrt((part**2).sum() * (centred**2).sum() + 1e-9)
    return found


def texts(one: ScriptedIncident) -> list[tuple[str, bool]]:
    """What may be said of an incident, and whether it is a stop's words."""
    found: list[str] = []
    for rule in sorted(one.rules):
        plain = [SPOKEN_WARNINGS[rule]] if rule in SPOKEN_WARNINGS else []
        if rule == "skin":
            plain = ["Stop. Skin sore, see vet", "Stop. Collar off, skin red"]
        if rule == "stress-twice":
            plain.append("Stop. Session over, see vet")
        if rule == "stress-strong":
            found.append(f"Thumb off, perhaps {one.name}")
        if rule in ("stress-strong", "held-long"):
            found.append(THUMB_OFF)
        for words in plain:
            found += [words, without_advice(words), f"Perhaps {words[0].lower()}{words[1:]}"]
    unique = dict.fromkeys(" ".join(words.split()[:MAX_SPOKEN_WORDS]) for words in found)
    return [(words, "stop." in words.casefold()) for words in unique]


def clock(at_s: float) -> str:
    return f"{int(at_s // 60)}:{at_s % 60:04.1f}"


LONGER = Settings(minutes_pup=15.0)
"""Ten minutes are within the limit of a dog whose age is not known."""


CALM_SESSIONS = range(1, 11)


def calm_sessions(
    parts: Parts, only: Sequence[int], with_sound: int, listener: str = "both"
) -> None:
    """Ten calm sessions of ten minutes (`only` some of them); the first `with_sound` are spoken and
    recognized. Then the sum of all `parts`."""
    for number in only:
        lines: Sequence[Line] = calm(number - 1)
        way = "words"
        if number <= with_sound:
            lines, way = recognized(lines, listener), "sound"
        told = play(lines, Field(settings=LONGER))
        print(
            f"  session {number} ({way}): {len(lines)} lines, "
            f"{len(told.words())} utterances, warned {dict(told.warned) or 'of nothing'}",
            flush=True,
        )
        parts.keep(number, {"way": way, "lines": len(lines), "warned": dict(told.warned)})
    sum_of_calm(parts)


def sum_of_calm(parts: Parts) -> None:
    """Print the false warnings of all the sessions that were played, in one run or in several."""
    results = parts.results.values()
    false = sum(sum(result["warned"].values()) for result in results)
    spoken = sum(result["way"] == "sound" for result in results)
    of = f"{len(results)} calm sessions of ten minutes, {spoken} of them of sound"
    print(f"false warnings in {of}: {false}")
    tell_parts(parts, CALM_SESSIONS)


def recognized(lines: Sequence[Line], listener: str) -> list[Line]:
    """The lines as recognition hears them when a synthetic voice speaks them, with how sure."""
    parts: list[Samples] = []
    for line in lines:
        parts += [np.zeros(round(line[0] * RATE), np.float32), say(line[1], VOICE, edge_s=0.0)]
    sound = np.concatenate([*parts, np.zeros(2 * RATE, np.float32)])
    sound = sound + hiss(len(sound) / RATE)[: len(sound)]
    chosen: RecognizerChoice = "both" if listener == "both" else "quick"
    loaded = load_recognizers(ROSTER, (), chosen)
    blocks = (sound[at : at + RATE] for at in range(0, len(sound), RATE))
    found: list[Line] = []
    end_s = 0.0
    for utterance, _readings, verdict in loaded.recognize(blocks, "r"):
        # `Field.says` takes SPOKEN_S, and HEARD_S more until it is committed
        pause_s = max(0.1, utterance.end_s - SPOKEN_S - end_s)
        found.append((pause_s, verdict.words, verdict.status))
        end_s = max(utterance.end_s, end_s + pause_s + SPOKEN_S) + HEARD_S
    return found


def scripted() -> None:
    """What is said in a calm, a busy and a dreadful session."""
    for name, lines in (("calm", calm(1)), ("busy", busy()), ("dreadful", dreadful())):
        told = play(lines, Field(settings=LONGER) if name == "calm" else Field())
        print(f"{name}: {counts(told)}")


def counts(told: Told) -> str:
    """The counts of a session, in words."""
    assert told.ended_s is not None
    said, budgeted = told.words(), told.words(budgeted=True)
    minutes = told.ended_s / 60.0
    most = max(
        (sum(at_s <= other < at_s + 60.0 for other, _ in budgeted) for at_s, _ in budgeted),
        default=0,
    )
    in_rep = sum(at_s in told.in_rep for at_s, _ in budgeted)
    after = told.words(after_s=told.ended_s)
    return (
        f"{minutes:.1f} minutes, {len(said)} utterances, {len(budgeted)} with a budget, at most "
        f"{most} of these in a minute, {in_rep} begun in an open rep, {len(after)} after the end"
    )
