"""The careful listener's process: it answers, it ends, and its end is told in one sentence."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.hearing.speaking import demo, said_in
from tests.hearing.whisper_files import whisper_folder
from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing import careful as careful_module
from voicelog.hearing.careful import ALONE, Careful, CarefulStoppedError, lead_for
from voicelog.hearing.ctc import best_way
from voicelog.hearing.hear import Ears, hear
from voicelog.hearing.listener import Sound
from voicelog.hearing.models import ModelError, WhisperModel
from voicelog.hearing.packaged import packaged_whisper
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
    made = Careful(GRAMMAR, model, top_level=20)
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
    assert "session" in listener.held()[0].text.casefold()
    assert listener.free().text
    told = listener.phones()
    assert told is not None
    way = best_way(told, GRAMMAR, Narrowing(top_level=20))
    assert way is not None
    assert way.words == "start session bracken"
    right, wrong = listener.weigh(["Start session bracken.", "Level 7, came."])
    assert right.total > wrong.total
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
        listener.held()
    assert time.monotonic() - before < 20
    assert str(raised.value) == STOPPED
    listener._process.join(20)
    assert not listener._process.is_alive()


def test_a_model_that_cannot_be_loaded_is_told_in_one_sentence(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    if find_spec("faster_whisper") is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    broken = WhisperModel.read(whisper_folder(tmp_path / "faster-whisper-base.en"))
    with pytest.raises(ModelError) as raised:
        Careful(GRAMMAR, broken)
    assert str(raised.value).startswith(
        f"Found a Whisper model in '{broken.folder}' that cannot be loaded ("
    )
    assert str(raised.value).endswith("), wanted a whole one; install the model again.")
    assert "Traceback" not in capfd.readouterr().err


@pytest.mark.parametrize(
    ("tokenizer", "begins"),
    [
        ("{}", "Found in '{folder}' a tokenizer.json that cannot be read ("),
        (
            '{"version":"1.0","truncation":null,"padding":null,"added_tokens":[],'
            '"normalizer":null,"pre_tokenizer":null,"post_processor":null,"decoder":null,'
            '"model":{"type":"BPE","vocab":{"a":0},"merges":[]}}',
            "Found no <|endoftext|> in tokenizer.json, wanted the tokens of a Whisper model;",
        ),
    ],
)
def test_a_tokenizer_of_something_else_is_told_in_one_sentence(
    model: WhisperModel,
    tmp_path: Path,
    tokenizer: str,
    begins: str,
    capfd: pytest.CaptureFixture[str],
) -> None:
    folder = tmp_path / "faster-whisper-odd.en"
    folder.mkdir()
    for path in model.folder.iterdir():
        if path.is_file() and path.name != "tokenizer.json":
            (folder / path.name).symlink_to(path)
    (folder / "tokenizer.json").write_text(tokenizer)
    with pytest.raises(ModelError) as raised:
        Careful(GRAMMAR, replace(model, folder=folder))
    assert str(raised.value).startswith(begins.format(folder=folder))
    assert "Traceback" not in capfd.readouterr().err


def test_a_process_that_does_not_start_is_told(
    model: WhisperModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(careful_module, "_serve", os._exit)
    with pytest.raises(CarefulStoppedError):
        Careful(GRAMMAR, model)


def test_it_is_told_the_words_the_numbers_in_range_and_notes_like_those_to_come() -> None:
    lead = lead_for(GRAMMAR)
    assert lead.words == GRAMMAR.vocabulary
    assert {"0", "20", "100"} <= set(lead.numbers)
    assert all(int(number) <= 100 for number in lead.numbers)
    assert lead.example.startswith("Bracken.")
    assert lead.language == "en"
    assert lead_for(Grammar.load(Path(__file__).parent / "grammars" / "ko")).language == "ko"
    wide = lead_for(GRAMMAR, top_level=127)
    assert set(lead.numbers) <= set(wide.numbers)
