"""A phone as source and mouth of the same live session: its timers go by the sound that came, what
came late is text, and the log has all of it once."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import numpy as np
import pytest

from tests.live.fields import ROSTER
from tests.live.stage import Script, beep
from voicelog.app.open_file import IntakeOptions
from voicelog.app.phone_sound import PhoneRecording, PhoneSound, SoundBlock
from voicelog.app.resume import ResumedRecording, interrupted_recordings
from voicelog.audio.files import blocks
from voicelog.audio.recorder import as_pcm
from voicelog.audio.resampling import RATE
from voicelog.live.live_setup import ListenOptions
from voicelog.live.phone_listening import PhoneListening
from voicelog.live.phone_microphone import PhoneMicrophone
from voicelog.live.sample_clock import SampleClock
from voicelog.live.speech_synthesis import SpeechSynthesizer
from voicelog.model import FieldEvent
from voicelog.safety.settings import Settings
from voicelog.store import Log

ID = "ab" * 16
BEGAN = datetime(2026, 4, 18, 7, 30, tzinfo=UTC)
SIZE = 8000
LINES = [(3.0, "start session bracken"), (6.0, "level nine"), (20.0, "here level one came")]


@dataclass
class Phone:
    """A phone, the laptop's side of it, and a session in a thread of its own."""

    log: Log
    sound: PhoneSound
    pcm: Any
    script: Script = field(default_factory=lambda: Script(LINES))
    notes: list[str] = field(default_factory=list)
    sent: int = 0
    whole: bool | None = None

    def __post_init__(self) -> None:
        self.listening = PhoneListening(
            lambda log: ListenOptions(ROSTER, Settings()),
            SpeechSynthesizer("beep", beep),
            self.notes.append,
            self.script,
        )

    def send(self, until_s: float, recorded_s: float | None = None) -> None:
        """Send sound as far as that, having recorded as far as the other says."""
        while self.sent < min(until_s * RATE, len(self.pcm)):
            pcm = self.pcm[self.sent : self.sent + SIZE].astype("<i2").tobytes()
            block = SoundBlock(self.sent, pcm, hashlib.sha256(pcm).hexdigest())
            self.sent = self.sound.take(ID, "phone", BEGAN, block)
            self.listening.told(ID, round((recorded_s or self.sent / RATE) * RATE))

    def begin(self) -> None:
        (kept,) = self.sound.arriving()
        folder = self.log.folder

        def run() -> None:
            with Log.open(folder, now=lambda: BEGAN) as log:
                self.whole = self.listening.listen(log, self.sound, kept)

        self.running = threading.Thread(target=run)
        self.running.start()

    def end(self) -> None:
        self.sound.finish(ID, len(self.pcm))
        self.running.join(timeout=60.0)
        assert not self.running.is_alive()

    def events(self) -> list[FieldEvent]:
        return [one for one in self.log.events(ID) if isinstance(one, FieldEvent)]


@pytest.fixture
def phone(tmp_path: Path) -> Iterator[Phone]:
    pcm = np.random.default_rng(4).integers(-90, 90, 25 * RATE).astype(np.int16)
    with Log.open(tmp_path / "log", now=lambda: BEGAN) as log:
        sound = PhoneSound(log.folder)
        yield Phone(log, sound, pcm)
        sound.close()


def asked(phone: Phone, recorded_s: float, words: str, after: int = 0) -> list[Any]:
    """All answers, asked for until one has those words."""
    found: list[Any] = []
    deadline = monotonic() + 60.0
    while monotonic() < deadline:
        got = phone.listening.wait(ID, round(recorded_s * RATE), after, 0.1)
        if got is None:
            sleep(0.05)  # it has not begun
        found += got or ()
        after = found[-1].number if found else after
        if any(words in one.words for one in found):
            return found
    raise AssertionError([one.words for one in found])


