"""Are the histories of a share strict enough? One fault at a time is built in, and must be noticed.

    python -m tests.bench.share_sabotage [--count 12] [--fault NAME] [--list]

For each fault a process of its own lives first the short histories below, then random ones
(tests/store/share), until something is noticed. Noticed is only what one of our own claims says:
the devices do not hold one log, something deleted is still there, something that stands is gone,
what does not derive is shown. An error of the patched program is told apart, and proves nothing.
The row "none" is the program as it is: it must come through. Ends with 1 where a fault was not
noticed.
"""

from __future__ import annotations

import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from sqlalchemy import select

from tests.store.log_cases import sha
from tests.store.share import kennel
from tests.store.share.kennel import Device, carry, converge, fussy, heard, view
from tests.store.share.test_always_one_log import lived, without_the_disk
from voicelog.model import Action, Dog, Event, Reading, Utterance
from voicelog.store import deletion, event_log
from voicelog.store.recording_part import recording_part
from voicelog.store.schema import share_items
from voicelog.store.share import (
    deletions,
    erasure,
    event_rows,
    exchange,
    hearings,
    inbox,
    outbox,
    showing,
    sifting,
    tables,
)
from voicelog.store.share.items import EventItem, read_item, typed_body
from voicelog.store.share.place import SharePlace
from voicelog.store.share.segments import SegmentError


class ClaimError(Exception):
    """A claim about a share does not hold; says which."""


def claim(holds: bool, what: str) -> None:
    """Raises ClaimError where something does not hold."""
    if not holds:
        raise ClaimError(what)


# --- what must hold of devices that have come together --------------------------------------


def check(devices: Sequence[Device]) -> list[dict[str, Any]]:
    """Bring devices together and make all claims; what each holds then.

    Raises:
        ClaimError: one of them does not hold.
    """
    try:
        converge(devices)
        views = [view(one.log) for one in devices]
    except AssertionError as error:
        raise ClaimError(f"the devices come to no end: {error}") from error
    for part in views[0]:
        claim(all(one[part] == views[0][part] for one in views), f"not one log: {part}")
    gone = set[str]().union(*(one.gone for one in devices))
    for one, seen in zip(devices, views, strict=True):
        told = {event.id for some in seen["events"].values() for _, event in some}
        claim(not gone & told, "what was deleted is in a log")
        claim(not gone & seen["rows"].keys(), "a deleted recording is in a log")
        with one.log.reading() as connection:
            kept = select(share_items.c.line).where(share_items.c.kind == inbox.WAITING)
            lines = [line for line in connection.scalars(kept) if line]
        about = {event_log.about(typed_event(line)) for line in lines}
        claim(not gone & about, "a deed about what was deleted is kept")
        place = SharePlace.open(one.share, one.log.folder, make=False)
        for file in place.files(f"d-{one.device}"):
            try:
                items = place.read(file).items
            except SegmentError:
                continue
            for item in items:
                text = item.body if item.kind == "event" and not item.gone else None
                claim(text is None or text["event"]["id"] not in gone, "deleted text is given out")
    return views


def typed_event(line: str) -> Event:
    """The event of an item's line."""
    body = typed_body(read_item(line.encode()))
    assert isinstance(body, EventItem)
    return body.event


def _kennel(folder: Path, *years: int) -> list[Device]:
    devices = [Device(folder, name, year) for name, year in zip("abc", years, strict=False)]
    devices[0].join(make=True)
    for one in devices[1:]:
        carry(devices[0].share, one.share, random.Random(0), 1.0, 0.0)
        one.join()
    return devices


def _first_note(one: Device) -> Utterance:
    told = one.log.events(one.log.recordings()[0].id)
    return next(event for event in told if isinstance(event, Utterance))


def _read(one: Device, note: str, words: str) -> str:
    name = one.fresh("r")
    read = Reading(id=name, utterance=note, words=words, by="person", who=one.name)
    one.log.append([read])
    return name


