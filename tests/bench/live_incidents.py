"""Is every dangerous thing warned of, how soon, and nothing else? For `field_live`.

`incidents` plays the thirty of tests/live/incidents_script.py, spoken by a synthetic voice, into
`voicelog listen` through a PulseAudio server, records her ear, and finds the warnings in that
recording by their sound (spectra correlated with what the voice makes of each text). `calm`
plays ten calm sessions of ten minutes to the dialogue without sound, and as many as asked for
through recognition, as fast as it goes. `scripted` counts what is said in three sessions.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numpy as np
import numpy.typing as npt
import soundfile as sf

from tests.live.fields import BRACKEN, HEARD_S, ROSTER, SPOKEN_S, Field
from tests.live.incidents_script import SESSIONS, ScriptedIncident
from tests.live.pulse import Pulse, heard_in, pulse
from tests.live.scripted import Line, Told, busy, calm, dreadful, play
from tests.recognition.speaking import hiss, say
from voicelog.app.recognizers import load_recognizers
from voicelog.audio.resampling import RATE, Samples
from voicelog.live.speech_synthesis import SpeechSynthesizer, find_voice
from voicelog.live.tones import tone_s
from voicelog.report.spoken_wording import (
    MAX_SPOKEN_WORDS,
    SPOKEN_WARNINGS,
    THUMB_OFF,
    without_advice,
)
from voicelog.safety.settings import Settings
from voicelog.store import Log

PROGRAM = (sys.executable, "-c", "from voicelog.cli import main; main()")
VOICE = "flite:rms"
ALIKE = 0.75
"""Correlation of bands from which a sound is one of ours: what was said has 0.97 and more, or 0.8
where the machine dropped sound, other words 0.7 and less, the same after "perhaps" 0.8."""
HOP, WINDOW = RATE // 100, 512
EDGES = np.unique(np.round(np.geomspace(4, 200, 25)).astype(int))
"""Edges of the bands, in bins of 31 Hz."""

Placed = tuple[float, float, ScriptedIncident]
"""When the proof of an incident ends (s), until when it has to be warned of (s), the incident."""


def incidents(listener: str = "both") -> None:
    """Thirty incidents through a sound server, a recording for each session, scored by the ear."""
    voice = find_voice()
    assert voice is not None, "no voice to find in the ear; install voicelog[voice]"
    took: list[float] = []
    count = spoken = 0
    for number, (ready, ten) in enumerate(SESSIONS, 1):
        sound, placed = narration(ready, ten)
        count += len(placed)
        print(f"session {number}: {len(sound) / RATE:.0f} s, real time, listener {listener}")
        with tempfile.TemporaryDirectory() as name, pulse(Path(name)) as server:
            said, ear = listened(server, Path(name), sound, listener)
        spoken += said
        for end_s, until_s, one in placed:
            left = ear[round(end_s * RATE) : round(until_s * RATE)]
            found = first_warning(left, texts(one), voice)
            if found is None:
                print(f"  {clock(end_s)} {one.name}: NOT WARNED")
                continue
            after_s, words, alike = found
            took.append(after_s)
            print(f"  {clock(end_s)} {one.name}: {after_s:.2f} s, '{words}' ({alike:.2f})")
    print(f"warned of {len(took)} of {count}; {spoken} utterances in all")
    if took:
        p95 = float(np.percentile(took, 95))
        print(f"end of word to its sound in the ear: median {median(took):.2f} s, p95 {p95:.2f} s")


def narration(
    ready: Sequence[tuple[float, str]], ten: Sequence[ScriptedIncident]
) -> tuple[Samples, list[Placed]]:
    """A session as sound, and where each incident lies in it."""
    parts: list[Samples] = []
    ends: list[tuple[float, ScriptedIncident]] = []
    length = 0

    def add(part: Samples) -> None:
        nonlocal length
        parts.append(part)
        length += len(part)

    def speak(pause_s: float, words: str) -> None:
        add(np.zeros(round(pause_s * RATE), np.float32))
        add(say(words, VOICE, edge_s=0.0))

    for line in ready:
        speak(*line)
    for one in ten:
        for line in (*one.before, one.proof):
            speak(*line)
        ends.append((length / RATE + one.by_time_s, one))
        add(np.zeros(4 * RATE, np.float32))
    speak(3.0, "came")
    speak(4.0, "end session")
    add(np.zeros(6 * RATE, np.float32))
    sound = np.concatenate(parts)
    nexts = [end_s for end_s, _ in ends[1:]] + [length / RATE]
    placed = [
        (end_s, min(end_s + 12.0, next_s), one)
        for (end_s, one), next_s in zip(ends, nexts, strict=True)
    ]
    return sound + hiss(len(sound) / RATE)[: len(sound)], placed


def listened(
    server: Pulse, folder: Path, sound: Samples, listener: str
) -> tuple[int, npt.NDArray[np.float32]]:
    """How much `listen` said while the sound was played, and her ear from its first sample on."""
    with Log.open(folder / "log", now=lambda: datetime.now(UTC)) as log:
        log.put_dog(BRACKEN)
    command = [*PROGRAM, "listen", "--plain", "--earpiece", "--data-dir", str(folder / "log")]
    if listener != "both":
        command += ["--listener", listener]
    both = np.stack([np.zeros_like(sound), 0.5 * sound], axis=1)
    with subprocess.Popen(
        command, env=server.environment, stdout=subprocess.PIPE, text=True
    ) as listen:
        assert listen.stdout is not None
        for line in listen.stdout:
            if line.startswith("Listening with"):
                break
        with server.ear(folder / "ear.raw") as recording:
            time.sleep(1.0)
            mark = folder / "mark.wav"
            sf.write(mark, both, RATE)
            command = ["paplay", "--device=ear", str(mark)]  # the other channel tells when
            with subprocess.Popen(command, env=server.environment):
                server.play(sound).wait()
            time.sleep(3.0)
            listen.send_signal(signal.SIGINT)
            lines = listen.stdout.readlines()
            recording.terminate()
    ear = heard_in((folder / "ear.raw").read_bytes())
    head = sound[: 20 * RATE]
    near = ear[: 40 * RATE, 1]
    size = 1 << (len(near) + len(head)).bit_length()
    lag = np.fft.irfft(np.fft.rfft(near, size) * np.conj(np.fft.rfft(head, size)), size)
    began = int(np.argmax(lag[: len(near)]))
    return sum(line.startswith("says:") for line in lines), ear[began:, 0]


def first_warning(
    ear: npt.NDArray[np.float32], wanted: Iterable[tuple[str, bool]], voice: SpeechSynthesizer
) -> tuple[float, str, float] | None:
    """When (s) the first of these (words, whether they are a stop's) begins in the ear, which, and
    how alike."""
    found = []
    heard = bands(ear)
    for words, is_stop in wanted:
        alike = correlation(heard, bands(voice.sound(words)))
        places = np.flatnonzero(alike >= ALIKE)
        if len(places):
            best = int(places[0] + np.argmax(alike[places[0] : places[0] + 10]))
            before_s = tone_s("stop") if is_stop else 0.0
            found.append((max(0.0, best * HOP / RATE - before_s), words, float(alike[best])))
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


def calm_sessions(with_sound: int = 0) -> None:
    """Ten calm sessions of ten minutes; the first `with_sound` are spoken and recognized."""
    false = 0
    for seed in range(10):
        lines: Sequence[Line] = calm(seed)
        way = "words"
        if seed < with_sound:
            lines, way = recognized(lines), "sound"
        told = play(lines, Field(settings=LONGER))
        false += sum(told.warned.values())
        print(
            f"  session {seed + 1} ({way}): {len(lines)} lines, "
            f"{len(told.words())} utterances, warned {dict(told.warned) or 'of nothing'}"
        )
    print(f"false warnings in ten calm sessions of ten minutes: {false}")


def recognized(lines: Sequence[Line]) -> list[Line]:
    """The lines as recognition hears them when a synthetic voice speaks them, with how sure."""
    parts: list[Samples] = []
    for line in lines:
        parts += [np.zeros(round(line[0] * RATE), np.float32), say(line[1], VOICE, edge_s=0.0)]
    sound = np.concatenate([*parts, np.zeros(2 * RATE, np.float32)])
    sound = sound + hiss(len(sound) / RATE)[: len(sound)]
    loaded = load_recognizers(ROSTER, ())
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
