"""What goes into the log comes out again, once, in order, and never changes."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from shutil import copyfile
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.store.log_cases import BRAMBLE, NOON, clock, one_of_each, recording, sha, spoken
from voicelog.model import (
    LONGEST_S,
    PLAUSIBLE_YEARS,
    Action,
    Dog,
    Event,
    FieldEvent,
    Reading,
    Roster,
    SoundLevel,
    Utterance,
    Verdict,
)
from voicelog.store import (
    CacheRow,
    ConcurrentChangeError,
    DamagedLogError,
    EventConflictError,
    Log,
    StoredRecording,
    UnknownNameError,
    UnknownTargetError,
)

MORNING = recording()


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with Log.open(tmp_path / "log", now=clock) as log:
        yield log


def outside(log: Log) -> sqlite3.Connection:
    """A connection that another program might open, with none of our settings."""
    return sqlite3.connect(log.folder / "log.sqlite3")


# --- recordings ------------------------------------------------------------------------


def test_a_recording_comes_back_as_it_was_begun(log: Log) -> None:
    assert log.begin_recording(MORNING)
    kept = StoredRecording(**dict(MORNING), added_at=NOON, complete=False)
    assert log.recordings() == (kept,)
    assert log.recording(MORNING.id) == kept
    assert log.recording("another") is None


@pytest.mark.parametrize(
    "started_at",
    [
        None,
        datetime(2026, 3, 1, 7, 30),
        datetime(2026, 3, 1, 7, 30, tzinfo=timezone(timedelta(hours=-3, minutes=-30))),
    ],
)
def test_a_start_keeps_whether_its_zone_is_known(log: Log, started_at: datetime | None) -> None:
    log.begin_recording(recording(started_at=started_at))
    (kept,) = log.recordings()
    assert kept.started_at == started_at
    if started_at is not None and kept.started_at is not None:
        assert kept.started_at.utcoffset() == started_at.utcoffset()


def test_a_recording_cut_short_is_taken_up_again_with_its_events(log: Log) -> None:
    log.begin_recording(MORNING)
    log.append(spoken(MORNING.id, 1))
    assert log.begin_recording(recording(grammar="en 2"))
    (kept,) = log.recordings()
    assert (kept.grammar, kept.complete) == ("en 2", False)
    assert log.events(MORNING.id) == spoken(MORNING.id, 1)


def test_a_complete_recording_is_not_begun_again(log: Log) -> None:
    log.begin_recording(MORNING)
    log.finish_recording(MORNING.id)
    assert not log.begin_recording(recording(grammar="en 2"))
    (kept,) = log.recordings()
    assert (kept.grammar, kept.complete) == ("en 1", True)


def test_sound_recorded_live_is_known_again_by_its_hash(log: Log) -> None:
    live = recording(id="live-1", sha256=None, sound=None, duration_s=0.0, level=SoundLevel())
    log.begin_recording(live)
    log.append(spoken("live-1", 1))
    level = SoundLevel(peak_dbfs=-1.0)
    log.finish_recording(
        "live-1", sha256=MORNING.sha256, sound="sound/a.wav", duration_s=9.5, level=level
    )
    assert not log.begin_recording(MORNING)
    (kept,) = log.recordings()
    late = (kept.id, kept.sha256, kept.sound, kept.duration_s, kept.level, kept.complete)
    assert late == ("live-1", MORNING.sha256, "sound/a.wav", 9.5, level, True)


def test_two_live_recordings_without_a_hash_yet_are_two(log: Log) -> None:
    assert log.begin_recording(recording(id="live-1", sha256=None))
    log.finish_recording("live-1")
    assert log.begin_recording(recording(id="live-2", sha256=None))
    assert [kept.id for kept in log.recordings()] == ["live-1", "live-2"]


def test_finishing_what_was_never_begun_is_refused(log: Log) -> None:
    with pytest.raises(UnknownTargetError) as caught:
        log.finish_recording("nowhere")
    assert str(caught.value) == (
        "The end of a recording names nowhere, which is not in this log: "
        "check the id, or add the recording it belongs to first."
    )


# --- events ----------------------------------------------------------------------------


def test_every_kind_of_event_comes_back_equal_and_in_order(log: Log) -> None:
    log.begin_recording(MORNING)
    events = one_of_each(MORNING.id)
    assert log.append(events) == len(events)
    assert log.events(MORNING.id) == events


def test_recordings_do_not_share_events(log: Log) -> None:
    evening = recording("an evening, invented")
    log.begin_recording(MORNING)
    log.begin_recording(evening)
    log.append((*spoken(MORNING.id, 1), *spoken(evening.id, 1), *spoken(MORNING.id, 2)))
    assert log.events(evening.id) == spoken(evening.id, 1)
    assert log.events(MORNING.id) == spoken(MORNING.id, 1) + spoken(MORNING.id, 2)


def test_an_event_appended_twice_is_there_once(log: Log) -> None:
    log.begin_recording(MORNING)
    assert log.append(spoken(MORNING.id, 1)) == 3
    assert log.append(spoken(MORNING.id, 1) + spoken(MORNING.id, 2)) == 3
    assert log.events(MORNING.id) == spoken(MORNING.id, 1) + spoken(MORNING.id, 2)


def test_an_id_that_says_something_else_is_refused_and_its_batch_with_it(log: Log) -> None:
    log.begin_recording(MORNING)
    log.append(spoken(MORNING.id, 1))
    name = spoken(MORNING.id, 1)[1].id
    with pytest.raises(EventConflictError) as caught:
        log.append(spoken(MORNING.id, 2) + spoken(MORNING.id, 1, words="level nine"))
    assert str(caught.value) == (
        f"Event {name} is already in the log and says something else, and the log is never "
        "rewritten: give the new event an id of its own."
    )
    assert log.events(MORNING.id) == spoken(MORNING.id, 1)


@pytest.mark.parametrize(
    "orphan",
    [
        Utterance(id="x", recording="nowhere", start_s=0, end_s=1),
        FieldEvent(id="x", recording="nowhere", at_s=0, what="tone"),
        Reading(id="x", utterance="nowhere", words="", by="person", who="Wren"),
        Verdict(id="x", utterance="nowhere", status="accepted", words="", confidence=1, judge="j"),
        Action(id="x", action="void", target="nowhere"),
    ],
    ids=lambda event: event.event,
)
def test_an_event_about_nothing_in_the_log_is_refused(log: Log, orphan: Event) -> None:
    log.begin_recording(MORNING)
    with pytest.raises(UnknownTargetError) as caught:
        log.append((*spoken(MORNING.id, 1), orphan))
    assert str(caught.value) == (
        "Event x names nowhere, which is not in this log: "
        "check the id, or add the recording it belongs to first."
    )
    assert log.events(MORNING.id) == ()


def test_an_event_that_would_not_read_back_equal_is_refused(log: Log) -> None:
    log.begin_recording(MORNING)
    now = FieldEvent(id="x", recording=MORNING.id, at_s=0, what="clock")
    endless = now.model_copy(update={"at_s": float("inf")})
    with pytest.raises(ValueError, match=r"event 'x' cannot be kept"):
        log.append([endless])
    assert log.events(MORNING.id) == ()


@pytest.mark.parametrize("at", ["9999-12-31T23:59:59", "0001-01-01T00:00:00+01:00"])
def test_a_time_that_cannot_be_meant_is_no_event_and_no_recording(at: str) -> None:
    beyond = 1e300
    bad: list[Callable[[], object]] = [
        lambda: Utterance(id="x", recording="r", start_s=beyond, end_s=beyond),
        lambda: Utterance(id="x", recording="r", start_s=0, end_s=float("nan")),
        lambda: FieldEvent(id="x", recording="r", at_s=-beyond, what="tone"),
        lambda: Action(id="x", action="clock", target="u", value=at),
        lambda: Action(id="x", action="clock", target="u", value="a Tuesday"),
        lambda: Action.model_validate({"id": "x", "action": "void", "target": "u", "at": at}),
        lambda: recording(started_at=at),
        lambda: recording(duration_s=beyond),
    ]
    for made in bad:
        with pytest.raises(ValueError, match="validation error"):
            made()


def test_the_number_of_the_newest_event_grows_with_the_log(log: Log) -> None:
    evening = recording("an evening, invented")
    log.begin_recording(MORNING)
    log.begin_recording(evening)
    assert log.event_seq() == log.event_seq(MORNING.id) == 0
    log.append(spoken(MORNING.id, 1))
    first = log.event_seq(MORNING.id)
    log.append(spoken(evening.id, 1))
    assert first == log.event_seq(MORNING.id) < log.event_seq(evening.id) == log.event_seq()
    log.append(spoken(MORNING.id, 1))
    assert log.event_seq(MORNING.id) == first


names = st.text(min_size=1)
numbers = st.floats(min_value=-LONGEST_S, max_value=LONGEST_S)
seconds = st.floats(min_value=0, max_value=LONGEST_S)
zones = st.integers(-1439, 1439).map(lambda minutes: timezone(timedelta(minutes=minutes)))
zones_or_none: st.SearchStrategy[Any] = st.none() | zones
times = st.none() | st.datetimes(
    datetime(PLAUSIBLE_YEARS[0], 1, 2),
    datetime(PLAUSIBLE_YEARS[-1], 12, 30),
    timezones=zones_or_none,
)
anyone = st.just(MORNING.id)

kinds: tuple[st.SearchStrategy[Event], ...] = (
    st.builds(Utterance, id=names, recording=anyone, start_s=seconds, end_s=seconds),
    st.builds(Reading, id=names, utterance=names, at=times),
    st.builds(Verdict, id=names, utterance=names, alternatives=st.tuples(names)),
    st.builds(Action, id=names, target=names, at=times),
    st.builds(FieldEvent, id=names, recording=anyone, at_s=numbers),
)


@st.composite
def sayings(draw: st.DrawFn) -> tuple[Event, ...]:
    """Any events about MORNING, of any text and number, that hang together."""
    events: list[Event] = [draw(kinds[0])]
    for event in draw(st.lists(st.one_of(kinds), max_size=8, unique_by=lambda one: one.id)):
        if event.id in {earlier.id for earlier in events}:
            continue
        about = draw(st.sampled_from(events)).id
        field = {"reading": "utterance", "verdict": "utterance", "action": "target"}
        change = {field[event.event]: about} if event.event in field else {}
        events.append(event.model_copy(update=change))
    return tuple(events)


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log's folder with MORNING begun, to be copied."""
    folder = tmp_path_factory.mktemp("begun")
    with Log.open(folder, now=clock) as log:
        log.begin_recording(MORNING)
    return folder


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(events=sayings(), cut=st.integers(min_value=0, max_value=9))
def test_any_events_read_back_equal_however_they_were_batched(
    begun: Path, events: tuple[Event, ...], cut: int
) -> None:
    with TemporaryDirectory() as folder:
        copyfile(begun / "log.sqlite3", Path(folder) / "log.sqlite3")
        with Log.open(Path(folder), now=clock) as log:
            log.append(events[:cut])
            log.append(events)
        with Log.open(Path(folder), now=clock) as log:
            assert log.events(MORNING.id) == events


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET body = '{}'",
        "UPDATE events SET seq = seq + 100",
        "UPDATE events SET committed_at = '9999'",
        "DELETE FROM events",
        "INSERT OR REPLACE INTO events SELECT * FROM events",
        "INSERT OR REPLACE INTO events (id, recording, body, committed_at)"
        " SELECT id, recording, '{}', committed_at FROM events",
        "UPDATE profiles SET name = 'Thorn'",
        "DELETE FROM profiles",
        "INSERT OR REPLACE INTO profiles SELECT * FROM profiles",
    ],
)
def test_no_program_changes_or_deletes_what_was_committed(log: Log, statement: str) -> None:
    log.begin_recording(MORNING)
    log.append(one_of_each(MORNING.id))
    log.put_dog(BRAMBLE)
    with closing(outside(log)) as connection:
        before = list(connection.iterdump())
        with pytest.raises(sqlite3.IntegrityError, match="only grows"):
            connection.execute(statement)
        connection.rollback()
        assert list(connection.iterdump()) == before


