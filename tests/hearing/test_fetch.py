"""A file comes whole or not at all, over any connection, and never by an unsafe way."""

from __future__ import annotations

import random
from collections import namedtuple
from pathlib import Path

import pytest

from tests.hearing.serving import Server, serving, tag_of
from voicelog.hearing.fetch import TRIES, FetchError, MissingError, fetch

BODY = random.Random(0).randbytes(700_000)
ELSEWHERE = (
    "try again later, or fetch the file elsewhere and give it: voicelog listeners install FILE."
)


class Pauses(list[float]):
    """Notes how long one would have waited (s)."""

    def __call__(self, seconds: float) -> None:
        self.append(seconds)


def fetched(server: Server, target: Path, path: str = "/model.zip") -> bytes:
    fetch(server.at(path), target, pause=Pauses())
    return target.read_bytes()


def test_a_file_comes_whole_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    with serving(files={"/model.zip": BODY}) as server:
        assert fetched(server, tmp_path / "model.zip") == BODY
    assert [path.name for path in tmp_path.iterdir()] == ["model.zip"]


def test_a_cut_connection_is_taken_up_where_it_was_cut(tmp_path: Path) -> None:
    with serving(files={"/model.zip": BODY}, cut_after=[300_000, 200_000]) as server:
        assert fetched(server, tmp_path / "model.zip") == BODY
        assert [asked for _, asked in server.asked] == [None, "bytes=300000-", "bytes=500000-"]


def test_what_came_in_an_earlier_run_is_not_fetched_again(tmp_path: Path) -> None:
    target = tmp_path / "model.zip"
    with serving(files={"/model.zip": BODY}, cut_after=[400_000, 0, 0, 0, 0]) as server:
        with pytest.raises(FetchError) as raised:
            fetched(server, target)
        assert str(raised.value) == (
            f"Found no way to fetch '{server.at('/model.zip')}' (the connection was cut; 0.4 MB "
            f"came and are kept), wanted the whole file; {ELSEWHERE}"
        )
        assert not target.exists()
        server.cut_after.clear()
        assert fetched(server, target) == BODY
        assert server.asked[-1] == ("/model.zip", "bytes=400000-")


@pytest.mark.parametrize("lacks", ["ranges", "tags"])
def test_without_ranges_or_versions_it_starts_over(tmp_path: Path, lacks: str) -> None:
    with serving(files={"/model.zip": BODY}, cut_after=[300_000], **{lacks: False}) as server:
        assert fetched(server, tmp_path / "model.zip") == BODY


def test_two_versions_of_a_file_are_never_joined(tmp_path: Path) -> None:
    newer = BODY[::-1]
    with serving(files={"/model.zip": BODY}, cut_after=[300_000, 0, 0, 0, 0]) as server:
        with pytest.raises(FetchError):
            fetched(server, tmp_path / "model.zip")
        server.cut_after.clear()
        server.files["/model.zip"] = newer
        assert fetched(server, tmp_path / "model.zip") == newer


def test_a_file_that_had_all_come_needs_no_more(tmp_path: Path) -> None:
    """Stopped between the last byte and the new name."""
    target = tmp_path / "model.zip"
    with serving(files={"/model.zip": BODY}) as server:
        fetched(server, target)
        target.rename(tmp_path / "model.zip.part")
        (tmp_path / "model.zip.part.tag").write_text(tag_of(BODY))
        assert fetched(server, target) == BODY
        assert server.asked[-1] == ("/model.zip", f"bytes={len(BODY)}-")


def test_a_length_that_is_not_told_is_no_hindrance(tmp_path: Path) -> None:
    with serving(files={"/model.zip": BODY}, lengths=False) as server:
        assert fetched(server, tmp_path / "model.zip") == BODY


def test_a_server_out_of_breath_is_asked_again_after_a_while(tmp_path: Path) -> None:
    pauses = Pauses()
    with serving(files={"/model.zip": BODY}, codes=[503, 429]) as server:
        fetch(server.at("/model.zip"), tmp_path / "model.zip", pause=pauses)
    assert pauses == [2.0, 4.0]


