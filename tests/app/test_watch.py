"""A watched folder: whatever comes, and however, each recording is taken in once and whole."""

from __future__ import annotations

import atexit
import os
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.audio.making import encode
from voicelog.app import open_file
from voicelog.app.add import add_file
from voicelog.app.grammars import grammar_with
from voicelog.app.intake import RecognitionSetup, RecognizedUtterance
from voicelog.app.open_file import IntakeOptions
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.watch import OPEN_END_S, RETRY_S, FolderWatch, NoFolderError
from voicelog.app.watch_arrivals import Arrivals, FileStamp
from voicelog.app.watching import WatchingProcess, watch_chosen
from voicelog.audio.resampling import Samples
from voicelog.model import Dog, Roster, UsageError, Utterance, Verdict
from voicelog.model.watching import WatchedFile
from voicelog.safety.settings import Settings
from voicelog.store import DiskFullError, Log

ROSTER = Roster(dogs=(Dog(name="Bracken"),))
OPTIONS = IntakeOptions(ROSTER, Settings(), dog="Bracken")
SETTLE_S = 10.0
LOOK_S = 5.0


@cache
def sound(seed: int, seconds: float = 6.0) -> np.ndarray[Any, np.dtype[np.float32]]:
    """Noise that swells and fades as no other does."""
    rng = np.random.default_rng(seed)
    steps = np.repeat(rng.uniform(0.01, 0.5, round(seconds * 5)), 3200)
    made: np.ndarray[Any, np.dtype[np.float32]] = (
        steps * rng.standard_normal(len(steps)) * 0.3
    ).astype(np.float32)
    return made


@cache
def coded(seed: int, suffix: str, seconds: float = 6.0) -> bytes:
    codec = {"wav": "pcm_s16le", "flac": "flac", "mp3": "libmp3lame"}[suffix]
    with TemporaryDirectory() as folder:
        path = Path(folder, f"a.{suffix}")
        return encode(path, sound(seed, seconds), 16_000, codec).read_bytes()