def test_names_and_words_never_reach_sql_as_statements(log: Log) -> None:
    evil = "Robin'); DROP TABLE events; --"
    log.begin_recording(recording(file_name=evil, dog=evil))
    log.append(spoken(MORNING.id, 1, words=evil))
    log.put_dog(Dog(name=evil))
    log.put_handler(evil)
    assert log.events(MORNING.id) == spoken(MORNING.id, 1, words=evil)
    assert log.roster() == Roster(dogs=(Dog(name=evil),), handlers=(evil,))
    assert log.derived_of_dog(evil) == ()


def test_damage_found_later_is_said_plainly(log: Log) -> None:
    log.begin_recording(MORNING)
    log.append([event for number in range(200) for event in spoken(MORNING.id, number)])
    log.close()
    path = log.folder / "log.sqlite3"
    whole = path.read_bytes()
    path.write_bytes(whole[: 4096 * 12] + b"\xff" * (len(whole) - 4096 * 12))
    with pytest.raises(DamagedLogError) as caught:
        log.events(MORNING.id)
    log.close()
    assert str(caught.value) == (
        f"{path} is damaged (database disk image is malformed): "
        "move it away and put the newest backup in its place."
    )


# --- roster ----------------------------------------------------------------------------


def test_a_new_log_has_an_empty_roster(log: Log) -> None:
    assert log.roster() == Roster()


