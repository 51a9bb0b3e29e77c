"""Models are listed, installed by one command and verified, and mishaps are sentences."""

from __future__ import annotations

import shutil
from hashlib import sha256
from pathlib import Path

import pytest

from tests.cli.run import Voicelog
from tests.recognition.vosk_files import vosk_folder
from voicelog.recognition.recognizers import AvailableRecognizer

VOSK = "vosk-model-small-en-us-0.15"


@pytest.fixture(autouse=True)
def models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The models folder, which does not exist yet."""
    monkeypatch.setenv("VOICELOG_MODELS", str(tmp_path / "models"))
    monkeypatch.setattr(
        "voicelog.recognition.vosk_models.user_data_dir", lambda name: tmp_path / name
    )
    return tmp_path / "models"


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    vosk_folder(tmp_path / "made" / VOSK)
    return Path(shutil.make_archive(str(tmp_path / VOSK), "zip", tmp_path / "made", VOSK))


def test_what_is_there_and_where_models_lie_is_listed(
    voicelog: Voicelog, models: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = (
        AvailableRecognizer("pocketsphinx 5 en-us", used=True),
        AvailableRecognizer("whisper base.en (x)", used=False),
    )
    monkeypatch.setattr(
        "voicelog.recognition.recognizers.available_recognizers", lambda _language: found
    )
    assert voicelog("listeners", "list").out.splitlines() == [
        "in use: pocketsphinx 5 en-us",
        "there: whisper base.en (x)",
        f"Models lie in {models}, or {tmp_path}/voicelog/models.",
    ]


def test_a_model_that_is_not_whole_is_listed_with_the_reason(
    voicelog: Voicelog, models: Path
) -> None:
    vosk_folder(models / VOSK)
    (models / VOSK / "am/final.mdl").write_bytes(b"")
    assert (
        f"not usable: Found an empty am/final.mdl in '{models / VOSK}', wanted a whole Vosk model; "
        "unpack the model again."
    ) in voicelog("listeners", "list").out.splitlines()


def test_one_command_installs_and_shows_the_hash(
    voicelog: Voicelog, models: Path, archive: Path
) -> None:
    body = archive.read_bytes()
    done = voicelog("listeners", "install", archive)
    assert (done.code, done.err) == (0, "")
    assert done.out == (
        f"{VOSK} is installed in {models}.\nSHA-256 {sha256(body).hexdigest()}, kept from now on.\n"
    )
    again = voicelog("listeners", "install", archive)
    assert again.code == 1
    assert again.err == (
        f"voicelog: Found {VOSK} installed in '{models}' already, wanted a model that is not; "
        "leave it, or add --again to put it in anew.\n"
    )
    anew = voicelog("listeners", "install", archive, "--again")
    assert anew.out.endswith(", as when it was first seen here.\n")


def test_the_name_of_a_model_is_answered_in_a_sentence(voicelog: Voicelog, models: Path) -> None:
    done = voicelog("listeners", "install", "small-en-us-0.15")
    assert (done.code, done.out) == (1, "")
    assert done.err == (
        "voicelog: Found no file or folder 'small-en-us-0.15', wanted a model's archive or folder "
        "on this computer; get the model from its maker and name the file.\n"
    )
    assert not models.exists()


def test_a_wrong_hash_fails(voicelog: Voicelog, models: Path, archive: Path) -> None:
    done = voicelog("listeners", "install", archive, "--sha256", "ab" * 32)
    assert done.code == 1
    assert done.err.startswith("voicelog: Found the SHA-256 ")
    assert list(models.iterdir()) == []


def test_verify_says_what_is_good_and_fails_on_what_is_not(
    voicelog: Voicelog, models: Path, archive: Path
) -> None:
    assert voicelog("listeners", "verify").out == (
        "No model is installed. PocketSphinx brings its own.\n"
    )
    voicelog("listeners", "install", archive)
    good = voicelog("listeners", "verify")
    assert (good.code, good.out) == (
        0,
        f"{VOSK}: whole, as first seen.\n",
    )
    (models / VOSK / "am/final.mdl").write_bytes(b"changed")
    bad = voicelog("listeners", "verify")
    assert bad.code == 1
    assert bad.err == (
        f"voicelog: Found am/final.mdl in '{models / VOSK}' changed since it was first seen, "
        "wanted the same; install the model again.\n"
    )
