"""Where two people did otherwise, both are told, until one who knew of both has settled it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.store.share.kennel import Device, converge
from voicelog.model import Action, Reading, Utterance
from voicelog.report.share_words import difference_line, difference_lines
from voicelog.store.share.differences import (
    TrainerDifference,
    note_read_twice,
    share_differences,
)


def two(folder: Path) -> tuple[Device, Device]:
    anna, joe = Device(folder, "anna", 2026), Device(folder, "joe", 2027)
    anna.join(make=True)
    joe.join(make=True)
    return anna, joe


def told(one: Device) -> list[str]:
    return [difference_line(found) for found in share_differences(one.log)]


def note_if(noted: bool, *devices: Device) -> None:
    """Let devices remember what they looked through, or not."""
    for one in devices if noted else ():
        note_read_twice(one.log)


def first_note(one: Device) -> str:
    (kept,) = one.log.recordings()
    return next(event.id for event in one.log.events(kept.id) if isinstance(event, Utterance))


def read(one: Device, words: str) -> None:
    name = one.fresh("r")
    one.log.append(
        [Reading(id=name, utterance=first_note(one), words=words, by="person", who=one.name)]
    )


def test_one_sound_added_for_two_dogs_is_told_to_both_until_the_dog_is_settled(
    tmp_path: Path,
) -> None:
    anna, joe = two(tmp_path)
    anna.add(1, 0, "Bramble")
    joe.add(1, 0, "Thorn")
    blind = Action(
        id="a-1", action="clock", target=first_note(joe), value="2026-04-18T07:30:00", who="joe"
    )
    joe.log.append([blind])  # who does not know of the other settles nothing
    converge([anna, joe])
    assert len(told(anna)) == 1
    assert told(anna) == told(joe)
    assert told(anna)[0].startswith("1.wav was added twice, for Thorn, and for Bramble: the first")
    (kept,) = anna.log.recordings()
    assert share_differences(anna.log, [kept.id]) == share_differences(anna.log)
    assert share_differences(anna.log, []) == ()
    read(anna, "wrong dog bramble")
    assert told(anna) == []
    undone = f"r-anna-{anna._count}"
    anna.log.append([Action(id="a-2", action="undo", target=undone, who="anna")])
    assert len(told(anna)) == 1
    read(anna, "wrong dog bramble")
    assert told(anna) == []
    converge([anna, joe])
    assert told(anna) == told(joe) == []


@pytest.mark.parametrize("noted", ["never", "before", "between", "after"])
def test_one_note_read_otherwise_is_told_to_both_until_one_who_knew_reads_it(
    tmp_path: Path, noted: str
) -> None:
    anna, joe = two(tmp_path)
    anna.add(1, 0, "Bramble")
    converge([anna, joe])
    note_if(noted == "before", anna, joe)
    read(anna, "level two")
    read(joe, "level four")
    note_if(noted == "between", anna, joe)
    converge([anna, joe])
    note_if(noted == "after", anna, joe)
    assert told(anna) == told(joe)
    assert told(anna)[0].startswith('1.wav at 0:00: joe says "level four", anna said "level two"')
    read(anna, "level four")
    converge([anna, joe])
    assert told(anna) == told(joe) == []


def test_the_other_name_is_said_and_many_are_counted() -> None:
    one = TrainerDifference(
        what="added",
        file_name="joe-day.flac",
        holds=("Thorn", "2026-04-18T09:30:00"),
        other=("Wren", "2026-04-18T07:30:00"),
        other_file="day.flac",
    )
    assert difference_line(one) == (
        "joe-day.flac was added twice, for Thorn, begun Sat 18 Apr 2026, 9:30, and as day.flac for "
        "Wren, begun Sat 18 Apr 2026, 7:30: the first counts. If that is wrong, correct the dog "
        "or the start ('voicelog correct --to DOG', '--start TIME')."
    )
    assert list(difference_lines([one] * 7))[-1] == (
        "They differ in 2 more; 'voicelog share status' names each."
    )
