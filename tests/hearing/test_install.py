"""A model is put in place whole, checked and known again, or not at all."""

from __future__ import annotations

import shutil
from hashlib import sha256
from pathlib import Path

import pytest

from tests.hearing.serving import serving
from tests.hearing.vosk_files import vosk_folder
from tests.hearing.whisper_files import weights_file, whisper_folder
from voicelog.hearing import install as room
from voicelog.hearing.fetch import FetchError
from voicelog.hearing.install import install
from voicelog.hearing.models import ModelError, vosk_for, whisper_for
from voicelog.hearing.publishers import PUBLISHED, Published
from voicelog.hearing.unpack import ArchiveError
from voicelog.hearing.verify import verify
from voicelog.model import VoicelogError

VOSK = "vosk-model-small-en-us-0.15"
WHISPER = "faster-whisper-base.en"


@pytest.fixture
def models(tmp_path: Path) -> Path:
    """The models folder, empty."""
    return tmp_path / "models"


@pytest.fixture
def vosk_zip(tmp_path: Path) -> Path:
    """A Vosk model as it is published."""
    vosk_folder(tmp_path / "made" / VOSK)
    return Path(shutil.make_archive(str(tmp_path / VOSK), "zip", tmp_path / "made", VOSK))


@pytest.fixture(autouse=True)
def no_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    fetch = room.fetch
    monkeypatch.setattr(
        room, "fetch", lambda *args, **how: fetch(*args, **how, pause=lambda _s: None)
    )


def digest(body: bytes) -> str:
    return sha256(body).hexdigest()


def hub_files(folder: Path) -> dict[str, bytes]:
    return {
        f"/Maker/{WHISPER}/resolve/main/{path.name}": path.read_bytes() for path in folder.iterdir()
    }


def nothing_left(models: Path) -> bool:
    """Neither a model nor anything half-way."""
    return not any(models.iterdir())


# --- from hand


def test_an_archive_in_hand_is_installed(models: Path, vosk_zip: Path) -> None:
    done = install(str(vosk_zip), into=models)
    assert (done.name, done.seen_before) == (VOSK, False)
    assert done.sha256 == digest(vosk_zip.read_bytes())
    model = vosk_for("en", [models])
    assert model is not None
    assert model.folder == models / VOSK
    assert sorted(path.name for path in models.iterdir()) == [VOSK, f"{VOSK}.sha256"]


@pytest.mark.parametrize("form", ["zip", "tar", "gztar", "xztar"])
def test_an_archive_without_a_folder_inside_is_named_for_its_file(
    models: Path, tmp_path: Path, form: str
) -> None:
    whisper_folder(tmp_path / "made")
    archive = shutil.make_archive(str(tmp_path / WHISPER), form, tmp_path / "made")
    assert install(archive, into=models).folder == models / WHISPER


def test_a_folder_in_hand_is_copied(models: Path, tmp_path: Path) -> None:
    folder = whisper_folder(tmp_path / "my own.en")
    done = install(str(folder), into=models)
    assert done.name == "whisper-my own.en"
    assert done.sha256 == digest(weights_file())
    assert folder.exists()
    assert whisper_for("en", among=[models]) is not None


def test_a_folder_of_a_hubs_cache_keeps_the_models_name(models: Path, tmp_path: Path) -> None:
    blobs = whisper_folder(tmp_path / "blobs")
    folder = tmp_path / f"models--Maker--{WHISPER}" / "snapshots" / "0a1b2c"
    folder.mkdir(parents=True)
    for blob in blobs.iterdir():
        (folder / blob.name).symlink_to(blob)
    done = install(str(folder), into=models)
    assert done.name == WHISPER
    assert not (done.folder / "model.bin").is_symlink()


# --- from a publisher


