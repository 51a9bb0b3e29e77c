"""The careful listener's process: it answers, it ends, and its end is told in one sentence."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from tests.recognition.speaking import demo, said_in
from tests.recognition.whisper_files import whisper_folder
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Roster, Transmitter
from voicelog.recognition import careful_recognizer as careful_module
from voicelog.recognition.careful_recognizer import ALONE, CarefulProcess, CarefulStoppedError
from voicelog.recognition.ctc import best_path
from voicelog.recognition.recognize import Recognizers, recognize
from voicelog.recognition.sphinx import SphinxRecognizer
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import OWN_LAYER, WhisperModel, packaged_whisper_model

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", transmitter=Transmitter(top=20)),)))
STOPPED = (
    "Found the careful listener stopped, wanted an answer from it; hear the sound again later "
    "(voicelog rehear), or now with --listener quick."
)


@pytest.fixture
def model() -> WhisperModel:
    found = packaged_whisper_model() if find_spec("faster_whisper") else None
    if found is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    return found


@pytest.fixture
def listener(model: WhisperModel) -> Iterator[CarefulProcess]:
    made = CarefulProcess(model)
    yield made
    made.close()


def note() -> Samples:
    """ "start session bracken", as a demo recording has it."""
    said = said_in("day1-bracken")[0]
    return demo("day1-bracken", said.end_s + 0.3, start_s=said.start_s - 0.3)


def pid(listener: CarefulProcess) -> int:
    found = listener._process.pid
    assert found is not None
    return found


def test_its_process_answers_what_it_is_asked_and_goes_when_closed(
    listener: CarefulProcess,
) -> None:
    assert listener.name.startswith("whisper tiny.en, phones 3 (ctranslate2 ")
    assert pid(listener) != os.getpid()
    listener.load_segment(note())
    way = best_path(listener.phones(), GRAMMAR, RecognitionContext(top_level=20))
    assert way is not None
    assert way.words == "start session bracken"
    listener.close()
    assert not listener._process.is_alive()
    with pytest.raises(CarefulStoppedError):
        listener.load_segment(note())


def test_killed_while_a_recording_is_heard_it_is_told_and_the_quick_one_goes_on(
    listener: CarefulProcess,
) -> None:
    recognition_context = RecognitionContext(top_level=20)
    recognizers = Recognizers(SphinxRecognizer(GRAMMAR, recognition_context), listener)

    def blocks() -> Iterator[Samples]:
        yield demo("day1-bracken", 5.0)
        os.kill(pid(listener), signal.SIGKILL)
        yield demo("day1-bracken", 13.0, start_s=5.0)

    found = list(recognize(blocks(), recognizers, GRAMMAR, recognition_context, "r"))
    assert recognizers.careful is None
    assert recognizers.note == f"{STOPPED} {ALONE}"
    assert [reading.who.split()[0] for reading in found[0][1]] == ["whisper"]
    assert [reading.who.split()[0] for reading in found[-1][1]] == ["pocketsphinx"]
    assert found[-1][2].words == "collar fitted"


def test_what_gives_no_answer_is_not_waited_for_for_ever(
    listener: CarefulProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(careful_module, "PATIENCE_S", 0.3)
    os.kill(pid(listener), signal.SIGSTOP)
    before = time.monotonic()
    with pytest.raises(CarefulStoppedError) as raised:
        listener.phones()
    assert time.monotonic() - before < 20
    assert str(raised.value) == STOPPED
    listener._process.join(60)
    assert not listener._process.is_alive()


def test_a_model_that_is_not_the_one_known_is_told_in_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    if find_spec("faster_whisper") is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    other = WhisperModel(whisper_folder(tmp_path / "model"), "tiny.en")
    with pytest.raises(ModelError) as raised:
        CarefulProcess(other)
    assert str(raised.value).startswith(
        f"Found another config.json in '{other.folder}' than the one known (SHA-256 "
    )
    assert "Traceback" not in capfd.readouterr().err


def test_a_process_that_does_not_start_is_told(
    model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(careful_module, "_serve", os._exit)
    with pytest.raises(CarefulStoppedError):
        CarefulProcess(model)


def test_a_layer_of_the_form_before_is_refused_in_one_sentence(tmp_path: Path) -> None:
    np.savez(tmp_path / OWN_LAYER, narrow=np.zeros((3, 2)), wide=np.zeros((6, 4)))
    with pytest.raises(ModelError) as told:
        careful_module._own_layer(tmp_path)
    assert str(told.value) == (
        f"Found a layer of another form in '{tmp_path}' (it holds no 'begin'), wanted one made by "
        f"this version; make it again: python -m training.own_model '{tmp_path}'."
    )
