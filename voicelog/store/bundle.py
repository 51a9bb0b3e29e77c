"""A session, or several, as one file for another trainer: entries as JSON lines, sound as FLAC.

The payload of the bag: `recordings.jsonl`, one recording a line, with only those dogs whose
sessions are in it; `events.jsonl`, one event a line with the time it was committed;
`matters.jsonl`, where there are any, what was done about their open matters; `sound/`, each file
under its own hash, silent where it is not of these sessions. Everything in it can be read without
this program.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from pydantic import ValidationError

from voicelog.audio.errors import SoundFileError
from voicelog.audio.flac import write_flac
from voicelog.audio.locked_files import scratch_folder, write_bytes
from voicelog.model import (
    Dog,
    Event,
    FieldEvent,
    FrozenModel,
    MatterEvent,
    Roster,
    Utterance,
)
from voicelog.model.names import name_key
from voicelog.session.entries import recording_start
from voicelog.store import event_log, sound_files, tombstones
from voicelog.store.bagit import BagItArchive, BagItError, open_bagit, write_bagit
from voicelog.store.commit_time import COMMIT_TIME_PATTERN
from voicelog.store.log import Log
from voicelog.store.matter_log import is_of
from voicelog.store.merge import (
    DryRun,
    IncomingRecording,
    MergeResult,
    StampedEvent,
    merge,
    merge_dog,
    merge_matters,
    no_dry_run,
)
from voicelog.store.recording_part import RecordingPart
from voicelog.store.records import StoredRecording
from voicelog.store.set_aside import reason

__all__ = ["BundleResult", "merge_bundle", "write_bundle"]

KIND = "voicelog bundle 1"
"""What bag-info.txt says of a bundle; the number changes with its layout."""


class BundleResult(FrozenModel):
    """What a bundle holds."""

    recordings: int
    events: int
    sounds: int
    dogs: tuple[str, ...]
    without_sound: tuple[str, ...]
    """Names of recordings whose sound is not in the log."""


def write_bundle(
    log: Log,
    path: Path,
    parts: Sequence[RecordingPart],
    dogs: Sequence[str],
    passphrase: str | None = None,
) -> BundleResult:
    """Write the bundle of some sessions' parts of recordings; `dogs` are whose they are. With a
    `passphrase` it is a locked file.

    Raises:
        LogError: as the disk refuses; no half bundle is left.
    """
    keys = {name_key(dog) for dog in dogs}
    rows: list[str] = []
    lines: list[str] = []
    silent: list[str] = []
    info = {
        "External-Description": f"Training log of {', '.join(dogs)}: entries and sound. "
        "It holds people's names and voices; keep it to whom it was given.",
        "Voicelog-Kind": KIND,
    }
    with (
        write_bagit(path, log.now(), info, passphrase) as bag,
        scratch_folder(log.locked or passphrase is not None) as folder,
    ):
        for part in parts:
            kept = log.recording(part.recording)
            if kept is None:
                continue
            name = None
            sound = log.sound_of(kept)
            if sound is None:
                silent.append(kept.file_name)
            else:
                file = _as_handed_over(sound, folder, part)
                if file is not None:
                    name = f"sound/{sound_files.sha256_of(file)}{file.suffix}"
                    bag.add_file(name, file)
                    file.unlink()
            told = log.stamped_events(kept.id)
            began = recording_start((event for _, event in told), kept.started_at)
            row = _narrowed(kept, keys, name).model_copy(update={"started_at": began})
            rows.append(row.model_dump_json())
            lines += [
                json.dumps({"committed_at": at, "event": json.loads(event_log.event_json(event))})
                for at, event in told
                if event.id in part.events
            ]
        bag.add_text("recordings.jsonl", rows)
        bag.add_text("events.jsonl", lines)
        if matters := _matters(log, parts, keys):
            bag.add_text("matters.jsonl", [one.model_dump_json() for one in matters])
    return BundleResult(
        recordings=len(rows),
        events=len(lines),
        sounds=len(rows) - len(silent),
        dogs=tuple(dogs),
        without_sound=tuple(silent),
    )


def merge_bundle(
    log: Log, path: Path, trial: DryRun = no_dry_run, passphrase: str | None = None
) -> MergeResult:
    """Take a bundle's sessions into a log, each recording after its trial. `passphrase`: of one
    that is a locked file.

    Raises:
        BagItError: the bundle is not whole, not safe, or not one; nothing was taken.
        LogError: as the disk refuses; what was not taken then is taken by doing it again.
    """
    with open_bagit(path, passphrase) as bag:
        incoming_recordings = _incoming_recordings(bag, log.locked or passphrase is not None)
        matters = _incoming_matters(bag, incoming_recordings)
        done = merge(log, incoming_recordings, trial)
        for dog in _dogs(
            [one for one in incoming_recordings if one.recording.id not in done.refused]
        ):
            if merge_dog(log, dog):
                done.dogs.append(dog.name)
        merge_matters(log, matters)
    return done


# --- within -----------------------------------------------------------------------------


def _matters(log: Log, parts: Sequence[RecordingPart], keys: set[str]) -> list[MatterEvent]:
    """What was done about the matters of these sessions, and what is kept of these dogs."""
    told = {event for part in parts for event in part.events}
    dogs = set(map(tombstones.dog_id, keys))
    return [
        one
        for one in log.matter_events()
        if one.dog in dogs or any(is_of(entry, told) for entry in one.entries)
    ]


def _incoming_matters(
    bag: BagItArchive, incoming_recordings: Sequence[IncomingRecording]
) -> list[MatterEvent]:
    """Those about what the bundle holds: it closes nothing else."""
    told = {event.id for one in incoming_recordings for _, event in one.events}
    names = {dog.name for one in incoming_recordings for dog in one.recording.roster.dogs}
    dogs = set(map(tombstones.dog_id, names))
    if "matters.jsonl" not in bag.names:
        return []
    found = []
    for number, line in enumerate(bag.lines("matters.jsonl"), start=1):
        try:
            one = MatterEvent.model_validate_json(line)
        except ValueError as error:
            fault = f"has no matter in line {number} of its matters that can be read"
            raise BagItError(bag.path, f"{fault} ({reason(error)})") from error
        if one.dog in dogs or any(is_of(entry, told) for entry in one.entries):
            found.append(one)
    return found


def _as_handed_over(sound: Path, folder: Path, part: RecordingPart) -> Path | None:
    """A file of the part's sound and no other; None where it cannot be parted."""
    copy = folder / "part.flac"
    try:
        write_flac(sound, copy, part.rest)
    except SoundFileError:
        lines = sound_files.typed_lines(sound, part.rest)
        if lines is None:
            return None
        copy = folder / f"part{sound.suffix}"
        sound_files.copy_bytes(sound, copy, *([lines] if part.rest else []))
    return copy


