"""Train the layer that reads phones off Whisper's encoder (recognition/phone_posteriors.py).

    python -m tests.bench.phones speak               some 7,000 utterances, voices of `tune` alone
    python -m tests.bench.phones encode              what the model makes of each, in noise
    python -m tests.bench.phones train [without-A|without-B]...
    python -m tests.bench.phones keep                the one trained on all, into the package

Half of the texts are notes, half are other words: the layer is to hear phones, not notes. No
voice, dog's name, sentence or noise of `test` and `fresh` is in it, and no person's speech.
What the evidence of notes in `tune` is worth may not be judged with a layer that knows the
voice: `without-A` and `without-B` are trained without the voices of one group each, and
calibrate.py takes for each voice the one that has not heard it.

`speak` and `encode` go on where they were stopped. On two cores speaking and encoding take half
an hour, training four to eight minutes a layer.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.bench import noise
from tests.bench.talk import DOGS, sentences
from tests.bench.voices import RATE, TUNE, Voice, data_dir
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import shipped_pronouncer
from voicelog.model import Dog, Roster
from voicelog.recognition import phone_posteriors
from voicelog.recognition.phone_posteriors import PHONE_INDEX, packaged_layer
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

Samples = NDArray[np.float32]
LAYERS = ("all", "without-A", "without-B")
_OF_A = {"esp-us", "esp-scot", "flite-slt", "fest-slt", "heart", "heart-low", "kok-alpha"}
_OF_B = {"esp-gb-f", "flite-kal16", "fest-kal", "kok-gongi", "kok-kumo"}
NARROW, WIDE, BESIDE = 128, 256, 2
COPIES = 2  # of each utterance: one half of them without noise, the other always with some
BATCH, EPOCHS, RATE_OF_LEARNING = 64, 12, 3e-3
LONGEST_S = 12.0
_SHORT = frozenset(
    (
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
    )
)
"""Other strings of one letter or two in a list of frequent words are seldom words."""


def layer_without(voice: str) -> Path:
    """The layer that has not heard this voice of `tune`; the one of all for anybody else."""
    name = "without-A" if voice in _OF_A else "without-B" if voice in _OF_B else "all"
    return data_dir() / "phones" / f"{name}.npz"


@dataclass(frozen=True)
class Speaker:
    """A voice, the group it is left out with (C: a mix of both), and how much it says."""

    voice: Voice
    group: str
    utterances: int


def speakers() -> Iterator[Speaker]:
    """Voices of `tune`, and others of the same makers that are in no other split."""

    def one(name: str, engine: str, of: str, group: str, count: int, shift: float = 1.0,
            accent: str = "") -> Speaker:  # fmt: skip
        return Speaker(Voice(f"x-{name}", engine, of, accent, "", "", TUNE, shift), group, count)

    for accent, group in (("en-us", "A"), ("en-gb", "B"), ("en-gb-scotland", "A")):
        for kind in ("m1", "m2", "m3", "m4", "m6", "m7", "m8", "f1", "f2", "f3", "f4"):
            if (accent, kind) != ("en-gb-scotland", "f3"):  # which is one of `fresh`
                yield one(f"{accent}-{kind}", "espeak-ng", f"{accent}+{kind}", group, 85)
    for shift in (0.9, 1.0, 1.1):
        yield one(f"slt-{shift}", "flite", "slt", "A", 300, shift)
        yield one(f"kal-{shift}", "flite", "kal16", "B", 220, shift)
    for shift in (0.92, 1.0, 1.1):
        yield one(f"fkal-{shift}", "festival", "kal_diphone", "B", 120, shift)
        yield one(f"fslt-{shift}", "festival", "cmu_us_slt_arctic_hts", "A", 120, shift)
    for shift in (0.82, 0.88, 0.94, 1.0, 1.06):
        yield one(f"heart-{shift}", "hibari", "heart", "A", 260, shift, "American")
    alone = {"jf_alpha": "A", "jf_gongitsune": "B", "jm_kumo": "B"}
    mixes = {"jf_alpha+jm_kumo": "C", "jf_alpha+jf_gongitsune": "C"}
    for mix, group in (alone | mixes).items():
        for accent in ("American", "British"):
            count = 60 if mix in alone else 40
            yield one(f"{mix}-{accent[:2]}", "kokoro", mix, group, count, accent=accent)


class Texts:
    """What they say, by chance."""

    def __init__(self) -> None:
        from wordfreq import top_n_list

        say = shipped_pronouncer()
        self.words = [
            word
            for word in top_n_list("en", 6000)
            if word.isalpha() and (len(word) > 2 or word in _SHORT)
            if say.origin(word) == "dictionary"
        ]
        self.grammar = Grammar.load(roster=Roster(dogs=tuple(map(_dog, DOGS[TUNE]))))
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
        return rng.choice(self.words[:1500] if rng.random() < 0.5 else self.words)


def _dog(name: str) -> Dog:
    return Dog(name=name)


def speak(speaker: Speaker, texts: Texts) -> Iterator[tuple[str, Samples]]:
    """What one says: words, and the sound, which is kept once spoken."""
    rng = random.Random(speaker.voice.name)
    for _ in range(speaker.utterances):
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

    def place(self, sound: Samples, *, noisy: bool) -> Samples:
        rng = self.rng
        before, after = (int(rng.uniform(0.1, 0.5) * RATE) for _ in range(2))
        placed = np.pad(sound, (before, after))
        level = float(np.sqrt(np.mean(sound**2)))
        hum = self.bed("pink", len(placed)) * 10 ** (-rng.uniform(30, 50) / 20)
        placed = placed + np.float32(level) * hum
        if noisy:
            kind, ratio_db = self.noise()
            placed = placed + level * self.bed(kind, len(placed)) * 10 ** (-ratio_db / 20)
        if rng.random() < 0.08:
            placed = noise.telephone(placed.astype(np.float32))
        gain = 10 ** (rng.uniform(-14, 6) / 20)
        return np.clip(placed * gain, -1, 1).astype(np.float32)

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


@dataclass(frozen=True)
class Encoded:
    """What the model makes of one utterance, shape (frames, width), and its phones' places."""

    group: str
    frames: NDArray[np.float16]
    phones: NDArray[np.uint8]


