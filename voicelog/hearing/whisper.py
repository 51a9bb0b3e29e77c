"""Whisper, held to the words of a grammar, through CTranslate2.

The model was made to write down half a minute of anything. Here it hears one segment in a
window of 10 s, which costs an eighth, and answers three questions: what it writes when it
may use only the grammar's words, what it writes when it may use any, and how likely it
thinks texts that it is shown. It knows nothing of meanings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.metadata import version
from pathlib import Path

import ctranslate2
import numpy as np
from faster_whisper.feature_extractor import FeatureExtractor
from numpy.typing import NDArray
from tokenizers import Tokenizer

from voicelog.hearing.listener import RATE, Sound
from voicelog.hearing.models import ModelError, WhisperModel
from voicelog.hearing.posteriors import PhoneLayer, Posteriors, evened, with_layer
from voicelog.hearing.transcript import Lead, Line, Weight

__all__ = ["Whisper"]

WINDOWS = (10, 15, 30)
"""Seconds of sound that the model may be given; the shortest that holds a segment is."""
FRAMES = 100
"""Frames a second of the model's features."""
FRAMES_OF_A_STEP = 2
"""Frames that the encoder makes one of: 20 ms."""
BEAM = 5
"""Texts followed at once, and given back, when held to the words."""
AT_ONCE = 3
"""Texts that are weighed at once: each takes some 15 MB while it is."""
LONGEST = 64
"""Tokens of the longest text."""
MARKS = (",", ".", "!", "?", "'s")
UNLIKELY = 1e-9
"""Probabilities are not taken for less than this."""


