"""Only whole models are found, by language, and a broken one says what is wrong with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelog.recognition import fst
from voicelog.recognition.vosk_models import (
    ModelError,
    VoskModel,
    model_folders,
    vosk_model_for,
    vosk_models,
)

FILES = (
    "am/final.mdl",
    "conf/mfcc.conf",
    "conf/model.conf",
    "graph/HCLr.fst",
    "graph/Gr.fst",
    "graph/disambig_tid.int",
    "graph/phones/word_boundary.int",
)


def folder_of_files(folder: Path) -> Path:
    """A folder with a Vosk model's files, in which nothing could be heard."""
    for name in FILES:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")
    return folder


@pytest.mark.parametrize(
    ("folder", "name", "language"),
    [
        ("vosk-model-small-en-us-0.15", "small-en-us-0.15", "en-us"),
        ("vosk-model-en-us-0.22-lgraph", "en-us-0.22-lgraph", "en-us"),
        ("vosk-model-en-in-0.5", "en-in-0.5", "en-in"),
        ("vosk-model-small-ko-0.22", "small-ko-0.22", "ko"),
        ("vosk-model-ar-mgb2-0.4", "ar-mgb2-0.4", "ar"),
        ("vosk-ko", "ko", "ko"),
    ],
)
def test_the_folder_says_the_language(
    tmp_path: Path, folder: str, name: str, language: str
) -> None:
    model = VoskModel.read(folder_of_files(tmp_path / folder))
    assert (model.name, model.language) == (name, language)


@pytest.mark.parametrize("missing", FILES)
def test_a_model_with_a_file_missing_is_never_used(tmp_path: Path, missing: str) -> None:
    folder = folder_of_files(tmp_path / "vosk-model-small-en-us-0.15")
    (folder / missing).unlink()
    found = vosk_models([tmp_path])
    assert found.whole == ()
    assert [str(problem) for problem in found.broken] == [
        f"Found no {missing} in '{folder}', wanted a whole Vosk model; unpack the model again."
    ]
    assert vosk_model_for("en", [tmp_path]) is None


def test_a_model_with_an_empty_file_is_never_used(tmp_path: Path) -> None:
    folder = folder_of_files(tmp_path / "vosk-model-small-en-us-0.15")
    (folder / "am/final.mdl").write_bytes(b"")
    with pytest.raises(ModelError) as raised:
        VoskModel.read(folder)
    assert str(raised.value) == (
        f"Found an empty am/final.mdl in '{folder}', wanted a whole Vosk model; unpack the "
        "model again."
    )


def test_a_model_with_half_its_ivectors_is_never_used(tmp_path: Path) -> None:
    folder = folder_of_files(tmp_path / "vosk-model-small-en-us-0.15")
    (folder / "ivector").mkdir()
    (folder / "ivector/final.dubm").write_bytes(b"x")
    with pytest.raises(ModelError, match=r"^Found no ivector/final\.ie in "):
        VoskModel.read(folder)


def test_a_model_with_a_fixed_graph_is_refused(tmp_path: Path) -> None:
    folder = folder_of_files(tmp_path / "vosk-model-en-us-0.22")
    (folder / "graph/Gr.fst").unlink()
    (folder / "graph/HCLr.fst").rename(folder / "graph/HCLG.fst")
    with pytest.raises(ModelError) as raised:
        VoskModel.read(folder)
    assert str(raised.value) == (
        f"Found in '{folder}' a Vosk model with one fixed graph (HCLG.fst), wanted one that "
        "can be held to a grammar (HCLr.fst and Gr.fst); take a model named small or lgraph."
    )


def test_a_folder_without_a_language_in_its_name_is_refused(tmp_path: Path) -> None:
    folder = folder_of_files(tmp_path / "my model")
    with pytest.raises(ModelError) as raised:
        VoskModel.read(folder)
    assert str(raised.value) == (
        "Found the folder name 'my model', wanted a Vosk model's, such as "
        "vosk-model-small-en-us-0.15; give the folder its published name."
    )


def test_a_grammar_takes_its_region_then_any_of_its_language(tmp_path: Path) -> None:
    for name in ("vosk-model-small-en-in-0.4", "vosk-model-small-en-us-0.15", "vosk-ko"):
        folder_of_files(tmp_path / name)

    def chosen(language: str) -> str | None:
        model = vosk_model_for(language, [tmp_path])
        return model.name if model else None

    assert chosen("en-US") == "small-en-us-0.15"
    assert chosen("en_us") == "small-en-us-0.15"
    assert chosen("en") == "small-en-in-0.4"
    assert chosen("en-gb") == "small-en-in-0.4"
    assert chosen("ko") == "ko"
    assert chosen("de") is None


def test_archives_and_other_folders_are_passed_over(tmp_path: Path) -> None:
    (tmp_path / "vosk-model-small-en-us-0.15.zip").write_bytes(b"PK")
    folder_of_files(tmp_path / "another-model")
    assert vosk_models([tmp_path, tmp_path / "not there"]) == vosk_models([])


def test_models_are_looked_for_where_the_environment_says_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for place in ("one", "two"):
        folder_of_files(tmp_path / place / "vosk-model-small-en-us-0.15")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("VOICELOG_MODELS", f"{tmp_path / 'two'}:{tmp_path / 'one'}")
    assert model_folders()[:2] == (tmp_path / "two", tmp_path / "one")
    assert model_folders()[2].name == "models"
    model = vosk_model_for("en")
    assert model is not None
    assert model.folder.parent == tmp_path / "two"


def test_the_users_models_are_found_without_any_setting(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("VOICELOG_MODELS", raising=False)
    monkeypatch.setattr(
        "voicelog.recognition.vosk_models.user_data_dir", lambda name: tmp_path / name
    )
    folder_of_files(tmp_path / "voicelog/models/vosk-model-small-en-us-0.15")
    assert vosk_model_for("en") is not None


def test_words_are_read_beside_a_graph_that_carries_none(tmp_path: Path) -> None:
    folder = folder_of_files(tmp_path / "vosk-model-small-en-us-0.15")
    graph = folder / "graph/Gr.fst"
    fst.write(fst.Acceptor(((),), (0.0,)), {}, graph)
    raw = graph.read_bytes()
    # The flags, after the magic number, "vector", "standard" and the version.
    graph.write_bytes(raw[:30] + bytes(4) + raw[34:])
    (folder / "graph/words.txt").write_text("<eps> 0\nlevel 1\nthree 2\n", "utf-8")
    assert VoskModel.read(folder).word_ids() == {"<eps>": 0, "level": 1, "three": 2}
    (folder / "graph/words.txt").unlink()
    with pytest.raises(ModelError, match=r"^Found no word list in "):
        VoskModel.read(folder).word_ids()