def _delete_note(one: Device, note: Utterance) -> None:
    told = one.log.events(note.recording)
    inside = {note.id} | {
        event.id
        for event in told
        if (getattr(event, "utterance", None) or getattr(event, "target", None)) == note.id
    }
    part = recording_part(note.recording, told, (), ()).model_copy(
        update={
            "events": frozenset(inside),
            "stretches": ((note.start_s, note.end_s),),
            "whole": False,
        }
    )
    deletion.delete_parts(one.log, [part])
    one.gone |= inside


def dog_put_again(folder: Path) -> None:
    """A dog is deleted where the clock is ahead, and put again where it was set back by years."""
    first, second = devices = _kennel(folder, 2100, 2026)
    first.log.put_dog(Dog(name="Wren"))
    check(devices)
    deletion.delete_dog(first.log, "Wren", [])
    for one in check(devices):
        claim(one["roster"].dog("Wren") is None, "a deleted dog is on the roster")
    second.jump(-9000)
    second.log.put_dog(Dog(name="Wren", ceiling=3))
    for one in check(devices):
        claim(one["roster"].dog("Wren") is not None, "a dog that was put again is gone")


def old_profile_after_deletion(folder: Path) -> None:
    """A profile from before a deletion comes late; one from after it stays."""
    first, second = devices = _kennel(folder, 2026, 2026)
    second.jump(-30)
    second.log.put_dog(Dog(name="Wren"))
    second.exchange()
    first.add(1, 0, "Wren")
    first.log.put_dog(Dog(name="Wren"))
    first.exchange()
    deletion.delete_dog(first.log, "Wren", [])
    for one in check(devices):
        claim(one["roster"].dog("Wren") is None, "a deleted dog is on the roster")
        claim(all(row["dog"] is None for row in one["rows"].values()), "a deleted dog has sound")
    first.log.put_dog(Dog(name="Wren", ceiling=3))
    for one in check(devices):
        claim(one["roster"].dog("Wren") is not None, "a dog that was put again is gone")
    deletion.delete_dog(first.log, "Wren", [])  # and put again before anybody hears of it
    first.log.put_dog(Dog(name="Wren", ceiling=4))
    for one in check(devices):
        claim(one["roster"].dog("Wren") is not None, "a dog that was put again is gone")


def corrected_what_is_deleted_elsewhere(folder: Path) -> None:
    """A note is deleted on one device while another corrects it and takes that back."""
    first, second = devices = _kennel(folder, 2026, 2190)
    first.add(1, 0, "Wren")
    check(devices)
    note = _first_note(first)
    read = _read(second, note.id, "level two")
    second.log.append([Action(id=second.fresh("a"), action="undo", target=read, who="b")])
    second.exchange()
    _delete_note(first, note)
    check(devices)


def deleted_stretch_is_heard_again(folder: Path) -> None:
    """A stretch is deleted; another device, that has not heard of it or has, hears it otherwise."""
    for told_before in (False, True):
        first, second = devices = _kennel(folder / str(told_before), 2026, 2026)
        first.add(1, 0, "Wren")
        first.exchange()
        note = _first_note(first)
        _delete_note(first, note)
        if told_before:
            check(devices)
            second.log.append(heard(note.recording, 2))
        else:
            second.add(1, 2, "Wren")
        again = view(second.log)
        second.gone |= {
            event.id
            for _, event in again["events"][note.recording]
            if isinstance(event, Utterance) and note.start_s <= event.start_s < note.end_s
        }
        check(devices)