def _narrowed(kept: StoredRecording, keys: set[str], sound: str | None) -> StoredRecording:
    """A recording's row with nothing of other dogs."""
    settings = dict(kept.settings)
    if isinstance(settings.get("dog"), dict):
        own = settings["dog"].items()
        settings["dog"] = {name: one for name, one in own if name_key(name) in keys}
    dogs = tuple(dog for dog in kept.roster.dogs if name_key(dog.name) in keys)
    whose = kept.dog if kept.dog is not None and name_key(kept.dog) in keys else None
    roster = Roster(dogs=dogs, handlers=kept.roster.handlers)
    changes = {"roster": roster, "settings": settings, "dog": whose, "sound": sound}
    return kept.model_copy(update=changes)


def _incoming_recordings(bag: BagItArchive, locked: bool) -> list[IncomingRecording]:
    """Everything in a bundle, read and checked before anything is taken from it."""
    if not {"recordings.jsonl", "events.jsonl"} <= set(bag.names):
        raise BagItError(bag.path, "is a bag, but not a bundle of voicelog")
    rows = _rows(bag)
    told: list[StampedEvent] = []
    for number, line in enumerate(bag.lines("events.jsonl"), start=1):
        try:
            told.append(_stamped(line))
        except ValidationError as error:
            fault = f"has no event in line {number} of its events that can be read"
            raise BagItError(bag.path, f"{fault} ({reason(error)})") from error
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise BagItError(bag.path, f"has no event in line {number} of its events") from error
    owner = _owners(bag, [event for _, event in told], rows)
    events: dict[str, list[StampedEvent]] = {name: [] for name in rows}
    for stamped in told:
        events[owner[stamped[1].id]].append(stamped)
    return [
        IncomingRecording(row, events[name], _sound_in(bag, row.sound, locked))
        for name, row in rows.items()
    ]