def encode(shard: int, shards: int) -> None:
    """Keep what the model makes of every utterance, and of noise alone, voice by voice."""
    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    whisper = WhisperEncoder(model, packaged_layer())  # the layer is not asked
    say, texts = shipped_pronouncer(), Texts()
    for number, speaker in enumerate(speakers()):
        kept = data_dir() / "phones" / f"{speaker.voice.name}.npz"
        if number % shards != shard or kept.exists():
            continue
        room = Room(np.random.default_rng(list(map(ord, speaker.voice.name))))
        frames, phones = [], []
        for text, sound in speak(speaker, texts):
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


def encoded() -> Iterator[Encoded]:
    """All that was kept and that CTC can learn from."""
    for path in sorted((data_dir() / "phones").glob("x-*.npz")):
        with np.load(path) as kept:
            group = str(kept["group"])
            frames = np.split(kept["frames"], np.cumsum(kept["frame_counts"])[:-1])
            phones = np.split(kept["phones"], np.cumsum(kept["phone_counts"])[:-1])
        for some, said in zip(frames, phones, strict=True):
            if len(some) > len(said) + int(np.sum(said[1:] == said[:-1])):
                yield Encoded(group, some, said)


def train(name: str) -> None:
    """Fit a layer; print the loss of each epoch, and the share of phones that voices left out
    are misheard by (edits over phones, each frame's likeliest phone taken)."""
    import jax
    import jax.numpy as jnp
    import optax
    from jax import Array

    without = name.removeprefix("without-") if name != "all" else ""
    every = list(encoded())
    # A mix has something of either group's voices.
    known = [one for one in every if not without or one.group not in (without, "C")]
    others = [one for one in every if one.group == without][::7]
    rng = np.random.default_rng(0)
    some = np.concatenate([one.frames for one in known[::20]]).astype(np.float32)
    mean, spread = some.mean(axis=0), some.std(axis=0) + 1e-5
    count = 1 + len(PHONE_INDEX)

    def begin(*shape: int) -> Array:
        return jnp.asarray(rng.normal(0, shape[0] ** -0.5, shape), jnp.float32)

    weights = {
        "narrow": begin(len(mean), NARROW),
        "wide": begin(NARROW * (2 * BESIDE + 1), WIDE),
        "wide bias": jnp.zeros(WIDE),
        "out": begin(WIDE, count),
        "out bias": jnp.zeros(count),
    }

    def scores(known: dict[str, Array], frames: Array, beyond: Array, key: Array | None) -> Array:
        scaled = (frames.astype(jnp.float32) - mean) / spread
        keys = jax.random.split(key, 3) if key is not None else None
        if keys is not None:
            scaled += 0.2 * jax.random.normal(keys[0], scaled.shape)
            scaled *= jax.random.bernoulli(keys[1], 0.9, scaled.shape) / 0.9
        narrow = (scaled @ known["narrow"]) * (1 - beyond)[..., None]
        beside = jnp.pad(narrow, ((0, 0), (BESIDE, BESIDE), (0, 0)))
        steps = range(2 * BESIDE + 1)
        window = jnp.concatenate([beside[:, s : s + frames.shape[1]] for s in steps], axis=-1)
        inner = jax.nn.gelu(window @ known["wide"] + known["wide bias"])
        if keys is not None:
            inner *= jax.random.bernoulli(keys[2], 0.8, inner.shape) / 0.8
        return inner @ known["out"] + known["out bias"]

    def loss(known: dict[str, Array], batch: Sequence[Array], key: Array) -> Array:
        frames, beyond, phones, no_phone = batch
        return optax.ctc_loss(
            scores(known, frames, beyond, key), beyond, phones, no_phone
        ).mean()  # fmt: skip

    steps = EPOCHS * -(-len(known) // BATCH)
    rate = optax.warmup_cosine_decay_schedule(1e-4, RATE_OF_LEARNING, 200, steps, 1e-5)
    descent = optax.adamw(rate, weight_decay=1e-2)
    state = descent.init(weights)

    @jax.jit
    def step(known, state, batch, key):  # type: ignore[no-untyped-def]
        value, slope = jax.value_and_grad(loss)(known, batch, key)
        change, state = descent.update(slope, state, known)
        return optax.apply_updates(known, change), state, value

    heard = jax.jit(lambda known, frames, beyond: scores(known, frames, beyond, None))
    key, began = jax.random.PRNGKey(0), time.monotonic()
    for epoch in range(EPOCHS):
        losses = []
        for batch in _batches(known, rng):
            key, now = jax.random.split(key)
            weights, state, value = step(weights, state, batch, now)
            losses.append(float(value))
        wrong = sum(
            _wrong(np.asarray(heard(weights, batch[0], batch[1])), batch)
            for batch in _batches(others, None)
        )
        share = wrong / max(1, sum(len(one.phones) for one in others))
        passed = time.monotonic() - began
        print(f"{name} {epoch}: {np.mean(losses):.2f} {share:.3f} {passed:.0f} s", flush=True)
    plain = {name: np.asarray(value) for name, value in weights.items()}
    plain["narrow bias"] = -(mean / spread) @ plain["narrow"]
    plain["narrow"] = plain["narrow"] / spread[:, None]
    np.savez_compressed(
        data_dir() / "phones" / f"{name}.npz",
        **{name: value.astype(np.float16) for name, value in plain.items()},
    )


def _batches(
    items: Sequence[Encoded], rng: np.random.Generator | None
) -> Iterator[tuple[NDArray[np.generic], ...]]:
    """Frames, which of them are padding, phones, which of them are; alike long ones together."""
    lengths = np.array([len(one.frames) for one in items], np.float64)
    order = np.argsort(lengths + (rng.uniform(0, 20, len(items)) if rng is not None else 0))
    groups = [order[at : at + BATCH] for at in range(0, len(order), BATCH)]
    if rng is not None:
        rng.shuffle(groups)
    for group in groups:
        some = [items[place] for place in group]
        longest = -(-max(len(one.frames) for one in some) // 60) * 60
        most = -(-max(1, *(len(one.phones) for one in some)) // 16) * 16
        frames = np.zeros((BATCH, longest, some[0].frames.shape[1]), np.float16)
        beyond = np.ones((BATCH, longest), np.float32)
        phones = np.zeros((BATCH, most), np.int32)
        no_phone = np.ones((BATCH, most), np.float32)
        for row, one in enumerate(some):
            frames[row, : len(one.frames)] = one.frames
            beyond[row, : len(one.frames)] = 0
            phones[row, : len(one.phones)] = one.phones
            no_phone[row, : len(one.phones)] = 0
        yield frames, beyond, phones, no_phone


def _wrong(scores: NDArray[np.floating], batch: Sequence[NDArray[np.generic]]) -> int:
    from rapidfuzz.distance import Levenshtein

    wrong = 0
    for row, beyond, phones, no_phone in zip(scores, *batch[1:], strict=True):
        heard = row.argmax(axis=1)[beyond == 0]
        heard = heard[np.append(True, heard[1:] != heard[:-1])] if len(heard) else heard
        wrong += Levenshtein.distance(heard[heard > 0].tolist(), phones[no_phone == 0].tolist())
    return wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("speak", "encode", "train", "keep"))
    parser.add_argument("layers", nargs="*", help=f"of {', '.join(LAYERS)}; default: all three")
    parser.add_argument("--shard", default="0/1")
    options = parser.parse_args()
    if options.what == "speak":
        texts = Texts()
        for speaker in speakers():
            print(speaker.voice.name, sum(1 for _ in speak(speaker, texts)), flush=True)
    elif options.what == "encode":
        encode(*map(int, options.shard.split("/")))
    elif options.what == "train":
        for name in options.layers or LAYERS:
            if name not in LAYERS:
                sys.exit(f"Found no layer '{name}', wanted one of {', '.join(LAYERS)}.")
            train(name)
    else:
        package = Path(phone_posteriors.__file__).parent
        shutil.copy(data_dir() / "phones" / "all.npz", package / "tiny.en-phones.npz")


if __name__ == "__main__":
    main()
