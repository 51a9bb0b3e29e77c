"""A few known words that each recognizer has to hear before "listening" is said.

That its models were loaded does not prove that a recognizer hears. The words are of the demo, whose
voices are synthetic.
"""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.app.recognizers import LoadedRecognizers
from voicelog.audio.files import blocks
from voicelog.audio.resampling import RATE, Samples
from voicelog.grammar.data_folders import data_folder
from voicelog.model import VoicelogError

__all__ = ["TEST_WORDS", "heard_test"]

TEST_WORDS = "distraction low"
"""What is said in the stretch of the demo that is played."""
_FILE = ("day1-bracken", "day1-bracken.opus")
_FROM_S, _TO_S = 37.2, 39.8


def heard_test(loaded: LoadedRecognizers) -> tuple[str, ...]:
    """The names of those recognizers of `loaded` that heard the words; none where the demo is not
    there. Where a grammar of the user's own does not know the words, any reading is enough."""
    known = bool(loaded.grammar.interpret(TEST_WORDS))
    try:
        utterances = list(loaded.recognize(_sound(), "hearing test"))
    except (VoicelogError, OSError):
        return ()
    heard = {
        reading.who
        for _, readings, _ in utterances
        for reading in readings
        if reading.words == TEST_WORDS or (reading.words and not known)
    }
    return tuple(name for name in loaded.recognizers.names if name in heard)


def _sound() -> Iterator[Samples]:
    """The stretch of the demo: float32, mono, at RATE."""
    folder, name = _FILE
    at = 0
    start, end = round(_FROM_S * RATE), round(_TO_S * RATE)
    for block in blocks(data_folder("demo_audio") / folder / name):
        if at >= end:
            return
        part = block[max(0, start - at) : max(0, end - at)]
        at += len(block)
        if len(part):
            yield part