def _rows(bag: BagItArchive) -> dict[str, StoredRecording]:
    rows: dict[str, StoredRecording] = {}
    for number, line in enumerate(bag.lines("recordings.jsonl"), start=1):
        try:
            row = StoredRecording.model_validate_json(line)
            whole = (
                row.complete and StoredRecording.model_validate_json(row.model_dump_json()) == row
            )
        except ValidationError as error:
            fault = f"has no recording in line {number} of its list that can be read"
            raise BagItError(bag.path, f"{fault} ({reason(error)})") from error
        except ValueError as error:
            raise BagItError(bag.path, f"has no recording in line {number} of its list") from error
        if not whole or row.id in rows:
            raise BagItError(bag.path, f"has a recording that is not whole in line {number}")
        named = row.sound is None or (
            row.sound in bag.names and sound_files.NAME.fullmatch(row.sound)
        )
        if not named:
            raise BagItError(bag.path, f"names a sound that it does not hold in line {number}")
        rows[row.id] = row
    return rows


def _stamped(line: bytes) -> StampedEvent:
    whole = json.loads(line)
    at = whole["committed_at"]
    if not isinstance(at, str) or not COMMIT_TIME_PATTERN.fullmatch(at):
        raise ValueError(f"no time of commit: {at!r}")
    event = event_log.read(json.dumps(whole["event"]))
    event_log.event_json(event)
    return at, event


def _owners(
    bag: BagItArchive, told: Sequence[Event], rows: Mapping[str, StoredRecording]
) -> dict[str, str]:
    """The recording of each event: its own, or that of what it is about."""
    owner = {
        event.id: event.recording
        for event in told
        if isinstance(event, Utterance | FieldEvent) and event.recording in rows
    }
    about: dict[str, list[str]] = {}
    for event in told:
        if event.id not in owner and (target := event_log.about(event)) is not None:
            about.setdefault(target, []).append(event.id)
    waiting = list(owner)
    while waiting:
        found = waiting.pop()
        for one in about.pop(found, ()):
            owner.setdefault(one, owner[found])
            waiting.append(one)
    for event in told:
        if event.id not in owner:
            raise BagItError(bag.path, f"has events about nothing that it holds ({event.id[:80]})")
    return owner


def _sound_in(
    bag: BagItArchive, name: str | None, locked: bool
) -> Callable[[], AbstractContextManager[Path | None]]:
    @contextmanager
    def lent() -> Iterator[Path | None]:
        if name is None:
            yield None
            return
        with scratch_folder(locked) as folder:
            path = folder / f"sound{Path(name).suffix}"
            with write_bytes(path) as file:
                for chunk in bag.chunks(name):
                    file.write(chunk)
            yield path

    return lent


def _dogs(incoming_recordings: Sequence[IncomingRecording]) -> list[Dog]:
    """Every dog in the bundle once, as in its newest recording."""
    newest = sorted(
        incoming_recordings, key=lambda incoming_recording: incoming_recording.recording.added_at
    )
    found = {
        name_key(dog.name): dog
        for incoming_recording in newest
        for dog in incoming_recording.recording.roster.dogs
    }
    return list(found.values())
