"""People's speech for the acoustic layer: who says what.

- phrases of a public benchmark, Picovoice/wake-word-benchmark (Apache-2.0): six phrases by more
  than 50 people; what was said is the name of the folder;
- orders of coffee, Picovoice/speech-to-intent-benchmark (Apache-2.0), the half `tune`
  (tests/bench/people.py). Its labels tell the meaning; the words are those that lie best in the
  phones, and an order whose words do not mean what the label says is left out;
- acted lines of a game (tests/bench/human.py), the half `tune`. Which piece of its scene's script a
  line is, is not told: it is the one nearest to the phones that the layer that ships hears, where
  it lies near enough, and nearer than every other.

Found words are kept (`people-words.json` of the bench data).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr
from rapidfuzz.distance import Levenshtein

from tests.bench import human, people
from tests.bench.heard import GRAMMARS
from tests.bench.judging import meaning
from tests.bench.voices import RATE, data_dir
from training.layer_files import ORDERS
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import NoPronunciationError, shipped_pronouncer
from voicelog.recognition.ctc import best_path
from voicelog.recognition.phone_posteriors import PHONE_INDEX
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

__all__ = ["PeopleUtterance", "people_speech", "recordings"]

MISHEARD, NEARER = 0.5, 0.15
"""Of the phones of a piece of script, the share that may be heard otherwise, and how much larger
it must be in every other piece."""
LONGEST_S = 9.5


@dataclass(frozen=True)
class PeopleUtterance:
    """Words that a person said, the sound at RATE, the set it is of, and whose it is: ORDERS of
    layer_files.py, or "" where no recording that weights are fitted on holds the speaker."""

    source: str
    speaker: str
    text: str
    sound: Samples


def people_speech() -> Iterator[PeopleUtterance]:
    """All of it whose words are known. FileNotFoundError where a set is absent says what to do."""
    words = _words()
    for source, speaker, name, sound in recordings():
        said = words.get(f"{source}/{name}", "")
        if said:
            yield PeopleUtterance(source, speaker, said, sound)


def recordings() -> Iterator[tuple[str, str, str, Samples]]:
    """Set, speaker, name and sound of each; see PeopleUtterance."""
    folder = data_dir() / "people" / "wake-word-benchmark" / "audio"
    if not folder.is_dir():
        raise FileNotFoundError(
            f"Found no phrases in '{folder}', wanted the audio of the repository "
            "Picovoice/wake-word-benchmark; put it there."
        )
    for path in sorted(folder.glob("*/*.*")):
        try:
            sound = _read(path)
        except soundfile.LibsndfileError:  # a few FLAC files of the repository are damaged
            continue
        yield "phrases", "", f"{path.parent.name}/{path.name}", sound
    for name, _, sound in people.commands("tune"):
        yield "orders", ORDERS, name, sound
    for package, name, sound in human.lines("tune"):
        if package == "game" and len(sound) < LONGEST_S * RATE:
            yield "game", "", name, np.asarray(sound, np.float32)


def _read(path: Path) -> Samples:
    sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    mono = sound.mean(axis=1)
    return mono if rate == RATE else np.asarray(soxr.resample(mono, rate, RATE), np.float32)


def _words() -> dict[str, str]:
    """What each recording says, "" where that is not known; found once."""
    kept = data_dir() / "people-words.json"
    if kept.exists():
        return dict(json.loads(kept.read_text("utf-8")))
    found = dict[str, str]()
    labels = {name: said for name, said, _ in people.commands("tune")}
    listener = _Listener()
    for source, _, name, sound in recordings():
        if source == "phrases":
            said = name.split("/")[0]
        elif source == "orders":
            said = listener.order(sound, labels[name])
        else:
            said = listener.line(name, sound)
        found[f"{source}/{name}"] = said
    kept.write_text(json.dumps(found, indent=0), "utf-8")
    return found


class _Listener:
    """Finds the words of orders and lines."""

    def __init__(self) -> None:
        model = packaged_whisper_model()
        assert model is not None, "install the extra 'careful'"
        self._encoder = WhisperEncoder(model, shipped_artifact().layer())
        self._grammar = Grammar.load(GRAMMARS / people.GRAMMAR)
        self._say = shipped_pronouncer()
        self._scripts = dict[tuple[str, ...], dict[str, list[int]]]()

    def order(self, sound: Samples, label: str) -> str:
        self._encoder.load_segment(sound)
        path = best_path(self._encoder.phones(), self._grammar)
        if path is None or meaning(self._grammar, path.words) != meaning(self._grammar, label):
            return ""
        return path.words

    def line(self, name: str, sound: Samples) -> str:
        self._encoder.load_segment(sound)
        told = self._encoder.phones().argmax(axis=1)
        told = told[np.append(True, told[1:] != told[:-1])]
        heard = told[told > 0].tolist()
        near = sorted(
            (Levenshtein.distance(heard, phones) / len(phones), words)
            for words, phones in self._script(human.script(name)).items()
        )
        if not near or near[0][0] > MISHEARD:
            return ""
        return near[0][1] if len(near) == 1 or near[1][0] - near[0][0] >= NEARER else ""

    def _script(self, pieces: tuple[str, ...]) -> dict[str, list[int]]:
        """The words of each piece that can be told without guessing, and their phones."""
        if pieces in self._scripts:
            return self._scripts[pieces]
        said = self._scripts[pieces] = {}
        for piece in pieces:
            words = re.sub(r"[^a-z' ]", " ", piece.lower()).split()
            text = " ".join(filter(None, (word.strip("'") for word in words)))
            if text and not any(mark.isdigit() for mark in piece):
                with suppress(NoPronunciationError):
                    said[text] = [PHONE_INDEX[phone] for phone in self._say.phrase(text)[0]]
        return said
