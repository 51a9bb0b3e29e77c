"""A whole live session on a real log, through everything that may go wrong on the way."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.live.fields import ROSTER
from tests.live.stage import Script, Stage, statuses
from voicelog.app.derive import derive
from voicelog.app.live_files import live_file
from voicelog.app.own_speech import EARPIECE
from voicelog.app.resume import interrupted_recordings, resume_recording
from voicelog.audio.files import AudioReader
from voicelog.audio.recorder import as_pcm
from voicelog.audio.resampling import RATE
from voicelog.live.live_setup import ListenOptions
from voicelog.live.recognition_messages import RecognitionMessage, UtteranceRecognized
from voicelog.live.recognition_process import RecognitionRequest
from voicelog.model import FieldEvent
from voicelog.report.screen_words import MICROPHONE_STUCK as STUCK
from voicelog.report.screen_words import not_heard_words
from voicelog.safety.settings import Settings
from voicelog.store import DiskFullError, StoredRecording

LINES = (
    (3.0, "start session bracken"),
    (8.0, "here level one came"),
    (12.0, "here level two came"),
    (16.0, "no button came"),
)
WORDS = [words for _, words in LINES]
EARPIECED = ListenOptions(ROSTER, Settings(), earpiece=True)


def kept(stage: Stage) -> StoredRecording:
    (recording,) = stage.log.recordings()
    return recording


def details(stage: Stage, what: str) -> list[str]:
    events = stage.log.events(stage.live.id)
    return [e.detail for e in events if isinstance(e, FieldEvent) and e.what == what]


def test_a_session_is_kept_with_its_sound_and_all_that_was_heard_and_said(tmp_path: Path) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=18.0, wanted=EARPIECED)
    assert stage.run()
    recording = kept(stage)
    assert recording.complete
    assert recording.listeners == ("script 1",)
    assert recording.started_at == stage.clock.wall().replace(second=0, microsecond=0)
    assert recording.duration_s == pytest.approx(18.0)
    path = stage.log.sound_of(recording)
    assert path is not None
    with AudioReader(path) as reader:
        assert np.array_equal(as_pcm(np.concatenate(list(reader))), as_pcm(stage._sound))
    assert list((tmp_path / "live").iterdir()) == []

    events = stage.log.events(recording.id)
    assert list(events) == stage.live.events
    assert statuses(events) == [(words, "accepted") for words in WORDS]
    derivation = derive(recording, events, stage.setup.recognition.grammar)
    assert [rep.peak_level for rep in derivation.line.reps] == [1, 2, None]
    assert stage.mouth.sounded[:2] == ["Listening. More to check tonight", "accepted"]
    assert stage.mouth.sounded.count("accepted") == 4
    assert "Bracken. Collar 4. Ceiling 6. Without the button first." in stage.mouth.sounded
    assert details(stage, "tone").count("accepted") == 4
    assert any(
        detail.startswith("start-high said for") or "warmup" in detail
        for detail in details(stage, "warning")
    )
    assert EARPIECE in details(stage, "device")


def test_what_is_said_under_its_own_voice_is_at_best_doubtful(tmp_path: Path) -> None:
    lines = ((3.0, "start session bracken"), (4.8, "here level one came"))
    stage = Stage(tmp_path, Script(lines), seconds=7.0)
    assert stage.run()
    assert statuses(stage.live.events)[0] == ("start session bracken", "accepted")
    assert statuses(stage.live.events)[1] == ("here level one came", "doubtful")
    assert "doubtful" in stage.mouth.sounded
    assert not any("?" in words for words in stage.mouth.sounded), "asking would add to it"


def test_a_microphone_pulled_out_is_said_and_the_session_goes_on_when_it_is_back(
    tmp_path: Path,
) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=18.0)
    stage.plugged = lambda step: not 50 <= step < 100
    assert stage.run()
    assert "Microphone gone" in stage.mouth.sounded
    (back,) = (words for words in stage.mouth.sounded if words.startswith("Microphone back"))
    missed_s = int(back.split()[2])
    assert back == f"Microphone back. {missed_s} seconds not heard"
    assert 5 <= missed_s <= 10, "five seconds, and what opening it took"
    gone = [e for e in stage.live.events if isinstance(e, FieldEvent) and e.detail == "gone"]
    assert 6.0 < gone[0].at_s <= 6.5, "within two seconds"
    assert stage.opened > 2
    assert stage.mouth.released > 0
    recording = kept(stage)
    assert recording.duration_s == pytest.approx(18.0, abs=0.2), "the gap is silence"
    assert [words for words, _ in statuses(stage.live.events)] == WORDS


def test_a_sound_server_that_hangs_holds_up_neither_the_words_nor_the_end(tmp_path: Path) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=18.0)
    let_go = threading.Event()
    stage.hangs, stage.reached = True, lambda: let_go.wait(300.0)
    stage.plugged = lambda step: step < 100
    assert stage.run()
    let_go.set()
    gone = [e for e in stage.live.events if isinstance(e, FieldEvent) and e.detail == "gone"]
    assert 11.0 < gone[0].at_s <= 11.5, "within two seconds"
    assert stage.live.at_s == pytest.approx(18.0, abs=0.2)
    told = not_heard_words(stage.live.unheard_s)
    assert told == "The last 8 seconds were not heard: no sound came."
    assert any(
        isinstance(e, FieldEvent) and e.detail.startswith("not heard to the end, 8.")
        for e in stage.live.events
    )


def test_a_microphone_that_is_never_let_go_of_is_said_to_be_stuck_and_counted_when_it_is_back(
    tmp_path: Path,
) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=30.0)
    let_go, shown = threading.Event(), list[str]()
    stage.hangs, stage.closed = True, lambda: let_go.wait(300.0)
    stage.plugged = lambda step: not 50 <= step < 240

    def frees() -> None:
        shown.extend(stage.live.dialogue.troubles.values())
        assert stage.opened == 1, "none is opened beside it"
        stage.closed = lambda: None
        stage.hangs = False
        let_go.set()

    stage.at = {230: frees}
    assert stage.run()
    sounded = stage.mouth.sounded
    assert sounded.count("Microphone stuck. Start listening again") == 1
    stuck = [e for e in stage.live.events if isinstance(e, FieldEvent) and e.detail == STUCK]
    assert 16.0 < stuck[0].at_s <= 17.0, "ten seconds after it was found to be gone"
    assert STUCK in shown
    (back,) = (words for words in sounded if words.startswith("Microphone back"))
    assert int(back.split()[2]) >= 19, "all of what was not heard"
    assert not stage.live.dialogue.troubles


def test_hearing_that_stands_still_is_said_and_begun_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.live.recognition_supervisor.STUCK_S", 8.0)
    script = Script(LINES)
    stage = Stage(tmp_path, script, seconds=30.0, wanted=EARPIECED)
    script.stands_from_s = 6.0
    assert stage.run()
    assert (script.made, script.killed) == (2, 1)
    sounded = stage.mouth.sounded
    assert sounded.index("Hearing late. More to check") < sounded.index(
        "Hearing stopped. Recording goes on"
    )
    assert any(words.startswith("Hearing back") for words in sounded)
    assert "Hearing stood still for 8 seconds; it is started again." in stage.notes
    assert [words for words, _ in statuses(stage.live.events)] == WORDS
    assert kept(stage).complete


def test_an_earphone_that_goes_away_is_shown_and_its_words_are_not_said_to_be_heard(
    tmp_path: Path,
) -> None:
    lines = ((3.0, "start session bracken"), (6.0, "here level nine"))
    stage = Stage(tmp_path, Script(lines), seconds=20.0, wanted=EARPIECED)
    shown: list[str] = []

    def trouble(why: str | None) -> None:
        stage.mouth.trouble = why

    stage.at = {
        40: lambda: trouble("ear is gone"),
        100: lambda: shown.extend(stage.live.dialogue.troubles.values()),
        150: lambda: trouble(None),
    }
    assert stage.run()
    silent = "The earphone is silent, and nothing sounds in its place (ear is gone)."
    assert shown == [silent]
    assert silent in stage.notes
    assert [d for d in details(stage, "device") if "earphone" in d] == [silent, "earphone back"]
    assert "shown: Stop. Above the ceiling" in details(stage, "warning")
    assert "Earphone back" in stage.mouth.sounded
    assert not stage.live.dialogue.troubles


def test_a_stop_that_was_struck_is_taken_from_her_ear(tmp_path: Path) -> None:
    lines = ((3.0, "start session bracken"), (6.0, "here level nine"), (8.0, "strike that"))
    stage = Stage(tmp_path, Script(lines), seconds=20.0, wanted=EARPIECED)
    assert stage.run()
    stop = "Stop. Above the ceiling"
    assert stop in stage.mouth.sounded
    assert any(over(key) for over in stage.mouth.cancelled for key in stage.mouth.keys_of(stop))
    assert "waiting" not in stage.mouth.sounded


def test_a_full_disk_is_said_at_once_and_nothing_is_lost_when_there_is_room_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=24.0, wanted=EARPIECED)
    append = stage.log.append
    full = False

    def sometimes(new: Any) -> int:
        if full:
            raise DiskFullError(tmp_path)
        return append(new)

    def is_full(now: bool) -> None:
        nonlocal full
        full = now

    while_full: list[str] = []
    play = stage.mouth.play

    def listened_to(sound: Any, key: Any = None) -> None:
        play(sound, key)
        if full:
            while_full.append(stage.mouth.sounded[-1])

    monkeypatch.setattr(stage.mouth, "play", listened_to)
    monkeypatch.setattr(stage.log, "append", sometimes)
    stage.at = {70: lambda: is_full(True), 140: lambda: is_full(False)}
    assert stage.run()
    assert "Disk full. Free some space" in stage.mouth.sounded
    assert "Disk writes again. All kept" in stage.mouth.sounded
    assert "accepted" not in while_full, "a tone says that it is on disk"
    assert while_full, "nothing sounded meanwhile"
    assert list(stage.log.events(stage.live.id)) == stage.live.events
    assert [words for words, _ in statuses(stage.live.events)] == WORDS


def test_a_disk_that_stays_full_leaves_a_session_that_can_be_completed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=14.0, wanted=EARPIECED)
    append = stage.log.append
    calls = 0

    def full(new: Any) -> int:
        nonlocal calls
        calls += 1
        if calls > 4:
            raise DiskFullError(tmp_path)
        return append(new)

    monkeypatch.setattr(stage.log, "append", full)
    assert not stage.run()
    assert not kept(stage).complete
    monkeypatch.undo()
    (cut,) = interrupted_recordings(stage.log)
    had = len(statuses(stage.log.events(cut.id)))
    done = resume_recording(
        stage.log, cut, lambda kept: (stage.setup.recognition, lambda blocks, name: _replay(cut))
    )
    assert had < len(LINES)
    assert (done.again, done.new) == (had, len(LINES) - had)
    assert [words for words, _ in statuses(stage.log.events(cut.id))] == WORDS
    recording = kept(stage)
    assert recording.complete
    assert recording.duration_s == pytest.approx(14.0)
    assert interrupted_recordings(stage.log) == ()
    assert not live_file(stage.log, cut.id).exists()


def test_asked_twice_to_stop_it_leaves_the_rest_for_later(tmp_path: Path) -> None:
    script = Script(LINES)
    stage = Stage(tmp_path, script, seconds=18.0, wanted=EARPIECED)
    script.hangs = True  # a machine that would need minutes for the rest

    def stop_again() -> None:
        while not stage.live.stopping:
            time.sleep(0.01)
        stage.live.stop()

    threading.Thread(target=stop_again, daemon=True).start()
    assert not stage.run()
    (cut,) = interrupted_recordings(stage.log)
    assert cut.id == stage.live.id


def test_hearing_that_dies_begins_anew_and_nothing_is_heard_twice(tmp_path: Path) -> None:
    script = Script(LINES, dies_at_s=10.0)
    stage = Stage(tmp_path, script, seconds=18.0, wanted=EARPIECED)
    assert stage.run()
    assert script.made == 2
    assert "Hearing stopped. Recording goes on" in stage.mouth.sounded
    assert "Hearing back" in stage.mouth.sounded
    assert not stage.live.dialogue.troubles
    assert [words for words, _ in statuses(stage.live.events)] == WORDS
    assert kept(stage).complete


def test_a_machine_that_cannot_follow_hears_with_the_quick_listener_and_says_so(
    tmp_path: Path,
) -> None:
    script = Script(LINES)
    stage = Stage(tmp_path, script, seconds=18.0, wanted=EARPIECED)

    def lags(seconds: float) -> None:
        script.lag_s = seconds

    stage.at = {60: lambda: lags(8.0), 120: lambda: lags(0.2)}
    assert stage.run()
    assert script.skipped == [True, False]
    assert stage.mouth.sounded.count("Hearing late. More to check") == 1


@pytest.mark.parametrize(("lag_s", "warned"), [(0.2, True), (4.0, False)])
def test_timers_go_by_the_time_heard_through(tmp_path: Path, lag_s: float, warned: bool) -> None:
    """A thumb that came off is not told to come off by a machine that had not heard it yet, and
    sound that waited while the recognizers got ready is no lag."""
    lines = [(2.0, "start session bracken"), (4.0, "here level three"), (9.5, "thumb off")]
    script = Script(lines)
    script.lag_s = lag_s + 4.0

    def caught_up() -> None:
        script.lag_s = lag_s

    stage = Stage(tmp_path, script, seconds=13.0, wanted=EARPIECED)
    stage.at = {30: caught_up}
    assert stage.run()
    assert script.skipped == []
    assert ("Thumb off" in stage.mouth.sounded) is warned


def test_a_clock_set_back_is_kept_and_changes_no_time(tmp_path: Path) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=18.0, wanted=EARPIECED)

    def set_back() -> None:
        stage.clock.set_by_s = -3600.0

    stage.at = {60: set_back}
    assert stage.run()
    assert details(stage, "clock") == ["The clock was set back by 3600 s; the session goes on."]
    recording = kept(stage)
    assert recording.started_at is not None
    assert recording.started_at.hour == 7
    ends = [e.end_s for e in stage.live.events if e.event == "utterance"]
    assert ends == [end_s for end_s, _ in LINES]


def test_a_machine_that_slept_says_once_how_much_was_not_heard(tmp_path: Path) -> None:
    stage = Stage(tmp_path, Script(LINES), seconds=18.0, wanted=EARPIECED)

    def sleep() -> None:
        stage.clock.now_s += 40.0
        stage.clock.slept += 40.0

    stage.at = {60: sleep}
    assert stage.run()
    told = "The machine slept for 40 seconds and heard nothing meanwhile; the session goes on."
    assert [one for one in details(stage, "device") if "slept" in one] == [told]
    assert stage.mouth.sounded.count("Machine slept. 40 seconds not heard") == 1
    assert "Microphone gone" not in stage.mouth.sounded
    assert details(stage, "clock") == []
    assert kept(stage).duration_s == pytest.approx(58.0, abs=0.2)


def test_a_recording_without_a_single_block_leaves_nothing_behind(tmp_path: Path) -> None:
    stage = Stage(tmp_path, Script(()), seconds=1.0)
    stage.plugged = lambda step: False
    with pytest.raises(Exception, match="not there"):
        stage.run()
    assert stage.log.recordings() == ()
    assert list((tmp_path / "live").iterdir()) == []


def test_the_sound_is_sixteen_thousand_samples_a_second(tmp_path: Path) -> None:
    stage = Stage(tmp_path, Script(()), seconds=2.0)
    assert stage.run()
    assert kept(stage).duration_s * RATE == 2 * RATE


def _replay(cut: StoredRecording) -> Any:
    """What the same script says of the same recording."""
    messages: list[RecognitionMessage] = []
    recognition = Script(LINES)(RecognitionRequest(cut.roster, cut.id), messages.append)
    recognition.feed(np.zeros(14 * RATE, np.int16))
    recognition.finish()
    return iter([one.utterance for one in messages if isinstance(one, UtteranceRecognized)])
