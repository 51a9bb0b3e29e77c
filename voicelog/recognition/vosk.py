"""The quick recognizer on a Vosk model, held strictly to the grammar.

Vosk's own grammar argument makes a bigram of the phrases, so that words join into notes
that the grammar does not allow. Here the model is loaded with a graph of our own instead:
a folder is laid out that links to the model's files but for graph/Gr.fst, which holds the
grammar and nothing else. Its results are taken as whole paths (alternatives), never as
Vosk's best words, which are picked one by one and need not make a sentence together.

Other talk is forced into the grammar too. What tells it apart is `confidence`: the share
of the best reading among the alternatives. Words that the model does not know cannot be
heard; `unknown_words` names them.
"""

from __future__ import annotations

import json
import math
import re
import shutil
from importlib.metadata import version
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import vosk

from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.recognition import fst
from voicelog.recognition.quick_recognizer import (
    NO_HYPOTHESIS,
    AcceptanceThresholds,
    Hypothesis,
    Spectrum,
    WordTime,
)
from voicelog.recognition.vosk_models import ModelError, VoskModel

__all__ = ["VoskRecognizer"]

PHRASE_COST = 4.0
"""What each phrase in a note costs (nats): without it, hiss and breath become short phrases.

Of 0, 2, 4, 7 and 10, this got most right and fewest wrong with synthetic Korean: 50 and 27
of 84 notes, against 39 and 44 at no cost. Not tried on anything else.
"""

ALTERNATIVES = 10
BEAM, LATTICE_BEAM = 12.0, 6.0
"""At least this wide (nats), else the lattice has no alternatives to speak of."""

_ERRORS_ONLY_AS_EXCEPTIONS = -3


class VoskRecognizer:
    """Hears what `grammar` allows, narrowed, with one Vosk model.

    Making one takes 2-3 s and about as much memory as the model; hearing is
    independent of what was heard before, and may be done from several threads.

    Raises ModelError when the model cannot be loaded or knows no phrase of the grammar.
    """

    thresholds = AcceptanceThresholds(
        accept=0.9, offer=0.5, accept_single_word=0.95, accept_sound_alike=0.99
    )
    """From synthetic Korean (tests/bench/vosk_bench.py); no English model was at hand."""

    def __init__(
        self,
        grammar: Grammar,
        recognition_context: RecognitionContext | None = None,
        *,
        model: VoskModel,
    ) -> None:
        network = grammar.network(recognition_context or RecognitionContext())
        ids = model.word_ids()
        graph = fst.acceptor(network, ids, phrase_cost=PHRASE_COST)
        if not graph.words():
            raise ModelError(
                f"Found no phrase of the grammar {grammar.name} that the Vosk model "
                f"'{model.name}' knows all words of, wanted a model for the grammar's language "
                f"({grammar.language or 'not named'}); choose another model."
            )
        self.name = f"vosk {version('vosk')} {model.name}"
        self.unknown_words = tuple(word for word in network.words() if word not in ids)
        """Words of the grammar that the model does not know, sorted; none can be heard."""
        self._grammar = grammar
        self._model = _load(model, graph, ids)

    def hear(self, sound: Samples, noise: Spectrum | None = None) -> Hypothesis:
        """What `sound`, one whole segment with a little silence at both ends, says.

        score is the log-likelihood of the reading for each second (nats/s).
        """
        recogniser = vosk.KaldiRecognizer(self._model, RATE)
        recogniser.SetMaxAlternatives(ALTERNATIVES)
        recogniser.SetWords(True)
        hiss = np.random.default_rng(0).standard_normal(len(sound))
        samples = np.rint(np.clip(sound * 32767.0 + hiss, -32768.0, 32767.0)).astype("<i2")
        # In one piece, so that no pause inside the segment ends it before FinalResult.
        recogniser.AcceptWaveform(samples.tobytes())
        return self._heard(json.loads(recogniser.FinalResult())["alternatives"], len(sound) / RATE)

    def _heard(self, paths: list[dict[str, Any]], seconds: float) -> Hypothesis:
        best = paths[0]
        shares: dict[str, float] = {}
        for path in paths:
            words = path["text"].strip()
            share = math.exp(path["confidence"] - best["confidence"])
            shares[words] = shares.get(words, 0.0) + share
        words = best["text"].strip()
        if not words:
            return NO_HYPOTHESIS
        return Hypothesis(
            words,
            complete=self._complete(words),
            score=best["confidence"] / seconds,
            confidence=shares[words] / sum(shares.values()),
            times=tuple(WordTime(w["word"], w["start"], w["end"]) for w in best["result"]),
            others=tuple(w for w in shares if w != words and self._complete(w)),
        )

    def _complete(self, words: str) -> bool:
        return self._grammar.interpret(words) is not None


def _load(model: VoskModel, graph: fst.Acceptor, ids: dict[str, int]) -> vosk.Model:
    """Load `model` with `graph` in place of its own; the laid-out folder is gone afterwards."""
    vosk.SetLogLevel(_ERRORS_ONLY_AS_EXCEPTIONS)
    with TemporaryDirectory(prefix="voicelog-vosk-") as temporary:
        folder = Path(temporary)
        own = {"graph", "conf"}
        _link_all(model.folder, folder, except_for=own)
        _link_all(model.folder / "graph", folder / "graph", except_for={"Gr.fst", "words.txt"})
        _link_all(model.folder / "conf", folder / "conf", except_for={"model.conf", "mfcc.conf"})
        fst.write(graph, ids, folder / "graph/Gr.fst")
        for name, adapted in (("model.conf", _widened), ("mfcc.conf", _repeatable)):
            settings = (model.folder / "conf" / name).read_text("utf-8")
            (folder / "conf" / name).write_text(adapted(settings), "utf-8")
        try:
            loaded = vosk.Model(str(folder))
            # A graph that was cut short is noticed only here, in making a recogniser.
            vosk.KaldiRecognizer(loaded, RATE)
            return loaded
        except Exception as problem:  # Vosk raises nothing more exact
            raise ModelError(
                f"Found a Vosk model in '{model.folder}' that cannot be loaded ({problem}), "
                "wanted a whole one; unpack the model again."
            ) from problem


def _link_all(source: Path, target: Path, *, except_for: set[str]) -> None:
    """Give `target` everything in `source`: by link, or copied where links are not allowed."""
    target.mkdir(exist_ok=True)
    for path in source.resolve().iterdir():
        if path.name in except_for:
            continue
        try:
            (target / path.name).symlink_to(path)
        except OSError:
            copy = shutil.copytree if path.is_dir() else shutil.copy2
            copy(path, target / path.name)


def _widened(settings: str) -> str:
    """The text of a model.conf with both beams at least as wide as ours."""
    for option, least in (("beam", BEAM), ("lattice-beam", LATTICE_BEAM)):
        found = re.findall(rf"^--{option}=(.*)$", settings, re.MULTILINE)
        settings = _with(settings, option, max([least, *map(float, found)]))
    return settings


def _repeatable(settings: str) -> str:
    """The text of an mfcc.conf without the hiss that Kaldi adds, different each time.

    `hear` adds the same amount, one step of 16 bits, always the same.
    """
    return _with(settings, "dither", 0.0)


def _with(settings: str, option: str, value: float) -> str:
    others = [line for line in settings.splitlines() if not line.startswith(f"--{option}=")]
    return "\n".join([*others, f"--{option}={value}", ""])
