"""What a bag may hold, and every way in which one may be made to do harm."""

from __future__ import annotations

import hashlib
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.store.log_cases import NOON
from voicelog.store import FileAccessError
from voicelog.store.bagit import BagItError, is_bagit, open_bagit, write_bagit

Spoil = Callable[[zipfile.ZipFile], None]


def made(path: Path, files: dict[str, bytes], spoil: Spoil | None = None) -> Path:
    """A bag made by hand; `spoil` adds what should not be there."""
    sums = "".join(f"{hashlib.sha256(d).hexdigest()}  {n}\n" for n, d in files.items())
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("b/bagit.txt", "BagIt-Version: 1.0\n")
        archive.writestr("b/manifest-sha256.txt", sums)
        for name, data in files.items():
            archive.writestr(f"b/{name}", data)
        if spoil is not None:
            spoil(archive)
    return path


def link(archive: zipfile.ZipFile) -> None:
    info = zipfile.ZipInfo("b/data/link")
    info.external_attr = (stat.S_IFLNK | 0o777) << 16
    archive.writestr(info, "/etc/passwd")


def named(name: str) -> Spoil:
    return lambda archive: archive.writestr(name, "x")


def bomb(archive: zipfile.ZipFile) -> None:
    archive.writestr("b/data/bomb", bytes(300 << 20))


def twice(archive: zipfile.ZipFile) -> None:
    with pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("b/data/a", "other")


@pytest.mark.parametrize(
    ("spoil", "fault"),
    [
        (named("../evil"), "is not one folder of files ('../evil')"),
        (named("/etc/evil"), "is not one folder of files ('/etc/evil')"),
        (named("b/../../evil"), "holds a file whose name is not safe ('b/../../evil')"),
        (named("b/data/.."), "holds a file whose name is not safe ('b/data/..')"),
        (named("b/data/a\\..\\c"), "is not one folder of files"),
        (named("b/data/C:evil"), "holds a file whose name is not safe ('b/data/C:evil')"),
        (named("b/data/\u202eevil"), "holds a file whose name is not safe"),
        (named("c/data/c"), "is a ZIP file but not a bag of voicelog"),
        (named("b/fetch.txt"), "wants files to be fetched from elsewhere (fetch.txt)"),
        (named("b/data/extra"), "holds other files than it lists (data/extra)"),
        (link, "holds a link or another thing that is no file ('b/data/link')"),
        (bomb, "would unpack to far more than it is ('b/data/bomb')"),
        (twice, "holds a file twice ('b/data/a')"),
    ],
)
def test_a_bag_made_to_do_harm_is_refused(tmp_path: Path, spoil: Spoil, fault: str) -> None:
    (tmp_path / "in").mkdir()
    path = made(tmp_path / "in" / "b.zip", {"data/a": b"1"}, spoil)
    with pytest.raises(BagItError) as caught, open_bagit(path):
        pass
    assert fault in str(caught.value)
    assert [p.name for p in tmp_path.rglob("*")] == ["in", "b.zip"], "something was written"


def test_a_file_that_is_there_twice_alike_is_one(tmp_path: Path) -> None:
    def again(archive: zipfile.ZipFile) -> None:
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("b/data/a", b"1")

    with open_bagit(made(tmp_path / "b.zip", {"data/a": b"1"}, again)) as bag:
        assert b"".join(bag.chunks("a")) == b"1"


def test_a_changed_or_missing_file_is_noticed(tmp_path: Path) -> None:
    def change(archive: zipfile.ZipFile) -> None:
        sums = f"{'0' * 64}  data/b\n"
        archive.writestr("b/manifest-sha256.txt", sums)

    with pytest.warns(UserWarning, match="Duplicate"):
        path = made(tmp_path / "b.zip", {"data/a": b"1"}, change)
    with pytest.raises(BagItError, match="holds a file twice"), open_bagit(path):
        pass
    with write_bagit(tmp_path / "c.zip", NOON, {}) as bag:
        bag.add_text("a", ["words that will be changed"])
    whole = (tmp_path / "c.zip").read_bytes()
    for at in range(0, len(whole), 7):
        spoiled = whole[:at] + bytes([whole[at] ^ 0x5A]) + whole[at + 1 :]
        (tmp_path / "d.zip").write_bytes(spoiled)
        try:
            with open_bagit(tmp_path / "d.zip") as read:
                assert b"".join(read.chunks("a")) == b"words that will be changed\n"
        except BagItError:
            continue


def test_a_bag_is_whole_or_not_there(tmp_path: Path) -> None:
    with pytest.raises(FileAccessError), write_bagit(tmp_path / "a.zip", NOON, {}) as bag:
        bag.add_file("a", tmp_path / "gone")
    assert list(tmp_path.iterdir()) == []


def test_only_a_zip_file_looks_like_a_bag(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"RIFF")
    assert not is_bagit(tmp_path / "a.wav")
    assert not is_bagit(tmp_path)
    assert is_bagit(made(tmp_path / "b.zip", {}))
    with pytest.raises(FileAccessError), open_bagit(tmp_path / "gone.zip"):
        pass
