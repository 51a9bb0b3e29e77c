"""What a changed encoder learns from, packed into few files that can be carried elsewhere.

`pack` needs what speaks and hears; `packed_speech` needs NumPy and soundfile alone, so that the
training itself can run where nothing else is installed, beside a GPU. The folder `packed` of the
bench data holds `speech.ogg` (Opus, every utterance after the other) with `speech.json`, a bed of
each noise in `noise.ogg` with `noise.json`, and `model.npz`: the encoder, the filters of its
features, and a segment with what the program makes of it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.bench.voices import RATE, TUNE, data_dir

__all__ = ["KNOCKS", "PackedSpeech", "PackedUtterance", "pack", "packed_speech"]

Sound = NDArray[np.float32]
SHORTEST_S, LONGEST_S = 0.2, 9.3
"""What lies outside is left out: with the quiet around it, it fits into the encoder's window."""
KNOCKS = "knocks"
"""Dishes, buckets, gates: things that strike others."""
PEAK = 0.6
BED_S = 100
QUALITY = {"speech": 0.925, "noise": 0.9}
"""Opus at some 25 kbit/s: 8 hours of speech take 85 MB."""
BLOCK = 10 * RATE


@dataclass(frozen=True)
class PackedUtterance:
    """One utterance: its kind ("spoken" by a voice, "people" who say phrases or orders, or acted
    "lines"), whose voices it is (layer_files.SPEAKER_OF), the indices of its phones; where it
    begins and how long it is (samples)."""

    kind: str
    people: frozenset[str]
    phones: tuple[int, ...]
    start: int
    length: int


@dataclass(frozen=True)
class PackedSpeech:
    """Utterances in `sound`; beds of noise by kind, of mean square 1 where they are loud; the
    arrays of `model.npz`. Sound is int16 at RATE."""

    utterances: tuple[PackedUtterance, ...]
    sound: NDArray[np.int16]
    beds: dict[str, Sound]
    model: dict[str, NDArray[np.generic]]


def packed_folder() -> Path:
    """Where the files wait."""
    return data_dir() / "packed"


def packed_speech() -> PackedSpeech:
    """What was packed. FileNotFoundError where it was not."""
    folder = packed_folder()
    told = json.loads((folder / "speech.json").read_text())
    starts = np.cumsum([0, *(one["length"] for one in told)])
    utterances = tuple(
        PackedUtterance(
            one["kind"], frozenset(one["people"]), tuple(one["phones"]), int(start), one["length"]
        )
        for one, start in zip(told, starts[:-1], strict=True)
    )
    beds = np.split(_read("noise"), len(kinds := json.loads((folder / "noise.json").read_text())))
    with np.load(folder / "model.npz") as kept:
        model = {name: kept[name] for name in kept.files}
    return PackedSpeech(
        utterances,
        np.pad(_read("speech"), (0, BLOCK))[: starts[-1] + BLOCK],
        {kind: _levelled(bed) for kind, bed in zip(kinds, beds, strict=True)},
        model,
    )


def _read(name: str) -> NDArray[np.int16]:
    sound, _ = soundfile.read(packed_folder() / f"{name}.ogg", dtype="int16")
    return np.asarray(sound, np.int16)


def _levelled(bed: NDArray[np.int16]) -> Sound:
    whole = bed.astype(np.float32) / 32768
    tenths = np.square(whole).reshape(-1, RATE // 10).mean(axis=1)
    # Barks come one at a time; steady noise is loud throughout.
    loud = tenths[tenths > tenths.max() * 1e-3].mean()
    return np.asarray(whole / np.sqrt(loud), np.float32)


def pack(share: float = 1.0) -> None:
    """Pack all; of the speech a share (0 to 1). What is there is passed over."""
    folder = packed_folder()
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "model.npz").exists():
        _pack_model(folder / "model.npz")
    if not (folder / "noise.json").exists():
        from tests.bench import noise

        rng = np.random.default_rng(7)
        kinds = ("pink", "wind", "babble", "barks", *noise.REAL[TUNE])
        beds = [noise.make(kind, BED_S * RATE, rng, TUNE) for kind in kinds]
        _write("noise", [*beds, _knocks(BED_S * RATE, rng)])
        (folder / "noise.json").write_text(json.dumps([*kinds, KNOCKS]))
    if not (folder / "speech.json").exists():
        told: list[dict[str, Any]] = []

        def sounds() -> Iterator[Sound]:
            for one, sound in _utterances(share):
                told.append(one)
                yield sound

        _write("speech", sounds())
        (folder / "speech.json").write_text(json.dumps(told))
        print(len(told), "utterances", sum(one["length"] for one in told) / RATE / 3600, "h")


