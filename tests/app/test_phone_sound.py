"""Sound of a phone: whatever happens on the way, what was acknowledged is there, in its place."""

from __future__ import annotations

import hashlib
import os
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from voicelog.app.add import add_file
from voicelog.app.open_file import IntakeOptions
from voicelog.app.phone_sound import (
    BlockGapError,
    BlockMismatchError,
    NoRoomError,
    PartKnownError,
    PhoneSound,
    SoundBlock,
)
from voicelog.audio.recorder import Recorder, read_pcm
from voicelog.model import Roster
from voicelog.safety.settings import Settings
from voicelog.store import Log

ID = "0123456789abcdef" * 2
BEGAN = datetime(2026, 4, 18, 7, 30, tzinfo=UTC)
SIZE = 500
SOUND = np.random.default_rng(3).integers(-32768, 32767, 20 * SIZE + 77).astype(np.int16)


def block(number: int) -> SoundBlock:
    pcm = SOUND[number * SIZE : (number + 1) * SIZE].astype("<i2").tobytes()
    return SoundBlock(number * SIZE, pcm, hashlib.sha256(pcm).hexdigest())


def sent(sound: PhoneSound, number: int) -> int:
    return sound.take(ID, "phone", BEGAN, block(number))


def kept_sound(folder: Path) -> Any:
    (path,) = (folder / "phone").glob("*.wav")
    return read_pcm(path)


DEEDS = st.lists(
    st.one_of(
        st.tuples(st.just("next"), st.just(0)),
        st.tuples(st.just("again"), st.integers(0, 20)),
        st.tuples(st.just("ahead"), st.integers(1, 3)),
        st.tuples(st.just("other"), st.integers(0, 20)),
        st.tuples(st.just("killed"), st.just(0)),
        st.tuples(st.just("power gone"), st.integers(0, 3000)),
        st.tuples(st.just("list torn"), st.integers(1, 60)),
        st.tuples(st.just("disk full"), st.just(0)),
    ),
    max_size=30,
)


@settings(max_examples=25)
@given(deeds=DEEDS)
@example(deeds=[("next", 0), ("power gone", 700), ("next", 0), ("disk full", 0), ("killed", 0)])
def test_what_was_acknowledged_is_there_in_its_place(deeds: list[tuple[str, int]]) -> None:
    with TemporaryDirectory() as place, pytest.MonkeyPatch.context() as patch:
        folder = Path(place)
        synced: list[int] = []
        patch.setattr("os.fsync", synced.append)
        sound = PhoneSound(folder)
        have = 0
        for deed, number in deeds:
            match deed:
                case "next" if have < 20:
                    have += 1
                    synced.clear()
                    assert sent(sound, have - 1) == have * SIZE
                    assert len(synced) >= 2  # the sound, then the list that vouches for it
                case "again" if number < have:
                    assert sent(sound, number) == have * SIZE
                case "ahead" if have + number < 20:
                    with pytest.raises(BlockGapError) as gap:
                        sent(sound, have + number)
                    assert gap.value.have == have * SIZE
                case "other" if number < have:
                    wrong = SoundBlock(number * SIZE, b"\1\0" * SIZE, "0" * 64)
                    with pytest.raises(BlockMismatchError):
                        sound.take(ID, "phone", BEGAN, wrong)
                    pcm = b"\1\0" * SIZE
                    wrong = SoundBlock(number * SIZE, pcm, hashlib.sha256(pcm).hexdigest())
                    with pytest.raises(BlockMismatchError):
                        sound.take(ID, "phone", BEGAN, wrong)
                case "disk full" if have < 20:
                    real = os.write

                    def refuse(file: int, data: Any) -> int:
                        raise OSError(28, "No space left on device")

                    patch.setattr("os.write", refuse)
                    with pytest.raises(NoRoomError):
                        sent(sound, have)
                    patch.setattr("os.write", real)
                case "killed" | "power gone" | "list torn":
                    sound = PhoneSound(folder)
                    for path in (folder / "phone").glob("*.wav"):
                        if deed == "power gone":  # what was not acknowledged may be anything
                            with path.open("ab") as file:
                                file.write(b"\0" * number)
                    for path in (folder / "phone").glob("*.blocks"):
                        if deed == "list torn" and number < have * SIZE:
                            with path.open("ab") as file:
                                file.write(f"{have * SIZE} 500 0123"[:number].encode())
            assert sound.have(ID) == have * SIZE
        while have < 20:
            sent(sound, have)
            have += 1
        last = SOUND[20 * SIZE :].astype("<i2").tobytes()
        rest = SoundBlock(20 * SIZE, last, hashlib.sha256(last).hexdigest())
        sound.take(ID, "phone", BEGAN, rest)
        with pytest.raises(BlockGapError):
            sound.finish(ID, len(SOUND) + 1)
        assert sound.unfinished()
        assert sound.finish(ID, len(SOUND)) == len(SOUND)
        assert sound.finish(ID, None) == len(SOUND)  # its answer was lost
        assert sent(sound, 3) == len(SOUND)
        assert np.array_equal(kept_sound(folder), SOUND)
        (waiting,) = PhoneSound(folder).waiting()
        assert (waiting.samples, waiting.started_at) == (len(SOUND), BEGAN)
        sound.close()


def test_what_no_page_sends_is_refused(tmp_path: Path) -> None:
    sound = PhoneSound(tmp_path)
    for pcm in (b"", b"\0", b"\0\0" * 16_001):
        odd = SoundBlock(0, pcm, hashlib.sha256(pcm).hexdigest())
        with pytest.raises(BlockMismatchError):
            sound.take(ID, "phone", BEGAN, odd)
    for name in ("../../etc/passwd", "", ID.upper(), ID + "0"):
        with pytest.raises(BlockMismatchError):
            sound.take(name, "phone", BEGAN, block(0))
    assert sound.finish("f" * 32, None) == 0
    assert [*sound.waiting(), *sound.unfinished()] == []


def test_a_recorder_goes_on_behind_a_sample(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    first = Recorder(path, BEGAN)
    first.write(SOUND[:1000])
    assert first.sync()
    first.abandon()
    second = Recorder(path, after=600)
    second.write(SOUND[600:2000])
    second.close()
    assert np.array_equal(read_pcm(path), SOUND[:2000])
    (tmp_path / "b.wav").write_bytes(b"RIFF")
    with pytest.raises(OSError, match="header"):
        Recorder(tmp_path / "b.wav", after=0)


@pytest.mark.parametrize(("sent_before", "asked"), [(9, True), (20, False)])
def test_sound_of_a_phone_that_was_given_up_and_came_back_is_in_the_log_once(
    tmp_path: Path, sent_before: int, asked: bool
) -> None:
    """What had arrived was added by hand as a recording of its own."""
    options = IntakeOptions(Roster(), Settings(), listener="quick")
    with Log.open(tmp_path, now=lambda: BEGAN) as log, closing(PhoneSound(tmp_path)) as sound:
        for number in range(sent_before):
            sent(sound, number)
        (path,) = (tmp_path / "phone").glob("*.wav")
        add_file(log, path, options)
        for number in range(sent_before, 20):
            sent(sound, number)
        sound.finish(ID, 20 * SIZE)
        ((_, outcome),) = sound.add_waiting(log, options)
        assert len(log.recordings()) == 1
        assert isinstance(outcome, PartKnownError) == asked
        assert bool(sound.waiting()) == asked  # the whole is kept where one has to decide
