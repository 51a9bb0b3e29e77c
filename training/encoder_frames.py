"""What Whisper's encoder makes of the training speech, in noise and without; kept by voice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.voices import RATE, data_dir
from training.speech import Room, Texts, speakers, spoken
from voicelog.audio.resampling import Samples
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.recognition.phone_posteriors import PHONE_INDEX
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

__all__ = ["EncodedUtterance", "encode", "encoded_utterances"]

COPIES = 2
"""Of each utterance: one half of them without noise, the other always with some."""


@dataclass(frozen=True)
class EncodedUtterance:
    """What the model makes of one utterance, shape (frames, width), and its phones' indices."""

    group: str
    frames: NDArray[np.float16]
    phones: NDArray[np.uint8]


def encode(shard: int = 0, shards: int = 1, share: float = 1.0) -> None:
    """Keep what the model makes of every utterance, and of noise alone, voice by voice.

    share: of the utterances, 0 to 1. What is there is passed over.
    """
    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    whisper = WhisperEncoder(model, shipped_artifact().layer())  # the layer is not asked
    say, texts = shipped_pronouncer(), Texts()
    for number, speaker in enumerate(speakers()):
        kept = data_dir() / "phones" / f"{speaker.voice.name}.npz"
        if number % shards != shard or kept.exists():
            continue
        room = Room(np.random.default_rng(list(map(ord, speaker.voice.name))))
        frames, phones = [], []
        for text, sound in spoken(speaker, texts, share):
            for copy in range(COPIES):
                noisy = copy > 0 or room.rng.random() < 0.5
                frames.append(_frames(whisper, room.place(sound, noisy=noisy)))
                phones.append([PHONE_INDEX[phone] for phone in say.phrase(text)[0]])
        for kind in ("pink", "wind", room.recorded(), room.recorded()):
            alone = room.bed(kind, int(room.rng.uniform(0.8, 4) * RATE))
            gain = 10 ** (room.rng.uniform(-60, -20) / 20)
            frames.append(_frames(whisper, (alone * gain).astype(np.float32)))
            phones.append([])
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(".part.npz")
        np.savez(
            part,
            group=speaker.group,
            frames=np.concatenate(frames),
            frame_counts=[len(one) for one in frames],
            phones=np.array([phone for one in phones for phone in one], np.uint8),
            phone_counts=[len(one) for one in phones],
        )
        part.replace(kept)
        print(kept.stem, len(frames), flush=True)


def _frames(whisper: WhisperEncoder, sound: Samples) -> NDArray[np.float16]:
    whisper.load_segment(sound)
    return whisper.encoded()[0].astype(np.float16)


def encoded_utterances() -> Iterator[EncodedUtterance]:
    """All that was kept and that CTC can learn from."""
    for path in sorted((data_dir() / "phones").glob("x-*.npz")):
        with np.load(path) as kept:
            group = str(kept["group"])
            frames = np.split(kept["frames"], np.cumsum(kept["frame_counts"])[:-1])
            phones = np.split(kept["phones"], np.cumsum(kept["phone_counts"])[:-1])
        for some, said in zip(frames, phones, strict=True):
            if len(some) > len(said) + int(np.sum(said[1:] == said[:-1])):
                yield EncodedUtterance(group, some, said)