def test_an_archive_is_fetched_from_an_address(models: Path, vosk_zip: Path) -> None:
    body = vosk_zip.read_bytes()
    with serving(files={f"/{VOSK}.zip": body}, cut_after=[len(body) // 2]) as server:
        done = install(server.at(f"/{VOSK}.zip"), into=models)
        assert len(server.asked) == 2
    assert done.sha256 == digest(body)
    assert done.folder == models / VOSK
    assert sorted(path.name for path in models.iterdir()) == [VOSK, f"{VOSK}.sha256"]


def test_the_files_of_a_whisper_model_are_fetched_one_by_one(models: Path, tmp_path: Path) -> None:
    files = hub_files(whisper_folder(tmp_path / "made"))
    with serving(files=files) as server:
        done = install(server.at(f"/Maker/{WHISPER}/tree/main"), into=models)
    assert done.folder == models / WHISPER
    assert done.sha256 == digest(weights_file())
    assert whisper_for("en", "base.en", [models]) is not None


def test_a_whisper_model_may_have_its_words_in_json(models: Path, tmp_path: Path) -> None:
    made = whisper_folder(tmp_path / "made")
    (made / "vocabulary.txt").rename(made / "vocabulary.json")
    with serving(files=hub_files(made)) as server:
        install(server.at(f"/Maker/{WHISPER}"), into=models)
    assert (models / WHISPER / "vocabulary.json").exists()


def test_what_came_before_the_connection_was_lost_is_kept_for_the_next_try(
    models: Path, tmp_path: Path
) -> None:
    files = hub_files(whisper_folder(tmp_path / "made"))
    address = f"/Maker/{WHISPER}"
    with serving(files=files, cut_after=[99, 99, 99, 30_000, 0, 0, 0, 0]) as server:
        with pytest.raises(FetchError, match=r"the connection was cut"):
            install(server.at(address), into=models)
        assert whisper_for("en", among=[models]) is None
        assert verify([models]) == ()
        server.cut_after.clear()
        server.asked.clear()
        install(server.at(address), into=models)
        assert server.asked == [(f"{address}/resolve/main/model.bin", "bytes=30000-")]


@pytest.mark.parametrize("name", ["small-en-us-0.15", "base.en", "faster-whisper-SMALL.en"])
def test_published_models_are_known_by_name(
    models: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    asked: list[str] = []

    def refuse(url: str, *_: object, **__: object) -> None:
        asked.append(url)
        raise FetchError("not now")

    monkeypatch.setattr(room, "fetch", refuse)
    with pytest.raises(FetchError):
        install(name, into=models)
    assert asked[0].startswith(("https://alphacephei.com/", "https://huggingface.co/Systran/"))


def test_every_published_model_is_asked_for_over_https() -> None:
    assert all(one.url.startswith("https://") for one in PUBLISHED)
    assert len({one.short for one in PUBLISHED}) == len(PUBLISHED)
    assert all(isinstance(one, Published) and one.megabytes > 0 for one in PUBLISHED)


def test_an_unknown_name_is_answered_with_the_known(models: Path) -> None:
    with pytest.raises(ModelError) as raised:
        install("basic.en", into=models)
    assert str(raised.value) == (
        "Found no model or file 'basic.en', wanted a name (small-en-us-0.15, tiny.en, base.en, "
        "small.en), a file or folder, or an address that begins with https://; correct it."
    )


# --- what is refused


def put_in(models: Path, what: str | Path, **how: object) -> str:
    """The sentence with which a model is refused."""
    with pytest.raises(VoicelogError) as raised:
        install(str(what), into=models, **how)  # type: ignore[arg-type]
    return str(raised.value)


def test_a_wrong_hash_is_refused_and_nothing_is_kept(models: Path, vosk_zip: Path) -> None:
    right = digest(vosk_zip.read_bytes())
    with serving(files={f"/{VOSK}.zip": vosk_zip.read_bytes()}) as server:
        said = put_in(models, server.at(f"/{VOSK}.zip"), sha256="0" * 64)
        assert said == (
            f"Found the SHA-256 {right} for {VOSK}, wanted {'0' * 64}; get it again, or ask its "
            "publisher for the right one."
        )
        assert nothing_left(models)
        assert install(server.at(f"/{VOSK}.zip"), into=models, sha256=right.upper()).name == VOSK


def test_a_page_in_place_of_an_archive_is_refused_and_fetched_anew_next_time(
    models: Path, vosk_zip: Path
) -> None:
    with serving(files={f"/{VOSK}.zip": b"<html>Log in to this network"}) as server:
        assert put_in(models, server.at(f"/{VOSK}.zip")) == (
            f"Found '{VOSK}.zip' damaged or no archive, wanted a model's .zip or .tar archive; "
            "get it again."
        )
        assert nothing_left(models)
        server.files[f"/{VOSK}.zip"] = vosk_zip.read_bytes()
        install(server.at(f"/{VOSK}.zip"), into=models)


def test_a_page_in_place_of_weights_is_refused(models: Path, tmp_path: Path) -> None:
    files = hub_files(whisper_folder(tmp_path / "made", b"<html>Log in to this network"))
    with serving(files=files) as server:
        said = put_in(models, server.at(f"/Maker/{WHISPER}"))
    assert "(it is no CTranslate2 model)" in said
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


def test_an_installed_model_is_not_fetched_again_unless_asked(models: Path, vosk_zip: Path) -> None:
    with serving(files={f"/{VOSK}.zip": vosk_zip.read_bytes()}) as server:
        address = server.at(f"/{VOSK}.zip")
        install(address, into=models)
        assert put_in(models, address) == (
            f"Found {VOSK} installed in '{models}' already, wanted a model that is not; leave it, "
            "or add --again to put it in anew."
        )
        assert len(server.asked) == 1
        done = install(address, into=models, again=True)
        assert done.seen_before
    assert sorted(path.name for path in models.iterdir()) == [VOSK, f"{VOSK}.sha256"]


def test_a_broken_model_gives_way(models: Path, vosk_zip: Path) -> None:
    install(str(vosk_zip), into=models)
    (models / VOSK / "am/final.mdl").write_bytes(b"")
    assert install(str(vosk_zip), into=models).seen_before
    assert vosk_for("en", [models]) is not None


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
    assert vosk_for("en", [models]) is None
    install(str(newer), into=models, sha256=right)
    assert [checked.problem for checked in verify([models])] == [None]


def test_a_place_that_may_not_be_written_is_said(tmp_path: Path, vosk_zip: Path) -> None:
    (tmp_path / "models").write_text("a file")
    assert put_in(tmp_path / "models", vosk_zip) == (
        f"Found no way to put a model into '{tmp_path / 'models'}' (Not a directory), wanted a "
        "folder of your own with free space; name another in VOICELOG_MODELS."
    )


def test_an_address_cannot_name_a_place_outside(models: Path, vosk_zip: Path) -> None:
    with serving() as server:
        server.files = {"/..%2F..%2Fescaped.zip": vosk_zip.read_bytes()}
        install(server.at("/..%2F..%2Fescaped.zip"), into=models)
    assert sorted(path.name for path in models.iterdir()) == [VOSK, f"{VOSK}.sha256"]


def test_two_fetches_of_one_model_do_not_mix(
    models: Path, vosk_zip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with serving(files={f"/{VOSK}.zip": vosk_zip.read_bytes()}) as server:
        address, said = server.at(f"/{VOSK}.zip"), []
        fetch = room.fetch

        def meanwhile(*args: object, **how: object) -> None:
            monkeypatch.setattr(room, "fetch", fetch)
            said.append(put_in(models, address))
            fetch(*args, **how)  # type: ignore[arg-type]

        monkeypatch.setattr(room, "fetch", meanwhile)
        install(address, into=models)
    assert said == [
        f"Found {VOSK}.zip being fetched by another voicelog, wanted to fetch it alone; let that "
        "one end."
    ]


def test_progress_is_told_by_file(models: Path, tmp_path: Path) -> None:
    told: dict[str, int] = {}
    files = hub_files(whisper_folder(tmp_path / "made"))
    with serving(files=files) as server:
        install(
            server.at(f"/Maker/{WHISPER}"),
            into=models,
            progress_of=lambda name: lambda done, _total: told.update({name: done}),
        )
    assert told["model.bin"] == len(weights_file())
    assert list(told) == ["config.json", "tokenizer.json", "vocabulary.txt", "model.bin"]


def test_an_archive_that_may_not_be_unpacked_is_refused(models: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    path.write_bytes(b"PK")
    with pytest.raises(ArchiveError):
        install(str(path), into=models)
    assert nothing_left(models)
