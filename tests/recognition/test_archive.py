"""An archive is taken whole, as plain files inside one folder, or not at all."""

from __future__ import annotations

import io
import stat
import tarfile
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.recognition.archive import MEMBERS, ArchiveError, unpack

FILES = {"model/am/final.mdl": b"sound", "model/conf/model.conf": b"", "model/readme": b"hello"}


def zipped(path: Path, files: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, body in files.items():
            archive.writestr(name, body)
    return path


def tarred(path: Path, files: dict[str, bytes], mode: str = "w:gz") -> Path:
    with tarfile.open(path, mode) as archive:  # type: ignore[call-overload]
        for name, body in files.items():
            info = tarfile.TarInfo(name)
            info.size = len(body)
            archive.addfile(info, io.BytesIO(body))
    return path


def found(folder: Path) -> dict[str, bytes]:
    paths = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in paths}


@pytest.mark.parametrize("make", [zipped, tarred])
def test_files_come_out_as_they_went_in(tmp_path: Path, make: type) -> None:
    unpack(make(tmp_path / "a", FILES), tmp_path / "out")
    assert found(tmp_path / "out") == FILES


@pytest.mark.parametrize("mode", ["w", "w:bz2", "w:xz"])
def test_tar_may_be_packed_in_any_usual_way(tmp_path: Path, mode: str) -> None:
    unpack(tarred(tmp_path / "a", FILES, mode), tmp_path / "out")
    assert found(tmp_path / "out") == FILES


def test_what_some_systems_leave_in_archives_is_left_out(tmp_path: Path) -> None:
    extra = {"__MACOSX/model/._readme": b"x", "model/.DS_Store": b"x"}
    unpack(zipped(tmp_path / "a", FILES | extra), tmp_path / "out")
    assert found(tmp_path / "out") == FILES


@pytest.mark.parametrize("make", [zipped, tarred])
@pytest.mark.parametrize(
    "name",
    [
        "../escaped",
        "model/../../escaped",
        "/tmp/escaped",
        "model\\..\\escaped",
        "C:escaped",
        "a/b/c/d/e/f/g/h/i",
        "long" * 100,
    ],
)
def test_no_path_leaves_the_folder(tmp_path: Path, make: type, name: str) -> None:
    archive = make(tmp_path / "evil", FILES | {name: b"gotcha"})
    with pytest.raises(ArchiveError, match=r"^Found a file that would lie outside its folder"):
        unpack(archive, tmp_path / "in" / "here")
    assert found(tmp_path) == {"evil": archive.read_bytes()}


@given(name=st.text(st.sampled_from("./\\:ab\0"), max_size=12))
def test_no_name_made_of_dots_and_slashes_leaves_the_folder(
    tmp_path_factory: pytest.TempPathFactory, name: str
) -> None:
    root = tmp_path_factory.mktemp("names")
    archive = tarred(root / "a.tar.gz", {name: b"x"})
    try:
        unpack(archive, root / "in" / "here")
    except ArchiveError:
        assert not (root / "in").exists()
    else:
        assert all(name.startswith(("in/here/", "a.tar.gz")) for name in found(root))


def test_no_link_is_taken_from_a_zip(tmp_path: Path) -> None:
    path = zipped(tmp_path / "evil", FILES)
    with zipfile.ZipFile(path, "a") as archive:
        info = zipfile.ZipInfo("model/link")
        info.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(info, "/etc/passwd")
    with pytest.raises(ArchiveError) as raised:
        unpack(path, tmp_path / "out")
    assert str(raised.value) == (
        "Found a link or device ('model/link') in 'evil', wanted a plain model's archive; "
        "nothing of it was kept, get it from its publisher."
    )
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind", [tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.FIFOTYPE])
def test_no_link_or_device_is_taken_from_a_tar(tmp_path: Path, kind: bytes) -> None:
    with tarfile.open(tmp_path / "evil", "w") as archive:
        info = tarfile.TarInfo("model/link")
        info.type, info.linkname = kind, "/etc/passwd"
        archive.addfile(info)
    with pytest.raises(ArchiveError, match=r"^Found a link or device \('model/link'\)"):
        unpack(tmp_path / "evil", tmp_path / "out")


@pytest.mark.parametrize("make", [zipped, tarred])
def test_a_bomb_is_not_set_off(tmp_path: Path, make: type) -> None:
    """120 MB of nothing in an archive of a hundred KB."""
    bomb = make(tmp_path / "bomb", {"model/zeros": bytes(120_000_000)})
    assert bomb.stat().st_size < 200_000
    with pytest.raises(ArchiveError, match=r"^Found more than 11\d MB in 'bomb'"):
        unpack(bomb, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_file_larger_than_it_says_is_stopped(tmp_path: Path) -> None:
    path = zipped(tmp_path / "lie", {"model/a": b"x" * 5000})
    raw = path.read_bytes()
    path.write_bytes(raw.replace((5000).to_bytes(4, "little"), (10).to_bytes(4, "little")))
    with pytest.raises(ArchiveError):
        unpack(path, tmp_path / "out")
    assert sum(map(len, found(tmp_path / "out").values())) <= 10


def test_too_many_files_are_not_taken(tmp_path: Path) -> None:
    many = zipped(tmp_path / "many", {f"model/{n}": b"" for n in range(MEMBERS + 1)})
    with pytest.raises(ArchiveError, match=rf"^Found more than {MEMBERS} files in 'many'"):
        unpack(many, tmp_path / "out")


def test_two_files_of_one_name_are_not_taken(tmp_path: Path) -> None:
    twice = zipped(tmp_path / "twice", {"model/a": b"1", "model/A": b"2"})
    with pytest.raises(ArchiveError, match=r"^Found two files of the name 'model/A'"):
        unpack(twice, tmp_path / "out")


@pytest.mark.parametrize("make", [zipped, tarred])
def test_an_empty_archive_is_no_model(tmp_path: Path, make: type) -> None:
    with pytest.raises(ArchiveError, match=r"^Found no file in"):
        unpack(make(tmp_path / "none", {}), tmp_path / "out")


@pytest.mark.parametrize("make", [zipped, tarred])
@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_a_damaged_archive_is_said_to_be(tmp_path: Path, make: type, share: float) -> None:
    path = make(tmp_path / "a.zip", {"model/a": bytes(range(256)) * 400})
    raw = path.read_bytes()
    path.write_bytes(raw[: int(len(raw) * share)])
    with pytest.raises(ArchiveError) as raised:
        unpack(path, tmp_path / "out")
    assert str(raised.value) == (
        "Found 'a.zip' damaged or no archive, wanted a model's .zip or .tar archive; get it again."
    )


def test_a_flipped_byte_is_found(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("model/a", b"the model's own bytes")
    path.write_bytes(path.read_bytes().replace(b"own bytes", b"0wn bytes"))
    with pytest.raises(ArchiveError, match=r"^Found 'a\.zip' damaged"):
        unpack(path, tmp_path / "out")


def test_a_locked_archive_is_said_to_be(tmp_path: Path) -> None:
    path = zipped(tmp_path / "a.zip", {"model/a": b"secret"})
    raw = bytearray(path.read_bytes())
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        raw[raw.index(mark) + at] |= 1
    path.write_bytes(raw)
    with pytest.raises(ArchiveError, match=r"^Found 'a\.zip' packed in a way that cannot be read"):
        unpack(path, tmp_path / "out")