def test_a_phone_that_is_near_is_answered_with_sound_and_all_is_in_the_log_once(
    phone: Phone,
) -> None:
    phone.send(0.5)
    phone.begin()
    asked(phone, 0.5, "Listening")
    phone.send(8.0)
    found = asked(phone, 8.0, "ceiling")
    stop = next(one for one in found if "ceiling" in one.words)
    assert stop.pcm
    assert not stop.late
    phone.send(25.0)
    phone.end()
    assert phone.whole
    (kept,) = phone.log.recordings()
    assert (kept.id, kept.complete, kept.started_at) == (ID, True, BEGAN)
    path = phone.log.sound_of(kept)
    assert path is not None
    assert np.array_equal(np.concatenate([as_pcm(one) for one in blocks(path)]), phone.pcm)
    assert phone.sound.waiting() == phone.sound.unfinished() == ()
    assert any(one.what == "warning" and "shown" not in one.detail for one in phone.events())
    assert phone.listening.wait(ID, 0, 10**6, 0.0) is None


def test_what_comes_after_minutes_out_of_reach_is_text_and_marked_late(phone: Phone) -> None:
    phone.send(8.0, recorded_s=600.0)
    phone.begin()
    found = asked(phone, 600.0, "ceiling")
    phone.send(25.0, recorded_s=600.0)
    assert all(one.late and not one.pcm for one in found if not one.cancels)
    stop = next(one for one in found if "ceiling" in one.words)
    assert 6.0 <= stop.at / RATE <= 8.0  # the time it is about, not that at which it came
    phone.end()
    told = [one for one in phone.events() if one.what in ("warning", "tone")]
    assert told
    assert all(one.detail.startswith("shown") for one in told)
    assert not any("clock" in one.what or "slow" in one.detail for one in phone.events())


def test_a_session_that_was_left_is_completed_from_the_whole_sound_once(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone.send(8.0)
    phone.begin()
    asked(phone, 8.0, "ceiling")
    phone.listening.leave()
    phone.running.join(timeout=60.0)
    assert phone.whole is False
    assert interrupted_recordings(phone.log) == ()  # the phone has more of it
    phone.send(25.0)
    phone.sound.finish(ID, len(phone.pcm))
    monkeypatch.setattr(
        "voicelog.app.phone_sound.resume_stored",
        lambda log, kept, listener: ResumedRecording(kept, new=round(_length_s(log))),
    )
    ((kept, outcome),) = phone.sound.add_waiting(phone.log, IntakeOptions(ROSTER, Settings()))
    assert isinstance(outcome, ResumedRecording)
    assert outcome.new == 25
    assert isinstance(kept, PhoneRecording)
    assert len(phone.log.recordings()) == 1


def test_sound_that_cannot_be_read_leaves_a_session_to_be_completed(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone.send(8.0)
    phone.begin()
    asked(phone, 8.0, "ceiling")

    def broken(*given: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(phone.sound, "read", broken)
    phone.running.join(timeout=60.0)
    assert phone.whole is False
    assert not phone.log.recordings()[0].complete
    assert any("no way to read the phone's sound on this disk" in note for note in phone.notes)


def _length_s(log: Log) -> float:
    (path,) = log.live_folder.glob("*.wav")
    return sum(map(len, blocks(path))) / RATE


def test_the_phones_clock_waits_until_its_sound_is_taken(phone: Phone) -> None:
    """Else a session that is slow to take it would call the microphone gone, and let go of it."""
    phone.send(8.0)
    clock, passed = SampleClock(BEGAN), threading.Event()
    microphone = PhoneMicrophone(
        lambda start, most, wait_s: phone.sound.read(ID, start, most, wait_s),
        clock,
        lag_s=lambda: 0.0,
        taken=lambda: 0,
        over=passed.set,
    )
    microphone.open(lambda _: lambda *_: None, False)
    deadline = monotonic() + 60.0
    while clock.seconds() < 0.5:
        assert monotonic() < deadline
        sleep(0.01)
    assert not passed.wait(0.3)
    assert clock.seconds() <= 0.6
    microphone.close()