def author_is_gone(folder: Path) -> None:
    """A device gives out what it heard of a deleted stretch, and a correction of what was there,
    and never comes back."""
    first, lost, third = devices = _kennel(folder, 2026, 2026, 2026)
    first.add(1, 0, "Wren")
    check(devices)
    note = _first_note(first)
    _delete_note(first, note)
    check([first, third])
    lost.log.append(heard(note.recording, 2))
    _read(lost, note.id, "level two")
    lost.exchange()
    first.gone |= {one.id for one in _notes(lost) if note.start_s <= one.start_s < note.end_s}
    for one in (first, third):  # all that it has, also from before the deletion
        carry(lost.share, one.share, random.Random(0), 1.0, 0.0)
    check([first, third])


def noted_after_a_deletion(folder: Path) -> None:
    """A person puts a note into a stretch that was deleted before: it stands."""
    first, second = devices = _kennel(folder, 2026, 2026)
    first.add(1, 0, "Wren")
    check(devices)
    note = _first_note(first)
    _delete_note(first, note)
    check(devices)
    fresh = note.model_copy(update={"id": "p-new"})
    second.log.append([fresh])
    _read(second, "p-new", "came")
    for one in check(devices):
        told = {event.id for _, event in one["events"][note.recording]}
        claim("p-new" in told, "a note that was put in after a deletion is gone")


def two_hearings(folder: Path) -> None:
    """Two devices hear one sound otherwise: one hearing is shown, with what was corrected in the
    other."""
    first, second = devices = _kennel(folder, 2026, 2030)
    first.add(1, 0, "Wren")
    second.add(1, 2, "Wren")
    for one in (first, second):
        one.exchange()
    _read(first, _first_note(first).id, "came")
    _read(second, max(_notes(second), key=lambda note: note.start_s).id, "nothing")
    for seen in check(devices):
        told = [event for _, event in seen["events"][sha("sound 1")]]
        starts = sorted(event.start_s for event in told if isinstance(event, Utterance))
        claim(len(starts) == 4, "two hearings of a sound are mixed")
        said = {event.words for event in told if isinstance(event, Reading) and event.who in "ab"}
        claim(said == {"came", "nothing"}, "a correction in the other hearing is lost")
        claim(starts[0] == 0.0 and starts[-1] == 12.5, "what was read in the other is not shown")


def _notes(one: Device) -> Iterator[Utterance]:
    for event in one.log.events(one.log.recordings()[0].id):
        if isinstance(event, Utterance):
            yield event


def poisoned(folder: Path) -> None:
    """One deed does not derive: all else is shown, on all devices."""
    first, second = devices = _kennel(folder, 2026, 2026)
    first.add(1, 0, "Wren")
    check(devices)
    notes = list(_notes(second))
    _read(second, notes[0].id, "poison")
    good = _read(second, notes[1].id, "came")
    for one, seen in zip(devices, check(devices), strict=True):
        kept = one.log.recordings()[0]
        told = one.log.events(kept.id)
        claim(fussy([(kept, told)]) == [None], "what does not derive is shown")
        claim(good in {event.id for event in told}, "what derives is set aside")
        claim(len(seen["asides"]) == 1, "what is set aside is not named")


def same_note_twice(folder: Path) -> None:
    """Two devices hear the same with clocks years apart: the earlier time of commit holds."""
    first, second = devices = _kennel(folder, 2100, 1961)
    for one in devices:
        one.add(1, 0, "Wren")
        one.matter(random.Random(1))
    _read(first, _first_note(first).id, "came")
    first.log.put_dog(Dog(name="Thorn", ceiling=2))
    second.log.put_dog(Dog(name="Thorn", ceiling=5))
    for seen in check(devices):
        claim(len(seen["matters"]) == 2, "a closed matter did not come")
        claim(len(seen["versions"]) == 2, "a profile did not come")


def own_file_is_damaged(folder: Path) -> None:
    """The only copy of what a device gave out is cut short before anybody has it."""
    first, second = devices = _kennel(folder, 2026, 2026)
    first.add(1, 0, "Wren")
    first.exchange()
    place = SharePlace.open(first.share, first.log.folder, make=False)
    for file in place.own_files(first.device):
        file.path.write_bytes(file.path.read_bytes()[:99])
    for seen in check(devices):
        claim(bool(seen["rows"]), "what was damaged did not come")
    assert second.log.recordings()