def test_a_server_that_stays_out_of_breath_is_given_up(tmp_path: Path) -> None:
    with serving(codes=[503] * TRIES) as server, pytest.raises(FetchError) as raised:
        fetched(server, tmp_path / "model.zip")
    assert str(raised.value) == (
        f"Found no way to fetch '{server.at('/model.zip')}' (the server answers 503), wanted the "
        f"whole file; {ELSEWHERE}"
    )


def test_a_file_that_is_not_there_is_said_at_once(tmp_path: Path) -> None:
    with serving() as server:
        with pytest.raises(MissingError) as raised:
            fetched(server, tmp_path / "model.zip")
        assert len(server.asked) == 1
    assert str(raised.value) == (
        f"Found nothing at '{server.at('/model.zip')}' (the server answers 404), wanted a model; "
        "check the address."
    )


def test_a_closed_door_is_said_at_once(tmp_path: Path) -> None:
    with serving(codes=[401]) as server, pytest.raises(FetchError) as raised:
        fetched(server, tmp_path / "model.zip")
    assert str(raised.value) == (
        f"Found '{server.at('/model.zip')}' closed to us (the server answers 401), wanted a "
        f"model that anyone may fetch; {ELSEWHERE}"
    )


def test_nobody_there_is_said(tmp_path: Path) -> None:
    with serving() as server:
        pass
    pauses = Pauses()
    with pytest.raises(FetchError, match=r"^Found no way to fetch '.*' \(.*refused\), wanted"):
        fetch(server.at("/model.zip"), tmp_path / "model.zip", pause=pauses)
    assert len(pauses) == TRIES - 1


@pytest.mark.parametrize(
    "address", ["http://example.org/model.zip", "ftp://example.org/a", "file:///etc/passwd", "a"]
)
def test_only_https_is_gone_to(tmp_path: Path, address: str) -> None:
    with pytest.raises(FetchError) as raised:
        fetch(address, tmp_path / "model.zip")
    assert str(raised.value) == (
        f"Found the address '{address}', wanted one that begins with https://, so that nobody "
        "between can change what comes; correct it."
    )


def test_a_redirect_is_followed_only_where_one_would_go(tmp_path: Path) -> None:
    with serving(files={"/b": BODY}, cut_after=[300_000]) as server:
        server.redirects = {"/a": server.at("/b"), "/c": "http://example.org/model.zip"}
        assert fetched(server, tmp_path / "model.zip", "/a") == BODY
        with pytest.raises(FetchError, match=r"^Found the address 'http://example\.org/model"):
            fetched(server, tmp_path / "other.zip", "/c")


@pytest.mark.parametrize("lengths", [True, False])
def test_more_than_a_model_can_be_is_not_taken(tmp_path: Path, lengths: bool) -> None:
    too_large = pytest.raises(FetchError, match=r"^Found . MB at .*, wanted a model of at most 0")
    with serving(files={"/model.zip": BODY}, lengths=lengths) as server, too_large:
        fetch(server.at("/model.zip"), tmp_path / "model.zip", most=100_000)
    assert not (tmp_path / "model.zip.part").exists()


def test_a_full_disk_is_said_before_anything_is_fetched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr("shutil.disk_usage", lambda _path: usage(10, 10, 0))
    with serving(files={"/model.zip": BODY}) as server, pytest.raises(FetchError) as raised:
        fetched(server, tmp_path / "model.zip")
    assert str(raised.value) == (
        f"Found 0 MB free in '{tmp_path}', wanted 1 MB for the model; free some space, or name "
        "another folder in VOICELOG_MODELS."
    )


def test_progress_is_told_with_what_was_there_before(tmp_path: Path) -> None:
    told: list[tuple[int, int | None]] = []
    with serving(files={"/model.zip": BODY}, cut_after=[300_000]) as server:
        fetch(
            server.at("/model.zip"),
            tmp_path / "model.zip",
            progress=lambda done, total: told.append((done, total)),
            pause=Pauses(),
        )
    assert told[0] == (0, len(BODY))
    assert (300_000, len(BODY)) in told
    assert told[-1] == (len(BODY), len(BODY))
    assert [done for done, _ in told] == sorted(done for done, _ in told)