@cache
def new_log() -> Path:
    """The folder of an empty log, to be copied."""
    folder = Path(mkdtemp(prefix="voicelog-test-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    Log.open(folder / "log", now=lambda: datetime(2026, 5, 1, tzinfo=UTC)).close()
    return folder / "log"


class Truck:
    """A folder, its log and its watch, with a clock that is turned by hand."""

    def __init__(self, place: Path) -> None:
        self.folder = place / "incoming"
        self.folder.mkdir()
        self._seconds = count()
        self.now_s = 0.0
        shutil.copytree(new_log(), place / "log")
        self.log = Log.open(place / "log", now=lambda: datetime(2026, 5, 1, tzinfo=UTC))
        self.restart()

    def restart(self) -> None:
        self.watch = FolderWatch(
            self.log, self.folder, lambda: OPTIONS, settle_s=SETTLE_S, clock=lambda: self.now_s
        )

    def bring(self, name: str, data: bytes) -> Path:
        path = self.folder / name
        path.write_bytes(data)
        stamp = next(self._seconds) + 1_777_000_000
        os.utime(path, (stamp, stamp))
        return path

    def look(self, looks: int = 1) -> list[WatchedFile]:
        found: list[WatchedFile] = []
        for _ in range(looks):
            found += self.watch.look()
            self.now_s += LOOK_S
        return found

    def told(self, looks: int = 4) -> dict[str, str]:
        return {one.name: one.outcome for one in self.look(looks)}

    @property
    def kept(self) -> list[str]:
        return [one.file_name for one in self.log.recordings() if one.complete]


@pytest.fixture(autouse=True)
def _nobody_listens(monkeypatch: pytest.MonkeyPatch) -> None:
    def hear(blocks: Iterable[Samples], recording: str) -> Iterator[RecognizedUtterance]:
        for _ in blocks:
            pass
        return iter(())

    def setup(chosen: Settings, dog: str | None) -> RecognitionSetup:
        return RecognitionSetup(grammar_with(ROSTER), chosen, dog)

    stub = SimpleNamespace(recognize=hear, note=None, setup=setup)
    monkeypatch.setattr(open_file, "shared_recognizers", lambda *_: stub)


@pytest.fixture
def truck(tmp_path: Path) -> Iterator[Truck]:
    made = Truck(tmp_path)
    with made.log:
        yield made


# --- steadiness -----------------------------------------------------------------------------


@given(pauses=st.lists(st.floats(0.1, 60.0), min_size=1, max_size=12), every=st.floats(0.5, 7.0))
@example(pauses=[10.0] * 8, every=5.0)
def test_nothing_is_whole_before_it_has_kept_still(pauses: list[float], every: float) -> None:
    """A file that grows with pauses: it is given out only after it has stayed as it is for the
    time, and no more than once too early, since its pauses are learnt."""
    changes = np.cumsum(pauses)
    arrivals, path, now, early = Arrivals(SETTLE_S), Path("a.wav"), 0.0, 0
    longest = max(pauses)
    while now < changes[-1] + 20 * longest + 100:
        size = 1 + int(np.searchsorted(changes, now, side="right"))
        steady = arrivals.look(now, {path: FileStamp(size, size)})
        last = max((one for one in changes if one <= now), default=0.0)
        if path in steady:
            assert steady[path] >= SETTLE_S
            assert now - last >= SETTLE_S - 1e-9
            early += now < changes[-1]
            if now >= changes[-1]:
                return
        now += every
    raise AssertionError("it never came")


def test_a_file_that_grows_for_an_hour_with_pauses_comes_once(truck: Truck) -> None:
    whole = coded(1, "wav", 30.0)
    open_end = whole[:4] + b"\xff\xff\xff\xff" + whole[8:]  # its size is not filled in yet
    for end in range(44, len(whole), len(whole) // 30):
        truck.bring("long.wav", open_end[:end])
        assert truck.look(3 + end % 2) == []
    truck.bring("long.wav", whole)
    assert truck.told(20) == {"long.wav": "heard"}
    assert truck.told(20) == {}


def test_one_whose_end_is_not_announced_is_waited_for_longer(truck: Truck) -> None:
    whole = coded(1, "wav")
    truck.bring("open.wav", whole[:4] + b"\xff\xff\xff\xff" + whole[8:])
    assert truck.look(int(OPEN_END_S / LOOK_S)) == []
    assert truck.told() == {"open.wav": "heard"}


# --- what comes -----------------------------------------------------------------------------


def test_what_is_temporary_cut_or_a_copy_waits_and_what_is_no_recording_is_told(
    truck: Truck,
) -> None:
    whole = coded(1, "wav")
    for name in (".a.wav", "~a.wav", "a.part.wav", "a.wav.tmp", "a.wav.part", "notes.txt"):
        truck.bring(name, whole)
    truck.bring("half.wav", whole[:9000])
    truck.bring("talk.sync-conflict-20260401-070000-ABCDEFG.wav", coded(2, "wav"))
    truck.bring("talk (Anna's conflicted copy).wav", coded(2, "flac"))
    truck.bring("picture.m4a", b"\x89PNG no sound at all" * 50)
    truck.bring("none.wav", b"")
    told = truck.told(14)
    assert told == {
        "half.wav": "cut",
        "talk.sync-conflict-20260401-070000-ABCDEFG.wav": "conflict",
        "talk (Anna's conflicted copy).wav": "conflict",
        "picture.m4a": "no recording",
    }
    truck.bring("half.wav", whole)
    assert truck.told() == {"half.wav": "heard"}
    assert truck.kept == ["half.wav"]
    assert len(truck.watch.asked) == 2


def test_the_same_bytes_are_one_and_the_same_sound_is_asked_about(truck: Truck) -> None:
    truck.bring("a.wav", coded(1, "wav"))
    truck.bring("b.wav", coded(1, "wav"))
    truck.bring("c.mp3", coded(1, "mp3"))
    truck.bring("d.wav", coded(2, "wav"))
    told = truck.told(16)
    assert told == {"a.wav": "heard", "b.wav": "there", "c.mp3": "asked", "d.wav": "heard"}
    assert [one.name for one in truck.watch.asked] == ["c.mp3"]
    truck.restart()
    assert truck.told() == {}
    assert [one.name for one in truck.watch.asked] == ["c.mp3"]


def test_one_that_goes_on_after_it_was_taken_in_is_told_and_not_a_second_one(truck: Truck) -> None:
    truck.bring("a.flac", coded(1, "flac", 12.0))
    assert truck.told() == {"a.flac": "heard"}
    truck.bring(
        "a.flac",
        encode(
            truck.folder.parent / "b.flac",
            np.concatenate((sound(1, 12.0), sound(5, 6.0))),
            16_000,
            "flac",
        ).read_bytes(),
    )
    assert truck.told() == {"a.flac": "grown"}
    truck.bring("a.flac", coded(3, "flac", 18.0))  # a recorder that uses its names again
    assert truck.told() == {"a.flac": "heard"}
    assert truck.kept == ["a.flac", "a.flac"]


def test_a_full_disk_is_told_once_and_tried_again(
    truck: Truck, monkeypatch: pytest.MonkeyPatch
) -> None:
    truck.bring("a.wav", coded(1, "wav"))
    with monkeypatch.context() as full:

        def refuse(self: Log, path: Path, *_: object) -> None:
            raise DiskFullError(path)

        full.setattr(Log, "store_sound", refuse)
        found = truck.look(int(3 * RETRY_S / LOOK_S))
        assert [one.outcome for one in found] == ["waits"]
        assert "full" in found[0].reason
        assert truck.watch.arriving == 1
    assert truck.told(int(RETRY_S / LOOK_S) + 1) == {"a.wav": "heard"}


def test_two_hundred_at_once_and_a_folder_that_goes_away(truck: Truck) -> None:
    (truck.folder / "day").mkdir()
    for number in range(200):
        truck.bring(f"day/{number}.wav", coded(1, "wav"))
    told = truck.told()
    assert sorted(told.values()) == ["heard", *["there"] * 199]
    hidden = truck.folder.with_name("away")
    truck.folder.rename(hidden)
    with pytest.raises(NoFolderError):
        truck.look()
    hidden.rename(truck.folder)
    assert truck.told() == {}


def test_the_log_inside_the_folder_is_passed_over(tmp_path: Path) -> None:
    with Log.open(tmp_path / "log", now=lambda: datetime(2026, 5, 1, tzinfo=UTC)) as log:
        (log.folder / "live").mkdir()
        (log.folder / "live" / "a.wav").write_bytes(coded(1, "wav"))
        watch = FolderWatch(log, tmp_path, lambda: OPTIONS, settle_s=0.0)
        assert [*watch.look(), *watch.look()] == []


DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("bring"), st.integers(1, 3), st.sampled_from(["wav", "flac"])),
        st.tuples(st.just("part"), st.integers(1, 3), st.floats(0.1, 0.9)),
        st.tuples(st.just("look"), st.integers(1, 4), st.none()),
        st.tuples(st.just("restart"), st.none(), st.none()),
        st.tuples(st.just("lose state"), st.none(), st.none()),
        st.tuples(st.just("remove"), st.integers(1, 3), st.sampled_from(["wav", "flac"])),
    ),
    max_size=12,
)


