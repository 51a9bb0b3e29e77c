"""Handed over and back: a union of both, done twice the same, and nothing deleted returns."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path

import bagit
import numpy as np
import pytest
import soundfile as sf
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.store.log_cases import BRAMBLE, NOON, spoken
from tests.store.merging import corrected, part_of, taken_in, ticking, undone, wav, whole
from voicelog.session.entries import fold
from voicelog.store import Log
from voicelog.store.bagit import BagItError
from voicelog.store.bundle import merge_bundle, write_bundle
from voicelog.store.deletion import delete_dog, delete_parts, delete_sound


@pytest.fixture
def logs(tmp_path: Path) -> Iterator[tuple[Log, Log]]:
    with ExitStack() as stack:
        one = stack.enter_context(Log.open(tmp_path / "anna", now=ticking()))
        two = Log.open(tmp_path / "bert", now=ticking(NOON + timedelta(minutes=5)))
        yield one, stack.enter_context(two)


def dump(log: Log) -> list[object]:
    """All that a log holds, without the times of its own."""
    return [
        (one.model_dump(exclude={"sound"}), log.stamped_events(one.id)) for one in log.recordings()
    ]


def send(log: Log, to: Log, recording: str, path: Path) -> int:
    """Hand a recording over; how many events were new there."""
    path.unlink(missing_ok=True)
    write_bundle(log, path, [whole(log, recording)], ["Bramble"])
    return merge_bundle(to, path).events


def readings(log: Log, recording: str) -> list[str]:
    return [entry.reading for entry in fold(log.events(recording), lambda _words: None)]


def test_the_bag_is_one_that_others_can_check(logs: tuple[Log, Log], tmp_path: Path) -> None:
    """The Library of Congress's own reader of bags is the referee."""
    recording = taken_in(logs[0], wav(tmp_path / "a.wav"))
    write_bundle(logs[0], tmp_path / "Bramble & co.zip", [whole(logs[0], recording)], ["Bramble"])
    with zipfile.ZipFile(tmp_path / "Bramble & co.zip") as archive:
        archive.extractall(tmp_path / "out")
    bag = bagit.Bag(str(tmp_path / "out" / "Bramble-co"))
    assert bag.validate(completeness_only=False)
    assert bag.has_oxum()
    events = (tmp_path / "out" / "Bramble-co" / "data" / "events.jsonl").read_text().splitlines()
    assert [json.loads(line)["event"]["event"] for line in events] == [
        *("utterance", "reading", "verdict"),
        *("utterance", "reading", "verdict"),
    ]


def test_the_sound_is_handed_over_as_flac_sample_for_sample(
    logs: tuple[Log, Log], tmp_path: Path
) -> None:
    sound = wav(tmp_path / "a.wav")
    recording = taken_in(logs[0], sound)
    assert send(logs[0], logs[1], recording, tmp_path / "b.zip") == 6
    kept = logs[1].recording(recording)
    assert kept is not None
    path = logs[1].sound_of(kept)
    assert path is not None
    assert path.suffix == ".flac"
    before, after = (sf.read(one, dtype="int16")[0] for one in (sound, path))
    assert np.array_equal(before, after)


def test_twice_changes_nothing(logs: tuple[Log, Log], tmp_path: Path) -> None:
    recording = taken_in(logs[0], wav(tmp_path / "a.wav"))
    send(logs[0], logs[1], recording, tmp_path / "b.zip")
    before = dump(logs[1]), list((logs[1].folder / "sound").iterdir())
    assert merge_bundle(logs[1], tmp_path / "b.zip").events == 0
    assert (dump(logs[1]), list((logs[1].folder / "sound").iterdir())) == before


def test_both_peoples_corrections_survive_and_both_logs_agree(
    logs: tuple[Log, Log], tmp_path: Path
) -> None:
    anna, bert = logs
    recording = taken_in(anna, wav(tmp_path / "a.wav"))
    send(anna, bert, recording, tmp_path / "1.zip")
    corrected(bert, recording, 0, "level two", "Bert")  # five minutes ahead of Anna's clock
    corrected(anna, recording, 0, "level three", "Anna")
    corrected(anna, recording, 1, "no button", "Anna")
    send(anna, bert, recording, tmp_path / "2.zip")
    send(bert, anna, recording, tmp_path / "3.zip")
    assert anna.stamped_events(recording) == bert.stamped_events(recording)
    assert readings(anna, recording) == readings(bert, recording) == ["level two", "no button"]
    assert {"Anna", "Bert"} <= {getattr(event, "who", "") for event in anna.events(recording)}