def older_program(folder: Path) -> None:
    """A program that does not know hearings is updated: what people did had waited for them."""
    first, second = devices = _kennel(folder, 2026, 2026)
    first.add(1, 0, "Wren")
    _read(first, _first_note(first).id, "came")
    first.exchange()
    carry(first.share, second.share, random.Random(0), 1.0, 0.0)
    known = inbox._known_body
    inbox._known_body = lambda item: None if item.kind == "hearing" else known(item)
    try:
        second.exchange()
    finally:
        inbox._known_body = known
    with second.log.writing() as connection:
        tables.put(connection, "program", "0")
    check(devices)


SHORT: tuple[Callable[[Path], None], ...] = (
    dog_put_again,
    old_profile_after_deletion,
    corrected_what_is_deleted_elsewhere,
    deleted_stretch_is_heard_again,
    author_is_gone,
    noted_after_a_deletion,
    two_hearings,
    poisoned,
    same_note_twice,
    older_program,
    own_file_is_damaged,
)


# --- the faults ---------------------------------------------------------------------------


def _set(owner: Any, name: str, value: Any) -> Callable[[], None]:
    def patch() -> None:
        if not hasattr(owner, name):
            raise AttributeError(f"{owner} has no {name}")
        setattr(owner, name, value)

    return patch


def _nothing(*_given: Any, **_named: Any) -> None:
    return None


def _parents_ignored(queue: Any, file: Any, segment: Any) -> None:
    if inbox.deletes(segment):
        queue.take()
    queue._ready.append((file, segment))
    queue.known.add(segment.id)
    queue.take()


def _without_until(of: Any, connection: Any, stone: Any) -> Any:
    return _DOG(of, connection, stone.model_copy(update={"until": None}))


def _until_ever(of: Any, connection: Any, stone: Any) -> Any:
    late = "9999-12-31T23:59:59.999999Z"
    return _DOG(of, connection, stone.model_copy(update={"until": late}))


def _no_cascade(connection: Any, keys: Any, now: Any) -> set[str]:
    deletions._drop(connection, list(keys), now)
    return set()


def _put_as_it_comes(rows: Any, recording: str, event: Any, at: str) -> Any:
    count = next(_ARRIVALS)
    return _PUT(rows, recording, event, f"2050-01-01T00:00:00.{count:06d}Z")


def _all_shown(connection: Any, one: Any, whole: Any, trial: Any) -> bool:
    shown = _SHOW(connection, one, whole, trial)
    connection.exec_driver_sql("DELETE FROM hidden_events")
    return shown


def _others_acts_dropped(heard: Any, deeds: Any) -> Any:
    return hearings.choose(heard, [])


_DOG = deletions.Deletions._dog
_PUT = event_rows.EventRows.put
_SHOW = showing._show
_ARRIVALS = iter(range(1_000_000))