@settings(max_examples=8)
@given(deeds=DEEDS)
@example(
    deeds=[("part", 1, 0.5), ("look", 4, None), ("lose state", None, None), ("bring", 1, "wav")]
)
def test_whatever_comes_each_sound_is_in_the_log_at_most_once_and_whole(
    deeds: list[tuple[str, Any, Any]],
) -> None:
    with TemporaryDirectory() as place:
        truck = Truck(Path(place))
        with truck.log:
            for deed, which, how in deeds:
                match deed:
                    case "bring":
                        truck.bring(f"{which}.{how}", coded(which, how))
                    case "part":
                        data = coded(which, "wav")
                        truck.bring(f"{which}.wav", data[: int(len(data) * how)])
                    case "look":
                        truck.look(which)
                    case "remove":
                        (truck.folder / f"{which}.{how}").unlink(missing_ok=True)
                    case _:
                        if deed == "lose state":
                            for state in truck.log.folder.glob("watch-*.json"):
                                state.write_text("{")
                        truck.restart()
            brought = {path.name: path.read_bytes() for path in truck.folder.iterdir()}
            truck.look(8)
            assert {p.name: p.read_bytes() for p in truck.folder.iterdir()} == brought
            kept = truck.log.recordings()
            whole = {coded(one, suffix): one for one in (1, 2, 3) for suffix in ("wav", "flac")}
            sounds = [whole[known_sound(truck.log, one)] for one in kept]
            assert len(sounds) == len(set(sounds))
            assert {whole[data] for data in brought.values() if data in whole} <= set(sounds)


