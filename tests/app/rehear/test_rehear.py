"""A kept recording is heard again from its sound; only `accept_rehearing` changes the log."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from tests.app.rehear.hearing import GRAMMAR, RECORDING, ROSTER, events_of, heard, reps, said
from tests.audio.making import noise, write
from tests.store.log_cases import clock
from voicelog.app.intake import Intake, RecognitionSetup, Recognize, RecognizedUtterance
from voicelog.app.rehear import SoundGoneError, accept_rehearing, rehear
from voicelog.app.typed_file import TypedFile
from voicelog.audio.resampling import Samples
from voicelog.model import Reading
from voicelog.safety.settings import Settings
from voicelog.store import Log, StoredRecording

FIRST = heard((0, "start session bracken"), (4, "level three came"), (8, "no button came"))
BETTER = heard((0, "start session bracken"), (4, "level four came"), (8, "no button came"))


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=clock) as opened:
        yield opened


def hearing(today: Sequence[RecognizedUtterance]) -> Recognize:
    """A listener that reads all the sound and then says `today`."""

    def hear(blocks: Iterable[Samples], recording: str) -> Iterator[RecognizedUtterance]:
        assert recording == RECORDING.id
        assert sum(map(len, blocks)) == 12 * 16_000
        return iter(today)

    return hear


def nobody(_blocks: Iterable[Samples], _recording: str) -> Iterator[RecognizedUtterance]:
    raise AssertionError("nobody is to listen")


def added(log: Log, *, sound: bool = True, silent: tuple[float, float] = (0, 0)) -> StoredRecording:
    """FIRST, in the log, with 12 s of noise that is silent between two moments (s)."""
    kept = RECORDING
    if sound:
        samples = noise(12, 0.1)
        samples[int(silent[0] * 16_000) : int(silent[1] * 16_000)] = 0
        path = write(log.folder / "noise.wav", samples)
        copy = log.store_sound(path, sha256(path.read_bytes()).hexdigest())
        kept = kept.model_copy(update={"sound": str(copy.relative_to(log.folder))})
    fields = kept.model_dump(exclude={"added_at", "complete"})
    assert log.begin_recording(type(kept).__base__.model_validate(fields))  # type: ignore[union-attr]
    log.append(events_of(*FIRST))
    log.finish_recording(kept.id)
    found = log.recording(kept.id)
    assert found is not None
    return found


def test_hearing_again_changes_nothing_and_taking_over_does(log: Log) -> None:
    kept = added(log)
    before = log.events(kept.id)
    difference = rehear(log, kept, hearing(BETTER), GRAMMAR)
    assert len(difference.new) == 1
    assert log.events(kept.id) == before
    assert accept_rehearing(log, difference) == 1
    assert reps(log.events(kept.id)) == reps(events_of(*BETTER))
    assert log.events(kept.id)[: len(before)] == before


def test_taking_over_twice_is_taking_over_once(log: Log) -> None:
    kept = added(log)
    difference = rehear(log, kept, hearing(BETTER), GRAMMAR)
    accept_rehearing(log, difference)
    after = log.events(kept.id)
    accept_rehearing(log, difference)
    assert log.events(kept.id) == after
    assert rehear(log, kept, hearing(BETTER), GRAMMAR).changes == ()


def test_what_a_person_reads_in_the_meantime_stands(log: Log) -> None:
    kept = added(log)
    difference = rehear(log, kept, hearing(BETTER), GRAMMAR)
    read = Reading(
        id="p1", utterance=FIRST[1][0].id, words="level two came", by="person", who="Anna"
    )
    log.append([read])
    before = log.events(kept.id)
    assert accept_rehearing(log, difference) == 0
    assert log.events(kept.id) == before


def test_a_strike_whose_new_aim_has_been_read_in_the_meantime_is_left(log: Log) -> None:
    """What it would aim at is not put in any more, so the strike must not name it."""
    kept = added(log)
    log.append(events_of(*FIRST, said(11, "strike that", end_s=12.0))[-4:])
    today = [*FIRST[:2], said(7, "tap two", end_s=9.5), said(11, "strike that", end_s=12.0)]
    difference = rehear(log, kept, hearing(today), GRAMMAR)
    read = Reading(id="p1", utterance=FIRST[2][0].id, words="came", by="person", who="Anna")
    log.append([read])
    before = log.events(kept.id)
    accept_rehearing(log, difference)
    assert log.events(kept.id) == before


def test_where_sound_was_deleted_what_was_heard_stays(log: Log) -> None:
    kept = added(log, silent=(3.5, 6.5))
    assert rehear(log, kept, hearing([FIRST[0], FIRST[2]]), GRAMMAR).changes == ()
    assert len(rehear(log, kept, hearing(FIRST[:2]), GRAMMAR).new) == 1


def test_a_recording_without_sound_is_said_to_have_none(log: Log) -> None:
    kept = added(log, sound=False)
    with pytest.raises(SoundGoneError) as raised:
        rehear(log, kept, nobody, GRAMMAR)
    assert str(raised.value) == (
        f"Found no sound of '{'r' * 12}' in the log, wanted it to hear it again; it was deleted, "
        "so its entries stay as they are."
    )


def test_a_typed_recording_is_read_again(log: Log, tmp_path: Path) -> None:
    path = tmp_path / "a.tsv"
    path.write_text("0\t2\tstart session bracken\n4\t6\tlevle three came\n8\t9\tgood girl then\n")
    setup = RecognitionSetup(
        grammar=GRAMMAR, settings=Settings(), dog="Bracken", listeners=("typed 1",)
    )
    intake = Intake(TypedFile(path, GRAMMAR), setup)
    events = [event for batch in intake for event in batch]
    copy = log.store_sound(path, intake.id)
    sound = str(copy.relative_to(log.folder))
    log.begin_recording(intake.recording.model_copy(update={"sound": sound}))
    log.append(events)
    log.finish_recording(intake.id)
    kept = log.recording(intake.id)
    assert kept is not None
    assert kept.roster == ROSTER
    assert rehear(log, kept, nobody, GRAMMAR).changes == ()
    copy.write_text("0\t2\tstart session bracken\n4\t6\tlevel three came\n")
    difference = rehear(log, kept, nobody, GRAMMAR)
    assert [change.after[0].words for change in difference.new] == ["level three came"]
    assert accept_rehearing(log, difference) == 1
    assert rehear(log, kept, nobody, GRAMMAR).changes == ()


def test_noise_is_not_taken_for_silence() -> None:
    assert np.all(noise(1, 0.001).reshape(-1, 1600).any(axis=1))