def _knocks(count: int, rng: np.random.Generator) -> Sound:
    """Blows at chance moments, four a second, each with a click and a few tones that die away."""
    heard = np.zeros(count + RATE)
    time_s = np.arange(RATE // 2) / RATE
    for start in rng.integers(count, size=4 * count // RATE):
        tones = int(rng.integers(3, 9))
        hertz = np.exp(rng.uniform(np.log(250), np.log(7000), tones))
        decay_s = np.exp(rng.uniform(np.log(0.004), np.log(0.12), tones))
        phase = rng.uniform(0, 2 * np.pi, tones)
        ringing = np.exp(-time_s[:, None] / decay_s) * np.sin(
            2 * np.pi * time_s[:, None] * hertz + phase
        )
        blow = ringing @ rng.lognormal(0, 0.7, tones)
        blow[: RATE // 500] += rng.normal(0, 2, RATE // 500)
        heard[start : start + len(blow)] += blow * rng.lognormal(0, 0.8)
    return np.asarray(heard[:count] + rng.normal(0, 0.01, count), np.float32)


def _write(name: str, sounds: Iterable[Sound]) -> None:
    with soundfile.SoundFile(
        packed_folder() / f"{name}.ogg",
        "w",
        RATE,
        1,
        format="OGG",
        subtype="OPUS",
        compression_level=QUALITY[name],
    ) as file:
        for sound in sounds:
            file.write(sound / np.abs(sound).max() * PEAK)


def _utterances(share: float) -> Iterator[tuple[dict[str, Any], Sound]]:
    """What is told of each utterance, and its sound."""
    from training.people_speech import people_speech
    from training.speech import Texts, speakers, spoken
    from voicelog.grammar.pronunciation import shipped_pronouncer
    from voicelog.recognition.phone_posteriors import PHONE_INDEX

    say, texts = shipped_pronouncer(), Texts()

    def every() -> Iterator[tuple[str, tuple[str, ...], str, Sound]]:
        for speaker in speakers():
            for text, sound in spoken(speaker, texts, share):
                yield "spoken", speaker.people, text, sound
        for one in people_speech():
            kind = "lines" if one.source == "game" else "people"
            yield kind, (one.speaker,) if one.speaker else (), one.text, one.sound

    for kind, people, text, sound in every():
        if not SHORTEST_S * RATE < len(sound) < LONGEST_S * RATE or np.abs(sound).max() < 1e-3:
            continue
        phones = [PHONE_INDEX[phone] for phone in say.phrase(text)[0]]
        told = {"kind": kind, "people": people, "phones": phones, "length": len(sound)}
        yield told, sound


def _pack_model(path: Path) -> None:
    """The encoder's arrays, the filters, and a segment of pink noise and a tone with what comes
    out of the program."""
    from faster_whisper.feature_extractor import FeatureExtractor

    from voicelog.recognition.encoder_file import encoder_arrays
    from voicelog.recognition.whisper import WhisperEncoder
    from voicelog.recognition.whisper_model import packaged_whisper_model

    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    sound = next(sound for one, sound in _utterances(0.01) if one["kind"] == "spoken")
    whisper = WhisperEncoder(model)
    whisper.load_segment(sound)
    extractor = FeatureExtractor()
    np.savez_compressed(
        path,
        allow_pickle=False,
        **encoder_arrays(model.folder),
        mel=extractor.mel_filters,
        segment=sound,
        segment_encoded=whisper.encoded()[0].astype(np.float16),
    )
