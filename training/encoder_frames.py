"""What Whisper's encoder makes of the training speech, in noise and without; kept by voice."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from tests.bench.voices import RATE
from training.encoded_speech import encoded_file
from training.people_speech import people_speech
from training.speech import COPIES, Room, Texts, speakers, spoken
from voicelog.audio.resampling import Samples
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.recognition.phone_posteriors import PHONE_INDEX
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import WhisperModel

__all__ = ["encode"]

PEOPLE_TO_A_FILE = 250
"""Utterances of people that are kept together."""


def encode(model: WhisperModel, folder: str, share: float = 1.0) -> None:
    """Keep what a model makes of every utterance, and of noise alone, voice by voice.

    folder: of the bench data. share: of the utterances, 0 to 1. What is there is passed over.
    """
    encoder = _Encoder(model, folder)
    for part in _parts(share):
        if not encoded_file(part.name, folder).exists():
            encoder.keep(part.name, part.people, part.utterances())


@dataclass(frozen=True)
class _Part:
    """What is kept together: a voice's utterances, or some of people's; and whose they are."""

    name: str
    people: tuple[str, ...]
    utterances: Callable[[], Iterable[tuple[str, Samples]]]


def _parts(share: float) -> Iterator[_Part]:
    texts = Texts()
    for speaker in speakers():
        yield _Part(speaker.voice.name, speaker.people, partial(spoken, speaker, texts, share))
    said: dict[tuple[str, str], list[tuple[str, Samples]]] = {}
    for one in people_speech():
        said.setdefault((one.source, one.speaker), []).append((one.text, one.sound))
    for (source, person), every in said.items():
        kept = every[: max(1, round(len(every) * share))]
        for at in range(0, len(kept), PEOPLE_TO_A_FILE):
            some = partial(iter, kept[at : at + PEOPLE_TO_A_FILE])
            yield _Part(f"x-people-{source}-{at}", (person,) if person else (), some)


class _Encoder:
    """Whisper's encoder, asked about utterances put into rooms."""

    def __init__(self, model: WhisperModel, folder: str) -> None:
        self._folder = folder
        self._whisper = WhisperEncoder(model)
        self._say = shipped_pronouncer()

    def keep(
        self, name: str, people: Sequence[str], utterances: Iterable[tuple[str, Samples]]
    ) -> None:
        """Encode what one voice says, or some people say, and noise alone; keep it."""
        room = Room(np.random.default_rng(list(map(ord, name))))
        frames, phones = [], []
        for text, sound in utterances:
            for copy in range(COPIES):
                noisy = copy > 0 or room.rng.random() < 0.5
                frames.append(self._frames(room.place(sound, noisy=noisy)))
                phones.append([PHONE_INDEX[phone] for phone in self._say.phrase(text)[0]])
        for kind in ("pink", "wind", room.recorded(), room.recorded()):
            alone = room.bed(kind, int(room.rng.uniform(0.8, 4) * RATE))
            gain = 10 ** (room.rng.uniform(-60, -20) / 20)
            frames.append(self._frames((alone * gain).astype(np.float32)))
            phones.append([])
        kept = encoded_file(name, self._folder)
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(".part.npz")
        np.savez(
            part,
            people="+".join(people),
            frames=np.concatenate(frames),
            frame_counts=[len(one) for one in frames],
            phones=np.array([phone for one in phones for phone in one], np.uint8),
            phone_counts=[len(one) for one in phones],
        )
        part.replace(kept)
        print(kept.stem, len(frames), flush=True)

    def _frames(self, sound: Samples) -> NDArray[np.float16]:
        self._whisper.load_segment(sound)
        return self._whisper.encoded()[0].astype(np.float16)
