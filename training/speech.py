"""Who says what, for the acoustic layer to learn from: voices, texts, and the room around them.

Half of the texts are notes, half are other words: the layer is to hear phones, not notes. No
voice, dog's name, sentence or noise of the splits `test` and `fresh` is in it. People's speech is
in people_speech.py.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.bench import noise
from tests.bench.links import LINKS
from tests.bench.talk import DOGS, sentences
from tests.bench.voices import RATE, TUNE, Voice
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.model import Dog, Roster

__all__ = ["COPIES", "Room", "Speaker", "Texts", "speakers", "spoken"]

LONGEST_S = 12.0
COPIES = 3
"""Of each utterance: half of the first without noise, the others always with some."""
SHORT_WORDS = frozenset(
    [
        "a",
        "i",
        "to",
        "of",
        "in",
        "it",
        "is",
        "on",
        "up",
        "we",
        "he",
        "me",
        "my",
        "no",
        "go",
        "do",
        "so",
    ]
)
"""Other strings of one letter or two in a list of frequent words are seldom words."""


@dataclass(frozen=True)
class Speaker:
    """A voice to learn from: whose it is (layer_files.SPEAKER_OF), of a mix all of them, and how
    many utterances it says."""

    voice: Voice
    people: tuple[str, ...]
    utterances: int


def speakers() -> Iterator[Speaker]:
    """Voices of `tune`, and others of the same makers that are in no other split."""

    def one(name: str, engine: str, of: str, people: str, count: int, shift: float = 1.0,
            accent: str = "") -> Speaker:  # fmt: skip
        voice = Voice(f"x-{name}", engine, of, accent, "", "", TUNE, shift)
        return Speaker(voice, tuple(people.split("+")), count)

    for accent in ("en-us", "en-gb", "en-gb-scotland"):
        for kind in ("m1", "m2", "m3", "m4", "m6", "m7", "m8", "f1", "f2", "f3", "f4"):
            if (accent, kind) != ("en-gb-scotland", "f3"):  # which is one of `fresh`
                yield one(f"{accent}-{kind}", "espeak-ng", f"{accent}+{kind}", accent, 85)
    for shift in (0.9, 1.0, 1.1):
        yield one(f"slt-{shift}", "flite", "slt", "slt", 300, shift)
        yield one(f"kal-{shift}", "flite", "kal16", "kal", 220, shift)
    for shift in (0.92, 1.0, 1.1):
        yield one(f"fkal-{shift}", "festival", "kal_diphone", "kal", 120, shift)
        yield one(f"fslt-{shift}", "festival", "cmu_us_slt_arctic_hts", "slt", 120, shift)
    for shift in (0.82, 0.88, 0.94, 1.0, 1.06):
        yield one(f"heart-{shift}", "hibari", "heart", "heart", 260, shift, "American")
    for mix in ("jf_alpha", "jf_gongitsune", "jm_kumo", "jf_alpha+jm_kumo",
                "jf_alpha+jf_gongitsune"):  # fmt: skip
        for accent in ("American", "British"):
            count = 40 if "+" in mix else 60
            yield one(f"{mix}-{accent[:2]}", "kokoro", mix, mix, count, accent=accent)


class Texts:
    """What they say, by chance."""

    def __init__(self) -> None:
        from wordfreq import top_n_list  # of the extra for benches alone

        say = shipped_pronouncer()
        self.words = [
            word
            for word in top_n_list("en", 6000)
            if word.isalpha() and (len(word) > 2 or word in SHORT_WORDS)
            if say.origin(word) == "dictionary"
        ]
        self.grammar = Grammar.load(roster=Roster(dogs=tuple(Dog(name=dog) for dog in DOGS[TUNE])))
        self.talk = sentences(TUNE)

    def one(self, rng: random.Random) -> str:
        kind = rng.random()
        if kind < 0.5:
            return ", ".join(self.phrase(rng) for _ in range(rng.choice((1, 1, 2, 2, 3, 3, 4))))
        if kind < 0.9:
            return " ".join(self.word(rng) for _ in range(rng.randint(2, 9)))
        return rng.choice(self.talk)

    def phrase(self, rng: random.Random) -> str:
        """A note's phrase, each form as likely as any; half of its numbers are 20 or less."""
        words = []
        for part in rng.choice(self.grammar.forms).parts:
            if isinstance(part, str):
                words.append(part)
                continue
            said = self.grammar.numbers(part.rule)
            numbers = sorted(said)
            if rng.random() >= 0.5:
                numbers = [number for number in numbers if number <= 20] or numbers
            words.append(said[rng.choice(numbers)])
        return " ".join(words)

    def word(self, rng: random.Random) -> str:
        chosen: str = rng.choice(self.words[:1500] if rng.random() < 0.5 else self.words)
        return chosen


def spoken(speaker: Speaker, texts: Texts, share: float = 1.0) -> Iterator[tuple[str, Samples]]:
    """What one says: words, and the sound, which is kept once spoken; of it a share (0 to 1)."""
    rng = random.Random(speaker.voice.name)
    for _ in range(max(1, round(speaker.utterances * share))):
        text, tempo = texts.one(rng), round(rng.uniform(0.85, 1.25), 2)
        sound = speaker.voice.sound(text, tempo)
        if 0.15 * RATE < len(sound) < LONGEST_S * RATE:
            yield text.replace(",", ""), sound


class Room:
    """Puts an utterance where it might be said: silence around it, noise, a level."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng, self._beds = rng, dict[str, Samples]()

    def bed(self, kind: str, count: int) -> Samples:
        """A stretch of a noise, out of two minutes of it."""
        if kind not in self._beds:
            self._beds[kind] = noise.make(kind, 120 * RATE, self.rng, TUNE)
        at = int(self.rng.integers(120 * RATE - count))
        return self._beds[kind][at : at + count]

    def place(
        self, sound: Samples, *, noisy: bool, around_s: tuple[float, float] = (0.1, 0.5)
    ) -> Samples:
        """The utterance with silence before it and behind, of `around_s` (least and most)."""
        rng = self.rng
        before, after = (int(rng.uniform(*around_s) * RATE) for _ in range(2))
        placed = np.pad(sound, (before, after))
        level = float(np.sqrt(np.mean(sound**2)))
        hum = self.bed("pink", len(placed)) * 10 ** (-rng.uniform(30, 50) / 20)
        placed = placed + np.float32(level) * hum
        if noisy:
            kind, ratio_db = self.noise()
            placed = placed + level * self.bed(kind, len(placed)) * 10 ** (-ratio_db / 20)
        if rng.random() < 0.08:
            placed = LINKS["band8"](placed.astype(np.float32))
        gain = 10 ** (rng.uniform(-14, 6) / 20)
        return np.asarray(np.clip(placed * gain, -1, 1), np.float32)

    def noise(self) -> tuple[str, float]:
        """A kind of noise, and how far the speech stands above it (dB)."""
        rng, kind = self.rng, self.rng.random()
        if kind < 0.3:
            return "pink", rng.uniform(5, 25)
        if kind < 0.5:
            return "wind", rng.uniform(0, 20)
        if kind < 0.6:
            return "babble", rng.uniform(10, 25)
        return self.recorded(), rng.uniform(7, 25)

    def recorded(self) -> str:
        subjects = list(noise.REAL[TUNE])
        return subjects[int(self.rng.integers(len(subjects)))]