class Whisper:
    """One model on one thread, held to the words of `lead`.

    Making one takes 0.2 s and about as much memory as the model's file. Raises ModelError
    when the model cannot be loaded.
    """

    def __init__(self, model: WhisperModel, lead: Lead, layer: PhoneLayer | None = None) -> None:
        """`layer` is one that was trained for this model."""
        self.layer = layer
        name = with_layer(model.name) if layer else model.name
        self.name = f"whisper {name} (ctranslate2 {version('ctranslate2')})"
        self._model = _load(model.folder)
        self._tokens = _tokens(model.folder)
        self._features = FeatureExtractor(feature_size=self._model.n_mels)
        self._end = self._special("<|endoftext|>")
        begin = [self._special("<|startoftranscript|>")]
        if self._model.is_multilingual:
            begin += [self._special(f"<|{lead.language}|>"), self._special("<|transcribe|>")]
        before = self._special("<|startofprev|>")
        # A text that is shown beforehand would be thought likely afterwards: no more than names.
        self._weighed = [before, *self._ids(lead.beginning), *begin] if lead.beginning else begin
        self._open = [before, *self._ids(lead.example), *begin, self._special("<|notimestamps|>")]
        size = self._tokens.get_vocab_size()
        allowed = self._allowed(lead.words, lead.numbers)
        self._beyond = list(range(self._end + 1, size))
        self._barred = [i for i in range(size) if i not in allowed and i != self._end]
        self._encoded: ctranslate2.StorageView | None = None
        self._other_ways: list[ctranslate2.StorageView] = []
        self._frames = 0

    @property
    def tells_phones(self) -> bool:
        """Whether `phones` has an answer."""
        return self.layer is not None

    def attend(self, *sounds: Sound) -> None:
        """Take in a segment, as it is and in other ways; what is asked then is about it. Texts
        are only written of it as it is."""
        self._encoded, *self._other_ways = map(self._encode, sounds)

    def _encode(self, sound: Sound) -> ctranslate2.StorageView:
        seconds = next((w for w in WINDOWS if len(sound) <= w * RATE), WINDOWS[-1])
        features = self._features(sound)[:, : seconds * FRAMES]
        window = np.zeros((1, len(features), seconds * FRAMES), np.float32)
        window[0, :, : features.shape[1]] = features
        self._frames = features.shape[1]
        return self._model.encode(ctranslate2.StorageView.from_array(window))

    def phones(self) -> Posteriors | None:
        """How likely each phone is at each 20 ms of the segment, on average (of the logarithms)
        over the ways it was given; None without a layer."""
        if self.layer is None:
            return None
        told = [self.layer(encoded) for encoded in self.encoded()]
        return told[0] if len(told) == 1 else evened(np.mean(told, axis=0))

    def encoded(self) -> list[NDArray[np.float32]]:
        """What the encoder makes of each way: shape (frames of 20 ms, width)."""
        count = -(-self._frames // FRAMES_OF_A_STEP)
        return [np.array(one, np.float32)[0][:count] for one in (self._encoded, *self._other_ways)]

    def held(self) -> tuple[Line, ...]:
        """What the segment says in the grammar's words alone, likeliest first."""
        found = self._write(BEAM, self._barred)
        return tuple(map(self._line, found.sequences_ids, found.scores))

    def free(self) -> Line:
        """What the segment says in any words."""
        found = self._write(1, self._beyond)
        return self._line(found.sequences_ids[0], found.scores[0])

    def weigh(self, texts: Sequence[str]) -> tuple[Weight, ...]:
        """What it thinks of each text for the segment.

        The model has no say on where a text ends: a full stop at the end stands for that.
        """
        return tuple(
            weight
            for at in range(0, len(texts), AT_ONCE)
            for weight in self._weights(texts[at : at + AT_ONCE])
        )

    def _weights(self, texts: Sequence[str]) -> list[Weight]:
        copies = np.repeat(np.array(self._encoded), len(texts), axis=0)
        aligned = self._model.align(
            ctranslate2.StorageView.from_array(copies),
            self._weighed,
            [self._ids(text) for text in texts],
            [self._frames] * len(texts),
        )
        return [_weight(one.text_token_probs) for one in aligned]

    def _write(self, beam: int, barred: list[int]) -> ctranslate2.models.WhisperGenerationResult:
        return self._model.generate(
            self._encoded,
            [self._open],
            beam_size=beam,
            num_hypotheses=beam,
            max_length=len(self._open) + LONGEST,
            return_scores=True,
            suppress_blank=False,
            suppress_tokens=barred,
        )[0]

    def _line(self, ids: Sequence[int], score: float) -> Line:
        text = self._tokens.decode([i for i in ids if i < self._end])
        return Line(text.strip(), total=score * (len(ids) + 1), mean=score)

    def _ids(self, text: str) -> list[int]:
        return list(self._tokens.encode(f" {text}", add_special_tokens=False).ids)

    def _special(self, token: str) -> int:
        found = self._tokens.token_to_id(token)
        if found is None:
            raise ModelError(
                f"Found no {token} in tokenizer.json, wanted the tokens of a Whisper model; "
                "install the model again."
            )
        return int(found)

    def _allowed(self, words: Iterable[str], numbers: Iterable[str]) -> set[int]:
        """The tokens of the words, small or capital, of the numbers and of MARKS."""
        spelled = [form for word in words for form in (word, word.capitalize())]
        plain = [*spelled, *numbers, *MARKS]
        texts = [*plain, *(f" {text}" for text in plain)]
        encoded = self._tokens.encode_batch(texts, add_special_tokens=False)
        return {i for one in encoded for i in one.ids}


def _weight(likelihoods: Sequence[float]) -> Weight:
    logs = np.log(np.maximum(np.asarray(likelihoods, np.float64), UNLIKELY))
    return Weight(float(logs.sum()), float(logs.mean()), float(logs.min()))


def _load(folder: Path) -> ctranslate2.models.Whisper:
    try:
        return ctranslate2.models.Whisper(
            str(folder), device="cpu", compute_type="int8", intra_threads=1, inter_threads=1
        )
    except Exception as problem:  # CTranslate2 raises nothing more exact
        raise ModelError(
            f"Found a Whisper model in '{folder}' that cannot be loaded ({problem}), wanted a "
            "whole one; install the model again."
        ) from problem


def _tokens(folder: Path) -> Tokenizer:
    try:
        return Tokenizer.from_file(str(folder / "tokenizer.json"))
    except Exception as problem:  # nor do the tokenizers
        raise ModelError(
            f"Found in '{folder}' a tokenizer.json that cannot be read ({problem}), wanted that "
            "of a Whisper model; install the model again."
        ) from problem