def test_a_listener_that_heard_the_same_in_both_is_one(
    logs: tuple[Log, Log], tmp_path: Path
) -> None:
    anna, bert = logs
    recording = taken_in(anna, wav(tmp_path / "a.wav"))
    assert taken_in(bert, tmp_path / "a.wav") == recording
    assert send(anna, bert, recording, tmp_path / "1.zip") == 0
    assert bert.stamped_events(recording) == anna.stamped_events(recording)
    kept = bert.recording(recording)
    assert kept is not None
    assert kept.sound == f"sound/{recording}.wav", "the file that was there is as good"


def test_listeners_that_differ_both_stay(logs: tuple[Log, Log], tmp_path: Path) -> None:
    """Two programs heard the same sound with other dogs on the roster: same id, other words."""
    anna, bert = logs
    recording = taken_in(anna, wav(tmp_path / "a.wav"), utterances=0)
    taken_in(bert, tmp_path / "a.wav", utterances=0)
    anna.append(spoken(recording, 1, "level three"))
    bert.append(spoken(recording, 1, "level five"))
    for number in range(2):
        send(anna, bert, recording, tmp_path / f"{number}.zip")
        send(bert, anna, recording, tmp_path / f"{number}.zip")
    assert readings(anna, recording) == readings(bert, recording)
    words = [getattr(event, "words", None) for event in bert.events(recording)]
    assert {"level three", "level five"} <= set(words)
    count = len(anna.events(recording))
    assert send(bert, anna, recording, tmp_path / "again.zip") == 0
    assert len(anna.events(recording)) == count


def test_the_dog_comes_onto_the_roster_and_a_known_one_stays(
    logs: tuple[Log, Log], tmp_path: Path
) -> None:
    recording = taken_in(logs[0], wav(tmp_path / "a.wav"))
    write_bundle(logs[0], tmp_path / "b.zip", [whole(logs[0], recording)], ["Bramble"])
    logs[1].put_dog(BRAMBLE)
    assert merge_bundle(logs[1], tmp_path / "b.zip").dogs == []
    assert logs[1].roster().dogs == (BRAMBLE,)
    with Log.open(tmp_path / "third", now=ticking()) as third:
        assert merge_bundle(third, tmp_path / "b.zip").dogs == ["Bramble"]
        assert [dog.name for dog in third.roster().dogs] == ["Bramble"]


def test_a_part_holds_nothing_of_the_rest(logs: tuple[Log, Log], tmp_path: Path) -> None:
    recording = taken_in(logs[0], wav(tmp_path / "a.wav"))
    part = part_of(recording, logs[0], 1)
    write_bundle(logs[0], tmp_path / "b.zip", [part], ["Bramble"])
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        text = b"".join(archive.read(n) for n in archive.namelist() if n.endswith(".jsonl"))
    assert b"Other" not in text
    assert f"{recording[:8]}-0".encode() not in text
    merge_bundle(logs[1], tmp_path / "b.zip")
    assert {event.id for event in logs[1].events(recording)} == part.events
    kept = logs[1].recording(recording)
    assert kept is not None
    after, _ = sf.read(logs[1].folder / (kept.sound or ""), dtype="int16")
    assert not after[:32_000].any()
    assert after[32_000:].any()


def test_two_parts_come_to_the_whole(logs: tuple[Log, Log], tmp_path: Path) -> None:
    sound = wav(tmp_path / "a.wav")
    recording = taken_in(logs[0], sound)
    for number in (0, 1):
        part = part_of(recording, logs[0], number)
        write_bundle(logs[0], tmp_path / f"{number}.zip", [part], ["Bramble"])
        merge_bundle(logs[1], tmp_path / f"{number}.zip")
    assert logs[1].events(recording) == logs[0].events(recording)
    (file,) = (logs[1].folder / "sound").iterdir()
    logs[1].sweep()
    (file,) = (logs[1].folder / "sound").iterdir()
    assert np.array_equal(sf.read(file, dtype="int16")[0], sf.read(sound, dtype="int16")[0])