def test_the_newest_version_of_a_dog_is_on_the_roster(log: Log) -> None:
    log.put_dog(Dog(name="bramble"))
    log.put_dog(Dog(name="Thorn", cues=("komm",)))
    log.put_dog(BRAMBLE)
    log.put_handler("Wren")
    assert log.roster() == Roster(
        dogs=(BRAMBLE, Dog(name="Thorn", cues=("komm",))), handlers=("Wren",)
    )


def test_a_removed_name_is_gone_until_it_is_put_again(log: Log) -> None:
    log.put_dog(BRAMBLE)
    log.put_handler("Wren")
    log.remove_dog("BRAMBLE")
    log.remove_handler("wren")
    assert log.roster() == Roster()
    log.put_dog(BRAMBLE)
    assert log.roster().dogs == (BRAMBLE,)


def test_removing_a_name_that_is_not_there_says_which_are(log: Log) -> None:
    with pytest.raises(UnknownNameError) as caught:
        log.remove_handler("Wren")
    assert str(caught.value) == (
        "No handler called Wren is in the log: choose one of those it has (none yet)."
    )
    log.put_dog(BRAMBLE)
    log.put_dog(Dog(name="Thorn"))
    with pytest.raises(UnknownNameError) as caught:
        log.remove_dog("Torn")
    assert str(caught.value) == (
        "No dog called Torn is in the log: choose one of those it has (Bramble, Thorn)."
    )
    assert caught.value.known == ("Bramble", "Thorn")


