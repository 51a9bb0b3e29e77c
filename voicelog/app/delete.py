"""What is deleted for good, in two steps: what it would be, and, once a person agreed, doing it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.levels import Ceiling
from voicelog.analysis.open_matters import OpenMatter, matter_id
from voicelog.app.kept_matters import keeping_open, kept_event
from voicelog.app.matters import dog_matters
from voicelog.app.open_log import SETTINGS_NAME, settings_in_force
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import parts_of_sessions, sessions_in, sessions_of_dog
from voicelog.app.session_ids import session_id_now
from voicelog.app.typed_lines import TYPED
from voicelog.model import Dog, MatterEvent, VoicelogError
from voicelog.model.names import name_key
from voicelog.report.words import date_words
from voicelog.store import CacheHeading, Log, StoredRecording, deletion
from voicelog.store.deletion import DeletionResult
from voicelog.store.matter_log import is_of
from voicelog.store.recording_part import RecordingPart, recording_part
from voicelog.store.tombstones import dog_id

__all__ = [
    "DogDeletion",
    "MattersAtStake",
    "SoundDeletion",
    "delete_dog",
    "delete_recordings",
    "delete_sessions",
    "delete_sound",
    "find_dog",
    "find_half",
    "find_sessions",
    "find_sound",
    "matters_at_stake",
    "settings_that_name",
]


@dataclass(frozen=True, slots=True)
class DogDeletion:
    """What goes with a dog."""

    dog: str
    sessions: int
    parts: tuple[RecordingPart, ...]


@dataclass(frozen=True, slots=True)
class MattersAtStake:
    """What a deletion means for the open matters of the dogs concerned.

    `kept` stay in the list without entries and sound: those that stand until a person closes them,
    and, where single sessions are deleted, those closed or corrected as long as they are shown.
    `forgotten` go. `ceilings` are those that change, before and after, by dog; None is no ceiling.
    """

    kept: tuple[OpenMatter, ...]
    forgotten: tuple[OpenMatter, ...]
    ceilings: Mapping[str, tuple[int | None, int | None]]


@dataclass(frozen=True, slots=True)
class SoundDeletion:
    """Old sound that may go, and how many recordings keep theirs."""

    chosen: tuple[StoredRecording, ...]
    to_check: int
    """Recordings left out since entries in them are still to check."""
    with_memos: int
    """Others left out since there are memos in them, which are sound only."""
    with_matters: int
    """Others left out since something that they hold against a dog is open."""


# --- sessions ---------------------------------------------------------------------------


def find_sessions(
    catalog: SessionCatalog, dog: str, day: date | None, session: str | None = None
) -> list[CacheHeading]:
    """A dog's sessions of a day (or all), or of these the one of that id.

    Raises:
        VoicelogError: there is none.
    """
    rows = sessions_of_dog(catalog, dog, day)
    if session is not None:
        rows = [row for row in rows if row.key == session]
        if not rows and (now := session_id_now(catalog, session)) is not None:
            raise VoicelogError(
                f"That session begins with another note since a change, so nothing was deleted; "
                f"look at it with 'voicelog correct --session {now}', then give its id, {now}."
            )
    if not rows:
        raise VoicelogError(
            f"There is no session of '{dog}'{f' on {date_words(day)}' if day else ''}"
            f"{' with that id' if session else ''}; see 'voicelog summary --all'."
        )
    return rows


def matters_at_stake(
    catalog: SessionCatalog, sessions: Sequence[CacheHeading], *, whole_dog: bool = False
) -> MattersAtStake:
    """What would become of open matters and ceilings if these sessions were deleted.

    Args:
        whole_dog: their dog goes with them: then only what stands is kept, under no name.
    """
    keys = {row.key for row in sessions}
    today = catalog.log.now().date()
    kept, forgotten = [], []
    ceilings: dict[str, tuple[int | None, int | None]] = {}
    lists = catalog.matters(today)
    for dog, found in catalog.matters(None).items():
        own = [one for one in found if one.matter.session in keys and not one.deleted]
        shown = {one.id for one in lists.get(dog, ())} if own else set()
        stay = [one for one in own if one.stands or (one.id in shown and not whole_dog)]
        kept += stay
        forgotten += [one for one in own if one not in stay]
    for name in dict.fromkeys(row.dog for row in sessions if row.dog):
        before, after = _ceilings(catalog, name, keys, kept)
        if before != after:
            ceilings[name] = (before, after)
    return MattersAtStake(tuple(kept), tuple(forgotten), ceilings)


def _ceilings(
    catalog: SessionCatalog, name: str, gone: Collection[str], kept: Sequence[OpenMatter]
) -> tuple[int | None, int | None]:
    digests = catalog.session_digests(name)
    profile = catalog.log.roster().dog(name)
    dog = profile or Dog(name=name, transmitter=digests[-1].transmitter)
    rules = settings_in_force(catalog.log).for_dog(name)
    matters = catalog.matters(None).get(name, ())
    left = [one for one in digests if one.session not in gone]
    then = [one for one in matters if one.matter.session not in gone]
    then += [one.model_copy(update={"deleted": True}) for one in kept]
    return (
        _level(dog_ceiling(digests, dog, rules, matters=matters)),
        _level(dog_ceiling(left, dog, rules, matters=then)),
    )


def _level(ceiling: Ceiling) -> int | None:
    """The ceiling as a number: -1 where no level is left under it."""
    return -1 if ceiling.none_left else ceiling.level


def _keep(catalog: SessionCatalog, at_stake: MattersAtStake) -> None:
    """Write down what is kept, before anything goes: cut short, it is there twice and told once."""
    events = [kept_event(one, dog_id(one.matter.dog)) for one in at_stake.kept]
    if events:
        catalog.log.append_matters(events)


def delete_sessions(catalog: SessionCatalog, sessions: Sequence[CacheHeading]) -> DeletionResult:
    """Delete sessions: entries and sound. Sound that tells of others too is kept, these silent.

    What is open stays open (`matters_at_stake`), of sessions that only rested on these too.

    Raises:
        LogError: as the disk refuses.
    """
    _keep(catalog, matters_at_stake(catalog, sessions))
    keys = {row.key for row in sessions}
    parts = parts_of_sessions(catalog, keys)
    with keeping_open(catalog):
        catalog.hold((part.recording for part in parts if not part.whole), keys)
        gone = deletion.delete_parts(catalog.log, parts)
        catalog.refresh()
    return gone


# --- a dog ------------------------------------------------------------------------------


def find_dog(catalog: SessionCatalog, dog: str) -> DogDeletion:
    """What goes with a dog: its sessions, and its recordings in which no session was heard.
    `catalog` is that of the log, refreshed.

    Raises:
        VoicelogError: a recording is set aside, so nobody can say whose it is.
    """
    if out := catalog.asides():
        raise VoicelogError(
            f"{', '.join(error.name for error in out.values())} is set aside, so it cannot be "
            "said what of it belongs to whom: delete it first, with 'voicelog delete aside'."
        )
    log = catalog.log
    rows = sessions_of_dog(catalog, dog)
    parts = parts_of_sessions(catalog, {row.key for row in rows})
    taken = {part.recording for part in parts}
    for kept in log.each_recording():
        its_own = kept.dog is not None and name_key(kept.dog) == name_key(dog)
        if its_own and kept.id not in taken and not sessions_in(catalog, kept.id):
            parts.append(recording_part(kept.id, log.events(kept.id), (), ()))
    return DogDeletion(dog, len(rows), tuple(parts))


def delete_dog(catalog: SessionCatalog, found: DogDeletion) -> DeletionResult:
    """Delete a dog: its profile, its sessions, their sound, and what was done about its matters.

    What is open is kept under the hash of its name, and comes back with a dog of that name. What
    is open of other dogs, and rested on something said in its sessions, stays open too.

    Raises:
        IncompleteRecordingError: a recording is only half added.
        UnknownNameError: the log knows no such dog.
        LogError: as the disk refuses.
    """
    rows = sessions_of_dog(catalog, found.dog)
    at_stake = matters_at_stake(catalog, rows, whole_dog=True)
    _keep(catalog, at_stake)
    standing_ids = {one.id for one in dog_matters(catalog, found.dog, None) if one.stands}
    told = {event for part in found.parts for event in part.events}
    stays = {entry for one in at_stake.kept for entry in one.matter.entries}
    own = dog_id(found.dog)
    done = [
        one.id
        for one in catalog.log.matter_events()
        if (one.do == "keep" and one.dog == own and _id_of(one) not in standing_ids)
        or (
            one.do != "keep"
            and any(is_of(entry, told) for entry in one.entries)
            and not stays.intersection(one.entries)
        )
    ]
    whole = {part.recording for part in found.parts if part.whole}
    with keeping_open(catalog):
        catalog.hold(
            (
                one.id
                for one in catalog.log.each_recording()
                if one.id not in whole and one.roster.dog(found.dog) is not None
            ),
            {row.key for row in rows},
        )
        gone = deletion.delete_dog(catalog.log, found.dog, found.parts, done)
        catalog.refresh()
    return gone


def _id_of(one: MatterEvent) -> str:
    return "" if one.matter is None else matter_id(one.matter)


def settings_that_name(catalog: SessionCatalog, dog: str) -> Path | None:
    """The log's settings file where it names a dog, which is left to people. `catalog` is that of
    the log."""
    settings = catalog.log.folder / SETTINGS_NAME
    named = settings.is_file() and dog.casefold() in settings.read_text("utf-8").casefold()
    return settings if named else None


# --- recordings and their sound ---------------------------------------------------------


def delete_recordings(catalog: SessionCatalog, recordings: Sequence[str]) -> DeletionResult:
    """Delete whole recordings by their ids, such as those that are set aside.

    Raises:
        LogError: as the disk refuses.
    """
    parts = [recording_part(recording, (), (), ()) for recording in recordings]
    return deletion.delete_parts(catalog.log, parts)


def find_half(log: Log, names: Collection[str]) -> list[StoredRecording]:
    """The recordings that were only half added and have one of these file names; all without a
    name.

    Raises:
        VoicelogError: of a name there is none.
    """
    half = [one for one in log.each_recording() if not one.complete]
    for name in names:
        if not any(name in (one.file_name, one.id) for one in half):
            known = ", ".join(one.file_name or one.id for one in half) or "none"
            raise VoicelogError(
                f"Found no half added recording '{name}', wanted one of those that there are "
                f"({known})."
            )
    return [one for one in half if not names or one.file_name in names or one.id in names]


def find_sound(
    catalog: SessionCatalog,
    older_than: int,
    *,
    unread: bool = False,
    memos: bool = False,
    matters: bool = False,
) -> SoundDeletion:
    """The sound recorded at least so many days ago. `catalog` is that of the log, refreshed.

    Args:
        older_than: days, 0 or more.
        unread: also where entries are still to check.
        memos: also where there are memos.
        matters: also where something that went against a dog is open.
    """
    log = catalog.log
    out = catalog.asides()
    until = log.now().replace(tzinfo=None) - timedelta(days=older_than)
    old = [
        kept
        for kept in log.each_recording()
        if kept.sound is not None
        and kept.complete
        and _moment(kept) <= until
        and kept.id not in out
    ]
    to_check = {kept.id for kept in old if not unread and _is_to_check(catalog, kept)}
    open_ = {
        one.matter.recording
        for some in catalog.matters(None).values()
        for one in some
        if one.stands and not matters
    }
    spoken = {kept.id for kept in old if not memos and _has_memo(catalog, kept)}
    return SoundDeletion(
        chosen=tuple(kept for kept in old if kept.id not in to_check | spoken | open_),
        to_check=len(to_check),
        with_memos=len(spoken - to_check),
        with_matters=len((open_ & {kept.id for kept in old}) - to_check - spoken),
    )


def delete_sound(catalog: SessionCatalog, recordings: Sequence[StoredRecording]) -> DeletionResult:
    """Delete the sound of recordings; their entries stay.

    Raises:
        LogError: as the disk refuses.
    """
    return deletion.delete_sound(catalog.log, recordings)


def _moment(kept: StoredRecording) -> datetime:
    return (kept.started_at or kept.added_at).replace(tzinfo=None)


def _is_to_check(catalog: SessionCatalog, kept: StoredRecording) -> bool:
    """Whether an entry waits for a person: one to check, or a typed line that was not understood,
    since who types means every line."""
    waits = ("doubtful", "rejected") if kept.listeners == (TYPED,) else ("doubtful",)
    entries = catalog.line(kept.id).entries
    return any(entry.status in waits and not entry.voided for entry in entries)


def _has_memo(catalog: SessionCatalog, kept: StoredRecording) -> bool:
    said = (entry.slots.get("do") for entry in catalog.line(kept.id).entries if not entry.voided)
    return any("memo" in (do if isinstance(do, list) else [do]) for do in said)
