"""A cluster that hears: which addresses are taken, which workers are refused, real workers."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.app.dask_processes import tls_settings, workers
from tests.audio.making import encode
from tests.cli.run import Voicelog, caller
from tests.recognition.speaking import demo
from voicelog.app.cluster import ClusterAddress, _difference
from voicelog.app.heard_elsewhere import HeardWith, NotHeard, hear_task, hearing_identity
from voicelog.app.open_log import open_log
from voicelog.app.rehear import rehear_task, rehear_today
from voicelog.audio.resampling import RATE
from voicelog.model import Roster, UsageError, VoicelogError


@pytest.mark.parametrize(
    ("text", "open_too"),
    [
        ("tls://192.168.1.5:8786", False),
        ("tcp://127.0.0.1:8786", False),
        ("tcp://localhost:8786", False),
        ("tcp://[::1]:8786", False),
        ("tcp://192.168.1.5:8786", True),
    ],
)
def test_only_what_is_encrypted_or_stays_here_is_taken(text: str, open_too: bool) -> None:
    if open_too:
        with pytest.raises(UsageError, match="without encryption"):
            ClusterAddress.read(text)
    assert str(ClusterAddress.read(text, unencrypted=open_too)) == text


@pytest.mark.parametrize("text", ["", "kennel", "http://a:1", "tls://a", "tcp://:1", "tls://a:b"])
def test_what_is_no_address_is_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(UsageError, match="wanted the address of a scheduler"):
        ClusterAddress.read(text)


def test_a_worker_that_would_hear_otherwise_is_refused() -> None:
    here = hearing_identity(HeardWith(Roster(), listener="quick"))
    assert _difference(here, dict(here)) is None
    for name in here:
        assert _difference(here, here | {name: "other"}) == f"another {name}"
        without = {one: here[one] for one in here if one != name}
        assert _difference(here, without) == f"no {name}"
        assert _difference(without, here) == f"a {name}"
    assert "no voicelog" in str(_difference(here, ModuleNotFoundError("voicelog")))
    assert _difference(here, "no ears") == "no ears"


def test_the_options_go_together(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "data"))
    voicelog = caller(monkeypatch, capsys)
    (tmp_path / "a.wav").write_bytes(b"")
    for given, said in (
        (("--cluster", "tcp://192.168.1.5:1"), "without encryption"),
        (("--cluster", "tcp://127.0.0.1:1", "--jobs", "2"), "--jobs and --cluster together"),
        (("--cluster-unencrypted",), "without --cluster"),
    ):
        done = voicelog("add", tmp_path / "a.wav", *given)
        assert (done.code, done.err.count("\n")) == (2, 1)
        assert said in done.err


def events(folder: Path) -> dict[str, object]:
    """All recordings of a log by name, with their events."""
    with open_log(folder) as log:
        return {
            kept.file_name: (kept.model_dump(exclude={"added_at"}), log.events(kept.id))
            for kept in log.recordings()
        }


@pytest.mark.timeout(300)  # three programs of two seconds each, on machines with other work
def test_two_workers_one_of_which_dies_hear_what_one_process_hears(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    dask = pytest.importorskip("dask", reason="needs voicelog[cluster]")
    pytest.importorskip("distributed", reason="needs voicelog[cluster]")
    sound = demo("day1-bracken", 12.0)
    (tmp_path / "in").mkdir()
    for name, start_s in (("once.flac", 2), ("other.flac", 8)):
        piece = sound[start_s * RATE : (start_s + 3) * RATE]
        encode(tmp_path / "in" / name, piece, RATE, "flac")
    (tmp_path / "in" / "typed.txt").write_text("level three came\n")
    voicelog: Voicelog = caller(monkeypatch, capsys)
    command = ("add", tmp_path / "in", "--dog", "Bracken", "--listener", "quick", "--data-dir")
    for name in ("one", "two"):
        voicelog("dogs", "put", "Bracken", "--data-dir", tmp_path / name)
    alone = voicelog(*command, tmp_path / "one")
    with workers(tmp_path) as address, dask.config.set(tls_settings(tmp_path)):
        assert address.startswith("tls://127.0.0.1:")
        together = voicelog(*command, tmp_path / "two", "--cluster", address)
    assert together.err == f"Hearing with 2 workers of {address}.\n"
    assert Counter(together.out.splitlines()) == Counter(alone.out.splitlines())
    assert (tmp_path / "seen").read_text() == "once.flac\n"
    found = events(tmp_path / "two")
    assert set(found) == {"once.flac", "other.flac", "typed.txt"}
    assert found == events(tmp_path / "one")
    with open_log(tmp_path / "two") as log:
        kept = {one.file_name: one for one in log.recordings()}
        task = rehear_task(log, kept["other.flac"], "quick")
        assert task is not None
        heard = rehear_today(log, kept["other.flac"], "quick", outcome=hear_task(task))
        assert heard.changes == ()
        with pytest.raises(VoicelogError, match="no ears"):
            rehear_today(log, kept["other.flac"], outcome=NotHeard("no ears"))
        assert rehear_task(log, kept["typed.txt"]) is None
