"""The careful listener's process: it answers, it ends, and its end is told in one sentence."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.hearing.speaking import demo, said_in
from tests.hearing.whisper_files import whisper_folder
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing import careful as careful_module
from voicelog.hearing.careful import ALONE, Careful, CarefulStoppedError
from voicelog.hearing.ctc import best_way
from voicelog.hearing.hear import Ears, hear
from voicelog.hearing.listener import Sound
from voicelog.hearing.models import ModelError
from voicelog.hearing.packaged import WhisperModel, packaged_whisper
from voicelog.hearing.sphinx import SphinxListener
from voicelog.model import Dog, Roster, Transmitter

GRAMMAR = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken", transmitter=Transmitter(top=20)),)))
STOPPED = (
    "Found the careful listener stopped, wanted an answer from it; hear the sound again later "
    "(voicelog rehear), or now with --listener quick."
)


@pytest.fixture
def model() -> WhisperModel:
    found = packaged_whisper() if find_spec("faster_whisper") else None
    if found is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    return found


@pytest.fixture
def listener(model: WhisperModel) -> Iterator[Careful]:
    made = Careful(model)
    yield made
    made.close()


def note() -> Sound:
    """ "start session bracken", as a demo recording has it."""
    said = said_in("day1-bracken")[0]
    return demo("day1-bracken", said.end_s + 0.3, start_s=said.start_s - 0.3)


def pid(listener: Careful) -> int:
    found = listener._process.pid
    assert found is not None
    return found


def test_its_process_answers_what_it_is_asked_and_goes_when_closed(listener: Careful) -> None:
    assert listener.name.startswith("whisper tiny.en, phones 1 (ctranslate2 ")
    assert pid(listener) != os.getpid()
    listener.attend(note())
    way = best_way(listener.phones(), GRAMMAR, Narrowing(top_level=20))
    assert way is not None
    assert way.words == "start session bracken"
    listener.close()
    assert not listener._process.is_alive()
    with pytest.raises(CarefulStoppedError):
        listener.attend(note())


def test_killed_while_a_recording_is_heard_it_is_told_and_the_quick_one_goes_on(
    listener: Careful,
) -> None:
    narrowing = Narrowing(top_level=20)
    ears = Ears(SphinxListener(GRAMMAR, narrowing), listener)

    def blocks() -> Iterator[Sound]:
        yield demo("day1-bracken", 5.0)
        os.kill(pid(listener), signal.SIGKILL)
        yield demo("day1-bracken", 13.0, start_s=5.0)

    found = list(hear(blocks(), ears, GRAMMAR, narrowing, "r"))
    assert ears.careful is None
    assert ears.note == f"{STOPPED} {ALONE}"
    assert len(found[0][1]) == 2
    assert len(found[-1][1]) == 1
    assert found[-1][2].words == "collar fitted"


def test_what_gives_no_answer_is_not_waited_for_for_ever(
    listener: Careful, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(careful_module, "PATIENCE_S", 0.3)
    os.kill(pid(listener), signal.SIGSTOP)
    before = time.monotonic()
    with pytest.raises(CarefulStoppedError) as raised:
        listener.phones()
    assert time.monotonic() - before < 20
    assert str(raised.value) == STOPPED
    listener._process.join(20)
    assert not listener._process.is_alive()


def test_a_model_that_is_not_the_one_known_is_told_in_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    if find_spec("faster_whisper") is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    other = WhisperModel(whisper_folder(tmp_path / "model"), "tiny.en")
    with pytest.raises(ModelError) as raised:
        Careful(other)
    assert str(raised.value).startswith(
        f"Found another config.json in '{other.folder}' than the one known (SHA-256 "
    )
    assert "Traceback" not in capfd.readouterr().err


def test_a_process_that_does_not_start_is_told(
    model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(careful_module, "_serve", os._exit)
    with pytest.raises(CarefulStoppedError):
        Careful(model)
