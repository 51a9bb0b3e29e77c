"""`voicelog lock`: what its commands say, and that all others go on as before."""

from __future__ import annotations

import getpass
import os
import sys
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file
from voicelog.audio import locked_files
from voicelog.store import log_lock

WORDS = "four plain words here"
MARKER = "remember the swallow"


@pytest.fixture(autouse=True)
def _cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(locked_files, "SCRYPT_N", 1 << 4)
    monkeypatch.delenv(log_lock.PASSPHRASE, raising=False)


def forgotten() -> None:
    """As a program that begins anew."""
    locked_files._keys.clear()


def test_every_command_goes_on_with_a_locked_log(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = tmp_path / "data"
    voicelog("dogs", "put", "Bracken", "--top", "20")
    lines = ("start session bracken", "here level three came", "yelped", "no button came")
    path = typed_file(tmp_path, *lines)
    voicelog("add", "--typed", path, "--at", "2026-04-18T07:30")
    asked = (
        *(("summary", "--all"), ("progress", "Bracken", "--on", "2026-04-20")),
        *(("plan", "Bracken", "--on", "2026-04-20"), ("kennel", "--on", "2026-04-20")),
        *(("dogs", "list"), ("matters", "list"), ("learn",), ("export", tmp_path / "out")),
    )
    plain = [voicelog(*one) for one in asked]

    answers = iter(["short", "short", WORDS, WORDS])
    monkeypatch.setattr(getpass, "getpass", lambda _prompt: next(answers))
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    assert "of less than 12 characters" in voicelog("lock", "on").err
    done = voicelog("lock", "on")
    assert done.out.startswith(f"{data} is locked: ")
    assert done.err.startswith("Without the passphrase nobody can read the log again")
    assert "locked already" in voicelog("lock", "on").err

    monkeypatch.setattr(sys.stdin, "isatty", lambda: False)
    forgotten()
    nobody = voicelog("summary")
    assert (nobody.code, nobody.err.count("\n")) == (1, 1)
    assert "nobody could be asked for its passphrase: set VOICELOG_PASSPHRASE" in nobody.err
    monkeypatch.setenv(log_lock.PASSPHRASE, "four other words")
    assert "does not open with that passphrase" in voicelog("summary").err
    monkeypatch.setenv(log_lock.PASSPHRASE, WORDS)
    forgotten()
    assert [voicelog(*one) for one in asked] == plain
    second = typed_file(tmp_path, *lines, "memo", MARKER, "end memo", name="b.tsv")
    assert voicelog("add", "--typed", second, "--at", "2026-04-19T07:30").code == 0
    assert voicelog("correct", "--entry", "2", "--words", "here l2 c", "--as", "Anna").code == 0
    assert voicelog("correct", "--undo", "--as", "Anna").code == 0
    assert voicelog("rehear").code == 0
    assert voicelog("rebuild").code == 0

    backup = tmp_path / "b.zip"
    assert voicelog("backup", backup).out.endswith("It is locked by the log's passphrase.\n")
    assert "was proven to restore just now" in voicelog("check").out
    for file in (*data.rglob("*"), backup):
        assert file.is_dir() or MARKER.encode() not in file.read_bytes(), file
    monkeypatch.setenv(log_lock.BUNDLE_PASSPHRASE, "words for a friend")
    bundle = voicelog("export", tmp_path, "--format", "bundle", "--dog", "Bracken")
    assert "locked by its passphrase. To take it in: voicelog add bracken.locked" in bundle.out
    monkeypatch.setenv(log_lock.NEW_PASSPHRASE, "another four words")
    assert voicelog("lock", "passphrase").code == 0

    forgotten()
    new = ("--data-dir", tmp_path / "new")
    assert voicelog("restore", backup, *new).code == 0  # with the passphrase it was made with
    assert voicelog("lock", "state", *new).out.startswith(f"{tmp_path / 'new'} is locked; ")
    again = voicelog("summary", "--all", *new)
    assert again.out.count("yelped.") == 2
    assert again.err == ""
    friend = ("--data-dir", tmp_path / "friend")
    assert voicelog("add", tmp_path / "bracken.locked", *friend).code == 0
    assert len(voicelog("summary", "--all", *friend).out) > 1000
    monkeypatch.setenv(log_lock.PASSPHRASE, "another four words")
    assert "Bracken" in voicelog("summary").out
    shared = voicelog("share", "start", tmp_path / "share", "--as", "Anna").out
    assert "It holds names and notes, unencrypted though the log is locked: share it" in shared
    assert voicelog("lock", "off").out == f"{data} is not locked any more.\n"
    assert MARKER.encode() in b"".join(
        file.read_bytes() for file in data.rglob("*") if file.is_file()
    )


class _Keyring:
    """A keyring of the system, in memory."""

    def __init__(self) -> None:
        self.kept: dict[tuple[str, str], str] = {}

    def set_password(self, service: str, name: str, said: str) -> None:
        self.kept[service, name] = said

    def get_password(self, service: str, name: str) -> str | None:
        return self.kept.get((service, name))

    def delete_password(self, service: str, name: str) -> None:
        del self.kept[service, name]


def test_the_systems_keyring_opens_it(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = _Keyring()
    monkeypatch.setitem(sys.modules, "keyring", kept)
    with monkeypatch.context() as patch:
        patch.setenv(log_lock.PASSPHRASE, WORDS)
        voicelog("dogs", "put", "Bracken", "--top", "20")
        voicelog("lock", "on")
        assert voicelog("lock", "remember").code == 0
    forgotten()
    assert voicelog("dogs", "list").out.startswith("Bracken: ")
    assert voicelog("lock", "state").out.endswith("the system's keyring opens it.\n")
    monkeypatch.setenv(log_lock.NEW_PASSPHRASE, "another four words")
    assert voicelog("lock", "passphrase").code == 0
    forgotten()
    assert voicelog("dogs", "list").code == 0
    assert len(kept.kept) == 1
    assert voicelog("lock", "forget").out == "The keyring has forgotten it.\n"
    forgotten()
    assert voicelog("dogs", "list").code == 1
    assert all("Bracken" not in said for said in kept.kept.values())


def test_what_others_could_read_is_closed_with_a_word(voicelog: Voicelog, tmp_path: Path) -> None:
    data = tmp_path / "data"
    old = os.umask(0)
    try:
        data.mkdir(0o755)
        voicelog("dogs", "put", "Bracken", "--top", "20")
        for path in data.iterdir():
            path.chmod(0o644)
        data.chmod(0o755)
        told = voicelog("dogs", "list")
        voicelog("export", tmp_path / "out")
    finally:
        os.umask(old)
    assert told.err == (
        f"voicelog: {data} was open to other users of this computer; now only you can open it.\n"
    )
    assert voicelog("dogs", "list").err == ""
    written = [data, tmp_path / "out", *(tmp_path / "out").iterdir()]
    assert [path for path in written if path.stat().st_mode & 0o077] == []
    (data / "diary.txt").write_text("of somebody else")
    data.chmod(0o755)
    assert voicelog("dogs", "list").err == told.err
    others = {path.name for path in (data, *data.rglob("*")) if path.stat().st_mode & 0o077}
    assert others == {data.name, "diary.txt"}, "what is not the log's was touched"