def test_what_was_deleted_stays_deleted(logs: tuple[Log, Log], tmp_path: Path) -> None:
    anna, bert = logs
    first = taken_in(anna, wav(tmp_path / "a.wav"))
    second = taken_in(anna, wav(tmp_path / "b.wav", seed=2))
    third = taken_in(anna, wav(tmp_path / "c.wav", seed=3))
    for recording in (first, second, third):
        send(anna, bert, recording, tmp_path / "x.zip")
        corrected(bert, recording, 0, "level nine", "Bert")
    delete_parts(anna, [whole(anna, first), part_of(second, anna, 0)])
    kept = anna.recording(third)
    assert kept is not None
    delete_sound(anna, [kept])
    before = dump(anna)
    assert send(bert, anna, first, tmp_path / "x.zip") == 0
    assert send(bert, anna, second, tmp_path / "x.zip") == 0
    assert dump(anna) == before
    assert send(bert, anna, third, tmp_path / "x.zip") == 1, "only its sound was deleted"
    anna.sweep()
    (left,) = (anna.folder / "sound").iterdir()
    after, _ = sf.read(left, dtype="int16")
    assert not after[:32_000].any()
    assert after[32_000:].any()


def test_a_deleted_dog_does_not_come_back_by_an_older_bundle(
    logs: tuple[Log, Log], tmp_path: Path
) -> None:
    recording = taken_in(logs[0], wav(tmp_path / "a.wav"))
    logs[0].put_dog(BRAMBLE)
    write_bundle(logs[0], tmp_path / "b.zip", [whole(logs[0], recording)], ["Bramble"])
    delete_dog(logs[0], "bramble", [whole(logs[0], recording)])
    done = merge_bundle(logs[0], tmp_path / "b.zip")
    assert (done.recordings, done.events, done.dogs) == (0, 0, [])
    assert logs[0].roster().dogs == ()


STEP = st.tuples(
    st.sampled_from(["read", "undo", "send"]),
    st.sampled_from([0, 1]),
    st.integers(0, 1),
    st.sampled_from(["level one", "level two", "came"]),
)


@settings(max_examples=12)
@given(steps=st.lists(STEP, max_size=8))
def test_whatever_two_people_do_both_logs_end_the_same(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, int, int, str]]
) -> None:
    folder = tmp_path_factory.mktemp("two")
    with (
        Log.open(folder / "0", now=ticking()) as one,
        Log.open(folder / "1", now=ticking(NOON - timedelta(hours=3))) as two,
    ):
        pair = (one, two)
        recording = taken_in(one, wav(folder / "a.wav", 0.1))
        taken_in(two, folder / "a.wav")
        for act, who, number, words in steps:
            log = pair[who]
            if act == "read":
                corrected(log, recording, number, words, f"{who}")
            elif act == "undo":
                last = log.events(recording)[-1].id
                undone(log, last, f"{who}")
            else:
                send(log, pair[1 - who], recording, folder / "x.zip")
        for _ in range(2):
            send(one, two, recording, folder / "x.zip")
            send(two, one, recording, folder / "x.zip")
        assert one.stamped_events(recording) == two.stamped_events(recording)


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("{}", "has no event in line 1 of its events"),
        ("[" * 100_000, "has no event in line 1 of its events"),
        (
            '{"committed_at": "2026-03-01T12:00:00.000000Z", "event": {"event": "reading", '
            '"id": "x", "utterance": "of another log", "words": "", "by": "person", "who": ""}}',
            "has events about nothing that it holds (x)",
        ),
        (
            '{"committed_at": "yesterday", "event": {"event": "field", "id": "x", '
            '"recording": "r", "at_s": 1, "what": "tone"}}',
            "has no event in line 1 of its events",
        ),
    ],
)
def test_a_bundle_that_says_what_cannot_be_is_refused(
    logs: tuple[Log, Log], tmp_path: Path, line: str, fault: str
) -> None:
    from voicelog.store.bagit import write_bagit

    with write_bagit(tmp_path / "b.zip", NOON, {}) as bag:
        bag.add_text("recordings.jsonl", [])
        bag.add_text("events.jsonl", [line])
    with pytest.raises(BagItError) as caught:
        merge_bundle(logs[0], tmp_path / "b.zip")
    assert str(caught.value) == (
        f"{tmp_path / 'b.zip'} {fault}, so nothing was taken from it: have it sent again by who "
        "made it."
    )


def test_events_of_another_recording_cannot_be_overwritten(
    logs: tuple[Log, Log], tmp_path: Path
) -> None:
    """A bundle made to clash: its events carry ids that another recording here has."""
    mine = taken_in(logs[0], wav(tmp_path / "a.wav"))
    theirs = taken_in(logs[1], wav(tmp_path / "b.wav", seed=2), utterances=0)
    stolen = [event.model_copy(update={"recording": theirs}) for event in spoken(mine, 0)[:1]]
    logs[1].append(stolen)
    before = logs[0].events(mine)
    assert send(logs[1], logs[0], theirs, tmp_path / "x.zip") == 0
    assert logs[0].events(mine) == before