def known_sound(log: Log, one: Any) -> bytes:
    path = log.sound_of(one)
    assert path is not None
    return path.read_bytes()


# --- for the page -------------------------------------------------------------------------


def test_a_chosen_folder_is_watched_until_another_word(truck: Truck) -> None:
    place = truck.log.folder
    watching = WatchingProcess(place)
    watching.wake()  # none is chosen: nothing is started
    assert watching.state() is None
    for wrong in (Path("here"), truck.folder / "none"):
        with pytest.raises(NoFolderError):
            watching.start(wrong)
    with pytest.raises(UsageError, match="own folder"):
        watching.start(place)
    watching.wake = lambda: None  # type: ignore[method-assign]
    watching.start(truck.folder)
    truck.bring("2026-04-18 07-30 whole.wav", coded(1, "wav"))
    truck.bring("half.wav", coded(2, "wav")[:9000])
    looks = iter([True, True, False])
    watch_chosen(place, lambda: next(looks), settle_s=0.0)
    state = watching.state()
    assert state is not None
    notes = {note.name: note for note in state.notes}
    assert notes["2026-04-18 07-30 whole.wav"].outcome == "heard"
    assert "as its name says" in notes["2026-04-18 07-30 whole.wav"].words
    assert "it is not complete" in notes["half.wav"].words
    assert not watching.at_work
    truck.folder.rename(truck.folder.with_name("gone"))
    looks = iter([False])
    watch_chosen(place, lambda: next(looks))
    state = watching.state()
    assert state is not None
    assert "Found no folder" in state.trouble
    assert len(state.notes) == 2
    watching.stop()
    assert watching.state() is None
    assert truck.kept == ["2026-04-18 07-30 whole.wav"]


def test_what_comes_by_a_chosen_folder_tells_what_it_changes_in_later_sessions(
    truck: Truck, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def hear(blocks: Iterable[Samples], recording: str) -> Iterator[RecognizedUtterance]:
        for _ in blocks:
            pass
        for place, words in enumerate(("start session bracken", "here level three yelped came")):
            name = f"u-{recording[:12]}-{place:06d}"
            said = Utterance(
                id=name, recording=recording, start_s=2.0 * place, end_s=2.0 * place + 1.0
            )
            yield (
                said,
                (),
                Verdict(
                    id=f"{name}.v",
                    utterance=name,
                    status="accepted",
                    words=words,
                    confidence=0.9,
                    judge="test",
                ),
            )

    def setup(chosen: Settings, dog: str | None) -> RecognitionSetup:
        return RecognitionSetup(grammar_with(ROSTER), chosen, dog)

    stub = SimpleNamespace(recognize=hear, note=None, setup=setup)
    monkeypatch.setattr(open_file, "shared_recognizers", lambda *_: stub)
    notes = tmp_path / "26.txt"
    notes.write_text("ss bracken\nhere l3 c\n")
    add_file(truck.log, notes, replace(OPTIONS, typed=True, at=datetime(2026, 4, 26, 7, 30)))
    SessionCatalog(truck.log).refresh()
    watching = WatchingProcess(truck.log.folder)
    watching.wake = lambda: None  # type: ignore[method-assign]
    watching.start(truck.folder)
    truck.bring("2026-04-24 07-30 morning.wav", coded(1, "wav"))
    looks = iter([True, False])
    watch_chosen(truck.log.folder, lambda: next(looks), settle_s=0.0)
    state = watching.state()
    assert state is not None
    assert any(
        line.startswith("1 caution now stands in the session of Bracken on 26 Apr 2026: Level 3")
        for line in state.changed
    ), state
