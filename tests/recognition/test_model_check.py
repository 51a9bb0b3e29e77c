"""An installed model is held against what it was when it was first seen."""

from __future__ import annotations

import subprocess
from pathlib import Path

from tests.recognition.vosk_files import vosk_folder
from voicelog.recognition.model_check import (
    ModelCheck,
    check_vosk_models,
    kept_hashes,
    sha256_of_files,
)

VOSK = "vosk-model-small-en-us-0.15"


def test_a_model_put_there_by_hand_is_kept_when_first_verified(tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / VOSK)
    assert kept_hashes(folder) == {}
    assert check_vosk_models([tmp_path]) == (ModelCheck(folder, first_seen=True),)
    assert kept_hashes(folder) == sha256_of_files(folder)
    assert check_vosk_models([tmp_path]) == (ModelCheck(folder, first_seen=False),)


def test_a_changed_file_is_named(tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / VOSK)
    check_vosk_models([tmp_path])
    (folder / "am/final.mdl").write_bytes(b"other")
    (folder / "more").write_text("new")
    assert check_vosk_models([tmp_path]) == (
        ModelCheck(
            folder,
            f"Found am/final.mdl, more in '{folder}' changed since it was first seen, wanted "
            "the same; install the model again.",
        ),
    )


def test_a_broken_model_is_told_and_not_kept(tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / VOSK)
    (folder / "am/final.mdl").write_bytes(b"")
    (checked,) = check_vosk_models([tmp_path])
    assert checked.problem is not None
    assert checked.problem.startswith(f"Found an empty am/final.mdl in '{folder}'")
    assert kept_hashes(folder) == {}


def test_a_graph_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    folder = vosk_folder(tmp_path / VOSK)
    (folder / "graph/Gr.fst").write_bytes(b"cut")
    (checked,) = check_vosk_models([tmp_path])
    assert checked.problem is not None
    assert checked.problem.startswith(f"Found in '{folder}/graph/Gr.fst' no readable OpenFst data")


def test_what_is_half_way_is_passed_over(tmp_path: Path) -> None:
    vosk_folder(tmp_path / ".incoming" / VOSK)
    (tmp_path / f"{VOSK}.zip").write_bytes(b"PK")
    assert check_vosk_models([tmp_path, tmp_path / "not there"]) == ()


def test_the_hashes_are_as_sha256sum_wants_them(tmp_path: Path) -> None:
    vosk_folder(tmp_path / VOSK)
    check_vosk_models([tmp_path])
    done = subprocess.run(
        ["sha256sum", "-c", f"{VOSK}.sha256"], cwd=tmp_path, capture_output=True, text=True
    )
    assert done.returncode == 0
    assert done.stdout.count(": OK\n") == 7
    (tmp_path / VOSK / "am/final.mdl").write_bytes(b"other")
    again = subprocess.run(["sha256sum", "-c", f"{VOSK}.sha256"], cwd=tmp_path, capture_output=True)
    assert again.returncode == 1