FAULTS: Mapping[str, Callable[[], None]] = {
    "none": _nothing,
    "waiting parents are ignored": _set(exchange._Queue, "_go", _parents_ignored),
    "until of a dog's deletion is dropped": _set(deletions.Deletions, "_dog", _without_until),
    "a dog's deletion holds for ever": _set(deletions.Deletions, "_dog", _until_ever),
    "a dog's deletion is ignored": _set(deletions.Deletions, "_dog", lambda *_: set()),
    "deletions do not cascade": _set(deletions, "drop_events", _no_cascade),
    "deleted stretches are lost": _set(deletions.Deletions, "_span", lambda *_: []),
    "deleted notes are lost": _set(deletions.Deletions, "_event", lambda *_: []),
    "deleted recordings are lost": _set(deletions.Deletions, "_recording", _nothing),
    "tombstones are not sent": _set(outbox, "_tombstones", _nothing),
    "a deletion is not erased from files": _set(exchange, "rewrite", _nothing),
    "erased text is not forgotten": _set(exchange, "erase", _nothing),
    "order is that of arrival": _set(event_rows.EventRows, "put", _put_as_it_comes),
    "the earlier commit does not hold": _set(event_rows.EventRows, "lower", _nothing),
    "matters are not sent": _set(outbox, "_matters", _nothing),
    "profiles are not sent": _set(outbox, "_profiles", _nothing),
    "what waits is not tried again": _set(inbox._Intake, "_retry", _nothing),
    "a note after a deletion is refused": _set(
        inbox._Intake, "_knew_of_deletion", lambda *_: False
    ),
    "a deleted stretch may be heard again": _set(outbox, "_drop_deleted", _nothing),
    "what is heard again in it is taken in": _set(inbox._Intake, "_is_deleted", lambda *_: False),
    "two hearings are mixed": _set(showing, "_show", _all_shown),
    "acts in the other hearing are dropped": _set(showing, "_chosen", _others_acts_dropped),
    "what is shown is chosen on the author alone": _set(inbox, "refold", _nothing),
    "what is shown is not chosen by the author": _set(exchange, "refold", _nothing),
    "what does not derive is shown": _set(
        showing, "sift", lambda heard, deeds, _: sifting.Sifted(tuple(heard), tuple(deeds))
    ),
    "damaged files are not written again": _set(kennel, "repair", lambda *_: (0, 0)),
    "what is about a deleted thing is kept": _set(
        event_rows.EventRows, "is_gone", lambda *_: False
    ),
    "texts of deleted entries are not erased": _set(erasure, "_events", lambda _: iter(())),
}


def _at_random(seed: int, folder: Path) -> None:
    check(lived(folder, seed))


def run(fault: str, count: int) -> dict[str, Any]:
    """Live with a fault; what was noticed, by which history, and the first error beside that."""
    FAULTS[fault]()
    error = ""
    histories: list[tuple[str, Callable[[Path], None]]] = [(one.__name__, one) for one in SHORT]
    histories += [(f"seed {seed}", partial(_at_random, seed)) for seed in range(count)]
    for name, history in histories:
        with without_the_disk(), tempfile.TemporaryDirectory() as folder:
            try:
                history(Path(folder))
            except ClaimError as found:
                return {"noticed": str(found), "by": name, "error": error}
            except Exception as failed:  # of the patched program: told, and no proof
                error = error or f"{name}: {type(failed).__name__}: {failed}"
    return {"noticed": "", "by": "", "error": error}


def main() -> None:
    """Parse the options and run it."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=12, help="random histories for each fault")
    options.add_argument("--fault", choices=sorted(FAULTS))
    options.add_argument("--list", action="store_true")
    options.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    chosen = options.parse_args()
    if chosen.list:
        print("\n".join(FAULTS))
        return
    if chosen.inside:
        print(json.dumps(run(chosen.fault, chosen.count)))
        return
    missed = 0
    for fault in [chosen.fault] if chosen.fault else FAULTS:
        began = time.monotonic()
        command = [sys.executable, "-m", __spec__.name if __spec__ else __name__, "--inside"]
        command += ["--fault", fault, "--count", str(chosen.count)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        took = time.monotonic() - began
        if done.returncode:
            found = {"noticed": "", "by": "", "error": done.stderr.strip()[-200:]}
        else:
            found = json.loads(done.stdout.splitlines()[-1])
        good = bool(found["noticed"]) != (fault == "none")
        missed += not good
        told = f"{found['noticed']} ({found['by']})" if found["noticed"] else "not noticed"
        print(f"| {fault} | {told} | {found['error'][:90]} | {took:.0f} s |", flush=True)
    print(f"{missed} of {1 if chosen.fault else len(FAULTS)} not as they should be")
    raise SystemExit(bool(missed))


if __name__ == "__main__":
    main()
