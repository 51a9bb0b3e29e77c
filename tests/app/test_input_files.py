"""A folder stands for the recordings and typed notes in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelog.app.input_files import EmptyFolderError, input_files
from voicelog.app.open_file import IntakeOptions
from voicelog.model import Roster
from voicelog.safety.settings import Settings


def made(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("here l3 came\n", encoding="utf-8")


def test_a_folder_is_gone_through_and_what_is_no_recording_is_left_out(tmp_path: Path) -> None:
    made(
        tmp_path,
        *("day 2/take 2.wav", "day 2/take 10.WAV", "day 10/a.opus", "notes.txt"),
        *(".hidden.wav", "._take.m4a", "~$notes.txt", "half.wav.part", "photo.jpg", "old.txt~"),
        *(".trash/a.wav", "__MACOSX/b.wav"),
    )
    found = input_files([tmp_path], typed=False)
    names = [str(path.relative_to(tmp_path)) for path in found.paths]
    assert names == ["day 2/take 2.wav", "day 2/take 10.WAV", "day 10/a.opus", "notes.txt"]
    assert found.typed == {tmp_path / "notes.txt"}
    assert found.left_out == 6
    options = IntakeOptions(Roster(), Settings())
    assert [found.options_for(path, options).typed for path in found.paths] == [
        *(False, False, False, True)
    ]


def test_typed_alone_takes_text_alone_and_files_are_taken_once(tmp_path: Path) -> None:
    made(tmp_path, "a.wav", "b.txt", "c.md")
    named = [tmp_path / "c.md", tmp_path, tmp_path / "gone.wav"]
    found = input_files(named, typed=True)
    assert [path.name for path in found.paths] == ["c.md", "b.txt", "gone.wav"]


def test_a_folder_with_nothing_in_it_is_refused(tmp_path: Path) -> None:
    made(tmp_path, "photo.jpg", "a.wav")
    with pytest.raises(EmptyFolderError, match=r"Found no typed notes \(\.txt"):
        input_files([tmp_path], typed=True)
    (tmp_path / "a.wav").unlink()
    with pytest.raises(EmptyFolderError, match="Found no recordings or typed notes in the folder"):
        input_files([tmp_path], typed=False)
