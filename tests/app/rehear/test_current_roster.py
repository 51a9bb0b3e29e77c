"""A recording is heard again with the words that have come since, and with no others."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.app.rehear.hearing import events_of, said
from tests.store.log_cases import NOON
from voicelog.app.rehear import accept_rehearing, compare, current_roster
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster, Transmitter
from voicelog.store import Log, Recording, StoredRecording


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    """A log whose clock goes on by a minute each time it is asked."""
    minutes = iter(range(1000))

    def now() -> datetime:
        return NOON + timedelta(minutes=next(minutes))

    with Log.open(tmp_path, now=now) as opened:
        yield opened


BRACKEN, WREN = Dog(name="Bracken", transmitter=Transmitter(top=20)), Dog(name="Wren")


def added(log: Log, *dogs: Dog) -> StoredRecording:
    roster = Roster(dogs=dogs, handlers=("Anna",))
    log.begin_recording(Recording(id="r" * 64, dog="Bracken", roster=roster))
    log.finish_recording("r" * 64)
    kept = log.recording("r" * 64)
    assert kept is not None
    return kept


def test_what_was_known_then_is_known_today(log: Log) -> None:
    log.put_dog(BRACKEN)
    kept = added(log, BRACKEN)
    assert current_roster(log, kept) == kept.roster


def test_new_cues_dogs_and_handlers_are_added_and_no_profile_changes(log: Log) -> None:
    log.put_dog(BRACKEN)
    kept = added(log, BRACKEN)
    today = Dog(name="BRACKEN", cues=("come", "here"), transmitter=Transmitter(top=99))
    log.put_dog(today)
    log.put_dog(WREN)
    log.put_handler("Joe")
    assert current_roster(log, kept) == Roster(
        dogs=(BRACKEN.model_copy(update={"cues": ("here", "come")}), WREN),
        handlers=("Anna", "Joe"),
    )


def test_a_dog_left_out_on_purpose_stays_out(log: Log) -> None:
    log.put_dog(BRACKEN)
    log.put_dog(WREN)
    assert current_roster(log, added(log, BRACKEN)).dogs == (BRACKEN,)


def test_a_dog_taken_off_the_roster_is_still_known(log: Log) -> None:
    log.put_dog(BRACKEN)
    kept = added(log, BRACKEN)
    log.remove_dog("Bracken")
    assert current_roster(log, kept).dogs == (BRACKEN,)


def test_taking_over_keeps_the_new_words_with_the_recording(log: Log) -> None:
    log.put_dog(BRACKEN)
    kept = added(log, BRACKEN)
    log.append(events_of(said(4, "hup", "rejected")))
    log.put_dog(BRACKEN.model_copy(update={"cues": ("here", "hup")}))
    grammar = Grammar.load(roster=current_roster(log, kept))
    difference = compare(kept, log.events(kept.id), [said(4, "hup")], grammar)
    assert accept_rehearing(log, difference) == 1
    again = log.recording(kept.id)
    assert again is not None
    assert again.roster.dogs[0].cues == ("here", "hup")
    assert again.complete
