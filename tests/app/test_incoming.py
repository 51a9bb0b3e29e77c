"""Files on their way into the log: pieces, interruptions, doubles, and what comes of them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.web.evening import NOW, ROSTER
from voicelog.app.add import add_file
from voicelog.app.archive import backup_log
from voicelog.app.incoming import (
    IncomingError,
    OffsetError,
    begin_incoming,
    forget_incoming,
    hear_incoming,
    incoming_files,
    keep_anyway,
    received_bytes,
    take_piece,
)
from voicelog.app.open_file import IntakeOptions
from voicelog.app.same_sound import SameSoundError
from voicelog.model.adding import AddedFile
from voicelog.model.incoming import IncomingFile
from voicelog.store import Log
from voicelog.store.file_lock import file_lock, is_locked

NOTES = b"ss bracken\nhere l3 c\nhere nb c\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with Log.open(tmp_path / "log", now=lambda: NOW) as log:
        for dog in ROSTER.dogs:
            log.put_dog(dog)
        return log.folder


def bring(folder: Path, name: str, content: bytes, stamp: str = "1") -> IncomingFile:
    one = begin_incoming(folder, name, len(content), stamp=stamp)
    return take_piece(folder, one.id, received_bytes(folder, one), content)


def test_a_file_comes_in_pieces_and_goes_on_where_it_broke_off(folder: Path) -> None:
    one = begin_incoming(folder, "C:\\notes\\mon day.txt", len(NOTES))
    assert one.name == "mon day.txt"
    take_piece(folder, one.id, 0, NOTES[:10])
    for wrong in (0, 9, 11):
        with pytest.raises(OffsetError) as refused:
            take_piece(folder, one.id, wrong, NOTES[wrong:])
        assert refused.value.have == 10
    with pytest.raises(OffsetError):
        take_piece(folder, one.id, 10, NOTES)
    again = begin_incoming(folder, "mon day.txt", len(NOTES))
    assert (again.id, received_bytes(folder, again)) == (one.id, 10)
    assert take_piece(folder, one.id, 10, NOTES[10:]).state == "waiting"
    hear_incoming(folder)
    (found,) = incoming_files(folder)
    assert (found.state, found.told[:12]) == ("done", "3 notes sure")
    assert not list((folder / "incoming" / one.id).iterdir())
    with Log.open(folder, now=lambda: NOW) as log:
        assert [kept.file_name for kept in log.recordings()] == ["mon day.txt"]
    bring(folder, "mon day.txt", NOTES)
    assert found.key
    hear_incoming(folder)
    assert "already in the log" in incoming_files(folder)[1].told
    assert "--at" not in found.told


def test_what_cannot_be_taken_is_told_and_one_that_sounds_like_another_is_asked(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(IncomingError, match="to receive"):
        begin_incoming(folder, "../..", 3)
    with pytest.raises(IncomingError, match="too little room"):
        begin_incoming(folder, "long.wav", shutil.disk_usage(folder).free)
    with pytest.raises(IncomingError, match="no file"):
        take_piece(folder, "../log.sqlite3", 0, b"x")
    one = bring(folder, "a.txt", b"ss bracken\n3 5 came\n")
    hear_incoming(folder)
    (found,) = incoming_files(folder)
    assert found.state == "refused"
    assert str(folder) not in found.told
    forget_incoming(folder, one.id)
    assert incoming_files(folder) == []
    first = bring(folder, "mon.txt", NOTES)
    hear_incoming(folder)
    with Log.open(folder, now=lambda: NOW) as log:
        (known,) = log.recordings()

    def alike(log: Log, path: Path, options: IntakeOptions, *, anyway: bool) -> AddedFile:
        if not anyway:
            raise SameSoundError(path, known)
        return add_file(log, path, options, anyway=anyway)

    monkeypatch.setattr("voicelog.app.incoming.add_file", alike)
    second = bring(folder, "tue.txt", b"ss wren\nhere c\n")
    hear_incoming(folder)
    states = {one.id: one.state for one in incoming_files(folder)}
    assert states == {first.id: "done", second.id: "like another"}
    with pytest.raises(IncomingError, match="is not waiting"):
        keep_anyway(folder, first.id)
    keep_anyway(folder, second.id)
    with file_lock(folder / "incoming.lock") as mine:
        assert mine
        hear_incoming(folder)  # another hears
        assert is_locked(folder / "incoming.lock")
    assert incoming_files(folder)[1].state == "waiting"
    hear_incoming(folder)
    assert incoming_files(folder)[1].state == "done"
    with Log.open(folder, now=lambda: NOW) as log:
        assert len(log.recordings()) == 2


def test_one_that_was_being_heard_when_all_was_killed_is_heard_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(folder, "mon.txt", NOTES)

    def killed(*_: object, **__: object) -> None:
        raise SystemExit

    with monkeypatch.context() as patch:
        patch.setattr("voicelog.app.incoming.add_file", killed)
        with pytest.raises(SystemExit):
            hear_incoming(folder)
    assert incoming_files(folder)[0].state == "hearing"
    hear_incoming(folder)
    assert incoming_files(folder)[0].state == "done"


def test_one_at_which_the_program_fails_or_dies_again_and_again_is_left(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(folder, "mon.txt", NOTES)
    bring(folder, "tue.txt", NOTES + b"here c\n")
    faults: list[BaseException] = [KeyError("x"), SystemExit(), SystemExit(), SystemExit()]

    def failing(*_: object, **__: object) -> None:
        raise faults.pop(0)

    monkeypatch.setattr("voicelog.app.incoming.add_file", failing)
    for _ in range(3):
        with pytest.raises(SystemExit):
            hear_incoming(folder)
    hear_incoming(folder)
    told = [one.told for one in incoming_files(folder)]
    assert "inside (KeyError)" in told[0]
    assert "three times" in told[1]


def test_a_backup_comes_back(folder: Path, tmp_path: Path) -> None:
    bring(folder, "mon.txt", NOTES)
    hear_incoming(folder)
    with Log.open(folder, now=lambda: NOW) as log:
        path, _ = backup_log(log, tmp_path / "saved.zip")
    with Log.open(tmp_path / "other", now=lambda: NOW) as log:
        other = log.folder
    content = path.read_bytes()
    one = begin_incoming(other, path.name, len(content), kind="backup")
    take_piece(other, one.id, 0, content)
    hear_incoming(other)
    assert "1 new recording" in incoming_files(other)[0].told
