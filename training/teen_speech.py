"""Notes with a number in -teen or in -ty, and what Whisper's encoder makes of them in noise.

Each text is said twice by a voice, once with "thirteen" to "nineteen" and once with the number that
sounds like it, so that nothing else tells the two apart. Each is put into noise, cut out by the
segmenter and cleaned of it as the program does, and the frames around the number are kept, by
voice. So are those of the tuning recordings of levels, where the note said is among the candidates
(candidates.py).
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from tests.bench.voices import RATE, data_dir
from training.candidates import kept_observations
from training.layer_files import LAYERS, PACKAGED, SPEAKER_OF, layer_file, layer_without, left_out
from training.speech import Room, Speaker, Texts, speakers
from voicelog.audio.resampling import Samples
from voicelog.recognition.ctc import align_readings
from voicelog.recognition.noise_reduction import NOISY_DB, level_above_noise_db, reduce_noise
from voicelog.recognition.phone_posteriors import PhoneLayer, log_softmax
from voicelog.recognition.segmenter import Segment, segments
from voicelog.recognition.teen_layer import TEENS, TeenPair
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

__all__ = ["TeenExample", "encode_teens", "teen_examples"]

PAIRS = {"espeak-ng": 10, "flite": 24, "festival": 8, "hibari": 12, "kokoro": 2}
"""Texts that each voice of a maker says both ways; Kokoro takes ten seconds for one."""
MALE = [("m", number) for number in (1, 2, 3, 4, 6, 7, 8)]
FEMALE = [("f", 1), ("f", 2)]
VOICES = frozenset(
    f"x-{name}"
    for name in (
        *(f"en-us-{kind}{number}" for kind, number in (*MALE, *FEMALE, ("f", 3), ("f", 4))),
        *(f"en-gb-{kind}{number}" for kind, number in (*MALE, *FEMALE)),
        *("en-gb-scotland-m1", "en-gb-scotland-f1", "slt-0.9", "slt-1.0", "kal-0.9", "kal-1.0"),
        *("fkal-1.0", "fslt-1.0", "heart-0.88", "heart-1.0"),
        *("jf_alpha-Am", "jf_gongitsune-Br", "jm_kumo-Br"),
    )
)
"""Of the voices to learn from (speech.py), those that say such notes."""
RECORDINGS = tuple(
    f"{kind}{noise}" for kind in ("within", "beyond") for noise in ("", "-real15", "-pink10")
)
"""Folders of the split `tune` that are taken too."""
COPIES = 2
AROUND_S = (1.2, 2.2)
"""Noise alone before an utterance, and behind it: the segmenter learns what noise is from it."""
MARGIN = (16, 24)
"""Frames (20 ms) that are kept before the number and behind it."""


@dataclass(frozen=True)
class TeenExample:
    """One way of hearing a number.

    people: whose voice. group: the same of all ways of hearing one utterance in one noise.
    teen: whether it was said with -teen. frames: the encoder's, shape (frames, width), with the
    number from `first` to `last`. ahead: nats that the reading in -teen lies ahead in the phones,
    told by a layer that has not heard the speaker. above_noise_db: as noise_reduction.py has it.
    recording: the folder of the tuning recording; "" for training speech.
    """

    people: frozenset[str]
    group: int
    teen: bool
    frames: NDArray[np.float16]
    first: int
    last: int
    ahead: float
    above_noise_db: float
    recording: str = ""


def encode_teens(shard: int = 0, shards: int = 1) -> None:
    """Keep what the model makes of every utterance, voice by voice, and of the numbers in tuning
    recordings, one by one; what is there is passed over."""
    texts, encoder = _TeenTexts(), _Encoder()
    for number, speaker in enumerate(one for one in speakers() if one.voice.name in VOICES):
        if number % shards == shard and not _kept(speaker.voice.name).exists():
            _keep(speaker.voice.name, list(encoder.examples(speaker, texts)))
    for folder in RECORDINGS:
        found = sorted((data_dir() / "tune" / folder).glob("*.json"))
        for path in found[shard::shards]:
            if not _kept(f"{folder}-{path.stem}").exists():
                _keep(f"{folder}-{path.stem}", list(encoder.recorded(path, folder)))


def teen_examples() -> Iterator[TeenExample]:
    """All that was kept."""
    for place, path in enumerate(sorted((data_dir() / "teens").glob("*.npz"))):
        with np.load(path) as kept:
            frames = np.split(kept["frames"], np.cumsum(kept["counts"])[:-1])
            people = frozenset(str(kept["people"]).split("+"))
            recording = str(kept["recording"]) if "recording" in kept else ""
            rows = [kept[name].tolist() for name in _ROW]
        for some, group, teen, first, last, ahead, above in zip(frames, *rows, strict=True):
            yield TeenExample(
                people, place * 100_000 + group, teen, some, first, last, ahead, above,
                recording,
            )  # fmt: skip


_ROW = ("group", "teen", "first", "last", "ahead", "above_noise_db")


def _kept(voice: str) -> Path:
    return data_dir() / "teens" / f"{voice}.npz"


def _keep(voice: str, found: Sequence[TeenExample]) -> None:
    path = _kept(voice)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part.npz")
    np.savez(
        part,
        people="+".join(found[0].people),
        recording=found[0].recording,
        frames=np.concatenate([one.frames for one in found]),
        counts=[len(one.frames) for one in found],
        allow_pickle=False,
        **{name: np.array([getattr(one, name) for one in found]) for name in _ROW},
    )
    part.replace(path)


class _TeenTexts:
    """What is said, by chance."""

    def __init__(self) -> None:
        self._texts = Texts()
        grammar = self._texts.grammar
        self._forms = [
            form
            for form in grammar.forms
            for rule in (next((one.rule for one in form.parts if not isinstance(one, str)), None),)
            if rule is not None and {13, 19, 30, 90} <= set(grammar.numbers(rule))
        ]

    def one(self, rng: random.Random) -> tuple[str, str, int]:
        """A note with a number in -teen, {} in its place, often with a phrase before it and behind;
        the number; and which of its words the number is."""
        parts = rng.choice(self._forms).parts
        around = [self._other(rng) if rng.random() < 0.4 else "" for _ in range(2)]
        words = " ".join(one if isinstance(one, str) else "{}" for one in parts)
        text = ", ".join(filter(None, (around[0], words, around[1])))
        return text, rng.choice(list(TEENS)), text.replace(",", "").split().index("{}")

    def _other(self, rng: random.Random) -> str:
        """A phrase without such a number."""
        while True:
            words = self._texts.phrase(rng)
            if not set(words.split()) & {*TEENS, *TEENS.values()}:
                return words


class _Encoder:
    """Hears what was said in noise, as the program does."""

    def __init__(self) -> None:
        model = packaged_whisper_model()
        assert model is not None, "install the extra 'careful'"
        self._whisper = WhisperEncoder(model)
        self._strangers = dict[Path, PhoneLayer]()

    def examples(self, speaker: Speaker, texts: _TeenTexts) -> Iterator[TeenExample]:
        """All that one voice says; nothing of what no segment holds as a whole."""
        rng = random.Random(f"teens {speaker.voice.name}")
        room = Room(np.random.default_rng(list(map(ord, speaker.voice.name + " teens"))))
        people = frozenset(speaker.people)
        without = (name for name in LAYERS if left_out(name) & people)
        stranger = self._stranger(layer_file(next(without, "all"), PACKAGED))
        group = 0
        for _ in range(PAIRS[speaker.voice.engine]):
            text, teen, place = texts.one(rng)
            tempo = round(rng.uniform(0.85, 1.25), 2)
            for word in (teen, TEENS[teen]):
                sound = speaker.voice.sound(text.format(word), tempo)
                words = text.replace(",", "").split()
                pair = (_with(words, place, teen), _with(words, place, TEENS[teen]))
                for copy in range(COPIES):
                    group += 1
                    noisy = copy > 0 or room.rng.random() < 0.7
                    segment = _segment(room, sound, noisy=noisy)
                    if segment is not None:
                        yield from self._told(
                            segment, stranger, TeenPair(*pair, place), people, group, word == teen
                        )

    def recorded(self, path: Path, folder: str) -> Iterator[TeenExample]:
        """The numbers in a tuning recording."""
        truth = json.loads(path.read_text())
        people = frozenset((SPEAKER_OF[truth["voice"]],))
        stranger = self._stranger(layer_without(truth["voice"]))
        sound, _ = soundfile.read(path.with_suffix(".flac"), dtype="float32")
        seen = kept_observations("both", f"{folder}-{path.stem}")
        for group, (segment, of) in enumerate(zip(segments([sound]), seen, strict=True)):
            said = next((one.words for one in of.options if of.said and one.meaning == of.said), "")
            for place, word in enumerate(said.split()):
                if word in TEENS or word in TEENS.values():
                    teen, ten = (
                        _with(said.split(), place, one)
                        for one in next(pair for pair in TEENS.items() if word in pair)
                    )
                    pair = TeenPair(teen, ten, place)
                    for one in self._told(segment, stranger, pair, people, group, said == teen):
                        yield replace(one, recording=folder)

    def _stranger(self, layer: Path) -> PhoneLayer:
        if layer not in self._strangers:
            self._strangers[layer] = PhoneLayer(layer)
        return self._strangers[layer]

    def _told(
        self,
        segment: Segment,
        stranger: PhoneLayer,
        pair: TeenPair,
        people: frozenset[str],
        group: int,
        teen: bool,
    ) -> Iterator[TeenExample]:
        above = level_above_noise_db(segment.usual, segment.noise)
        ways = [segment.sound]
        if segment.noise is not None and above < NOISY_DB:
            ways.append(reduce_noise(segment.sound, segment.noise))
        self._whisper.load_segment(*ways)
        encoded = self._whisper.encoded()
        told = log_softmax(np.mean([stranger(one) for one in encoded], axis=0))
        paths = align_readings(told, (pair.teen, pair.ten))
        if paths[0] is None or paths[1] is None:
            return
        better = paths[0] if paths[0].score >= paths[1].score else paths[1]
        first, last = better.word_frames[pair.word]
        start, end = max(0, first - MARGIN[0]), last + MARGIN[1]
        for frames in encoded:
            yield TeenExample(
                people,
                group,
                teen,
                frames[start:end].astype(np.float16),
                first - start,
                last - start,
                paths[0].score - paths[1].score,
                min(above, 99.0),
            )


def _with(words: Sequence[str], place: int, word: str) -> str:
    return " ".join((*words[:place], word, *words[place + 1 :]))


def _segment(room: Room, sound: Samples, *, noisy: bool) -> Segment | None:
    """What the segmenter cuts out of an utterance in a room; None where it is not held whole."""
    placed = room.place(sound, noisy=noisy, around_s=AROUND_S)
    begin, end = int(AROUND_S[1] * RATE), len(placed) - int(AROUND_S[1] * RATE)
    for one in segments([placed]):
        if one.start <= begin and one.start + len(one.sound) >= end:
            return one
    return None
