"""Sounds in one ear, in order, what is cancelled broken off, on a stand-in device."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from tests.audio.stand_in import StandIn
from voicelog.audio import microphone
from voicelog.audio.microphone import NoDeviceError
from voicelog.audio.resampling import RATE
from voicelog.cli.note_player import play_sound
from voicelog.live.earphone import Earphone, Side

EARPHONE = ("Earphone", 0, 2, RATE)


def sound(value: float, seconds: float = 0.1) -> Any:
    return np.full(round(seconds * RATE), value, np.float32)


def played(library: StandIn) -> np.ndarray[Any, Any]:
    return np.concatenate([part for stream in library.streams for part in stream.written])


def order(out: np.ndarray[Any, Any]) -> list[float]:
    """The values in the order in which they sounded."""
    values = [round(float(value), 2) for value in out.max(axis=1)]
    return [value for n, value in enumerate(values) if n == 0 or value != values[n - 1]]


def until(holds: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 60.0
    while not holds() and time.monotonic() < deadline:
        time.sleep(0.002)
    assert holds()


@pytest.mark.parametrize(("side", "place"), [("left", 0), ("right", 1)])
def test_only_one_ear_hears_it(side: Side, place: int) -> None:
    library = StandIn([EARPHONE])
    earphone = Earphone(side=side, library=library)
    earphone.play(sound(0.5))
    earphone.close()
    out = played(library)
    assert len(out) == round(0.1 * RATE)
    assert np.all(out[:, place] == 0.5)
    assert np.all(out[:, 1 - place] == 0.0)


@pytest.mark.parametrize("channels", [1, 2, 6])
def test_at_a_desk_both_ears_hear_a_note(monkeypatch: pytest.MonkeyPatch, channels: int) -> None:
    library = StandIn([("Speakers", 0, channels, RATE)])
    monkeypatch.setattr(microphone, "portaudio", lambda: library)
    play_sound(sound(0.5))
    out = played(library)
    assert out.shape == (round(0.1 * RATE), min(2, channels))
    assert np.all(out == 0.5)


def test_sounds_come_one_after_the_other_and_the_volume_is_kept_within_full_scale() -> None:
    library = StandIn([EARPHONE])
    earphone = Earphone(volume=2.0, library=library)
    for value in (0.1, 0.2, 0.7):
        earphone.play(sound(value))
    earphone.close()
    assert order(played(library)) == [0.2, 0.4, 1.0]


def slow(
    library: StandIn, begun: threading.Event, goes_on: threading.Event
) -> Callable[[Any], None]:
    """Writing takes its time, as on a device: what is written first, until the test goes on."""
    stream = library.streams[-1]

    def write(data: Any) -> None:
        begun.set()
        assert goes_on.wait(60.0)
        stream.written.append(np.array(data))

    return write


def test_what_is_cancelled_breaks_off_and_what_waits_of_it_is_forgotten(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    library, begun, goes_on = StandIn([EARPHONE]), threading.Event(), threading.Event()
    earphone = Earphone(library=library)
    monkeypatch.setattr(library.streams[-1], "write", slow(library, begun, goes_on))
    earphone.play(sound(0.1, 5.0), "over")
    earphone.play(sound(0.2), "over")
    earphone.play(sound(0.3, 0.2), "stands")
    assert begun.wait(60.0)
    earphone.cancel(lambda key: key == "over")
    goes_on.set()
    earphone.close()
    out = played(library)
    assert order(out) == [0.1, 0.3]
    assert np.sum(np.round(out.max(axis=1), 2) == 0.1) < RATE, "it was cut off"


def test_a_device_with_another_rate_gets_that_rate() -> None:
    library = StandIn([("Earphone", 0, 2, 48_000)])
    earphone = Earphone(library=library)
    earphone.play(sound(0.5, 0.5))
    earphone.close()
    assert len(played(library)) == pytest.approx(0.5 * 48_000, abs=10)


def test_a_device_that_fails_is_opened_again_for_the_next_sound() -> None:
    library = StandIn([EARPHONE])
    earphone = Earphone(library=library)
    library.gone = True
    earphone.play(sound(0.1))
    until(lambda: earphone.trouble is not None)
    assert earphone.trouble == "('Device unavailable', -9985)"
    library.gone = False
    earphone.play(sound(0.2))
    earphone.close()
    assert order(played(library)) == [0.2]
    assert not any(stream.open for stream in library.streams)


LOUDSPEAKER = ("Loudspeaker", 0, 2, RATE)


@pytest.mark.parametrize("name", [None, "ear"])
def test_when_the_earphone_is_gone_no_other_device_sounds(name: str | None) -> None:
    library = StandIn([EARPHONE, LOUDSPEAKER, ("Another earphone", 0, 2, RATE)])
    earphone = Earphone(name=name, library=library)
    earphone.release()  # devices are looked for anew
    library.devices = library.devices[1:]
    earphone.play(sound(0.1))
    until(lambda: earphone.trouble is not None)
    assert earphone.trouble == (
        "Found the earphone 'Earphone' gone, wanted it back; plug it in again."
    )
    assert len(library.streams) == 1
    library.devices = [LOUDSPEAKER, EARPHONE]  # back, under another number
    earphone.play(sound(0.2))
    earphone.close()
    assert [stream.options["device"] for stream in library.streams] == [0, 1]
    assert order(played(library)) == [0.2]


def test_an_earphone_that_is_back_is_found_while_nothing_is_to_be_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("voicelog.live.earphone.CHECK_DEVICE_S", 0.02)
    library = StandIn([EARPHONE])
    earphone = Earphone(library=library)

    def waits(trouble: bool) -> None:
        until(lambda: (earphone.trouble is not None) == trouble)

    library.gone = True
    earphone.play(sound(0.1))
    waits(True)
    library.gone = False
    waits(False)
    earphone.close()
    assert not played(library).any(), "only silence was tried"


def test_an_earphone_that_takes_no_sound_is_noticed_and_nothing_is_said_late(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    library, now_s = StandIn([EARPHONE]), [0.0]
    earphone = Earphone(library=library, seconds=lambda: now_s[0])
    begun, goes_on = threading.Event(), threading.Event()
    stream = library.streams[-1]
    write = stream.write

    def blocked(data: Any) -> None:
        begun.set()
        goes_on.wait(60.0)
        write(data)

    monkeypatch.setattr(stream, "write", blocked)
    earphone.play(sound(0.1))
    assert begun.wait(60.0)
    earphone.play(sound(0.2))
    now_s[0] = 1.9
    assert earphone.trouble is None
    now_s[0] = 2.0
    assert earphone.trouble == "it takes no sound"
    earphone.play(sound(0.3))
    monkeypatch.setattr(stream, "write", write)
    goes_on.set()
    until(lambda: earphone.trouble is None)
    earphone.play(sound(0.4))
    earphone.close()
    assert order(played(library)) == [0.1, 0.4], "what waited is not heard"


def test_an_earphone_that_is_stuck_at_the_end_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.live.earphone.RELEASE_S", 0.01)
    library = StandIn([EARPHONE])
    earphone = Earphone(library=library)
    begun = threading.Event()

    def blocked(data: Any) -> None:
        begun.set()
        threading.Event().wait()

    monkeypatch.setattr(library.streams[-1], "write", blocked)
    earphone.play(sound(0.1))
    assert begun.wait(60.0)
    monkeypatch.setattr(earphone._thread, "join", lambda timeout: None)
    earphone.close()  # it comes back


def test_it_lets_go_while_devices_are_looked_for() -> None:
    library = StandIn([EARPHONE])
    earphone = Earphone(library=library)
    earphone.release()
    assert not library.streams[0].open
    earphone.play(sound(0.3))
    earphone.close()
    assert order(played(library)) == [0.3]


def test_a_missing_earphone_is_one_sentence() -> None:
    with pytest.raises(NoDeviceError) as refused:
        Earphone(name="lapel", library=StandIn([EARPHONE]))
    assert str(refused.value) == (
        "Found no earphone whose name has 'lapel' in it, wanted one of those there are "
        "(Earphone); correct --output."
    )