def test_a_step_that_did_not_see_the_newest_event_is_not_kept(log: Log) -> None:
    log.begin_recording(MORNING)
    log.append(spoken(MORNING.id, 1))
    seen = (MORNING.id, log.event_seq(MORNING.id))
    assert log.append(spoken(MORNING.id, 2), seen=seen) == 3
    with pytest.raises(ConcurrentChangeError, match="repeat the step"):
        log.append(spoken(MORNING.id, 3), seen=seen)
    assert len(log.events(MORNING.id)) == 6


# --- the cache -------------------------------------------------------------------------


def session(key: str, **changes: object) -> CacheRow:
    whole = {
        "key": key,
        "recording": MORNING.id,
        "stamp": "7/rules 1",
        "dog": "Bramble",
        "day": date(2026, 3, 1),
        "worst": "caution",
        "counts": {"reps": 12},
        "body": '{"any": "thing"}',
    }
    whole |= changes
    day = whole["day"]
    moment = datetime(day.year, day.month, day.day) if isinstance(day, date) else datetime.min
    return CacheRow.model_validate({"moment": moment} | whole)


def test_what_is_derived_replaces_what_was_derived_before(log: Log) -> None:
    log.begin_recording(MORNING)
    log.derived_put(MORNING.id, [session("s1"), session("s2", dog=None, day=None)])
    log.derived_put(MORNING.id, [session("s2"), session("s3", worst=None)])
    assert log.derived_row("s1") is None
    assert log.derived_row("s2") == session("s2")
    assert log.derived_get(MORNING.id) == (session("s2"), session("s3", worst=None))


def test_a_dogs_sessions_come_in_order_of_date(log: Log) -> None:
    evening = recording("an evening, invented")
    log.begin_recording(MORNING)
    log.begin_recording(evening)
    later = session("s0", recording=evening.id, day=date(2026, 3, 2))
    log.derived_put(evening.id, [later])
    log.derived_put(MORNING.id, [session("s1"), session("s2", dog="Thorn")])
    assert log.derived_of_dog("Bramble") == (session("s1"), later)


def test_clearing_the_cache_leaves_the_truth(log: Log) -> None:
    log.begin_recording(MORNING)
    log.append(one_of_each(MORNING.id))
    log.derived_put(MORNING.id, [session("s1")])
    log.derived_clear()
    assert log.derived_get(MORNING.id) == ()
    assert log.events(MORNING.id) == one_of_each(MORNING.id)


def test_a_row_of_another_recording_is_refused(log: Log) -> None:
    log.begin_recording(MORNING)
    with pytest.raises(ValueError, match="another recording"):
        log.derived_put(MORNING.id, [session("s1", recording=sha("other"))])


def test_digests_and_counts_are_read_without_bodies_by_dog_oldest_first(log: Log) -> None:
    log.begin_recording(MORNING)
    days = ("2026-03-02", "2026-03-01", "2026-03-03")
    rows = [
        session(
            f"{dog} {day[-1]}",
            dog=dog,
            day=date.fromisoformat(day),
            moment=datetime.fromisoformat(day),
            digest=f"short {dog} {day[-1]}",
        )
        for dog in ("Thorn", "Bramble")
        for day in days
    ]
    log.derived_put(MORNING.id, [session("head", dog=None), *rows])
    assert log.digests("Thorn") == ("short Thorn 1", "short Thorn 2", "short Thorn 3")
    assert log.digests_of(["Thorn 3", "Bramble 2"]) == ("short Bramble 2", "short Thorn 3")
    assert [key for key, *_ in log.counts()] == [
        *("Bramble 1", "Bramble 2", "Bramble 3"),
        *("Thorn 1", "Thorn 2", "Thorn 3"),
    ]
    assert log.counts()[0] == ("Bramble 1", "Bramble", True, {"reps": 12})
