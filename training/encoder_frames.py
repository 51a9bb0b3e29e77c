"""What Whisper's encoder makes of the training speech, in noise and without; kept by voice."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.bench.voices import RATE
from training.encoded_speech import encoded_file
from training.speech import Room, Texts, speakers, spoken
from voicelog.audio.resampling import Samples
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.recognition.phone_posteriors import PHONE_INDEX
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

__all__ = ["encode"]

COPIES = 2
"""Of each utterance: one half of them without noise, the other always with some."""


def encode(shard: int = 0, shards: int = 1, share: float = 1.0) -> None:
    """Keep what the model makes of every utterance, and of noise alone, voice by voice.

    share: of the utterances, 0 to 1. What is there is passed over.
    """
    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    whisper = WhisperEncoder(model, shipped_artifact().layer())  # the layer is not asked
    say, texts = shipped_pronouncer(), Texts()
    for number, speaker in enumerate(speakers()):
        kept = encoded_file(speaker.voice.name)
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
            people="+".join(speaker.people),
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
