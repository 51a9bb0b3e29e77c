"""One file into the log, whatever is there of it already: new, half added, without a date."""

from __future__ import annotations

import getpass
from dataclasses import replace
from datetime import datetime
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from voicelog.app.archive import import_bundle
from voicelog.app.open_log import open_log
from voicelog.cli.intake import IntakeOptions, intake_note, open_intake
from voicelog.report.merge_words import merged_words

if TYPE_CHECKING:
    from voicelog.app.pipeline import Intake
    from voicelog.recognition.recognizers import PassChoice
    from voicelog.store import Log, StoredRecording

__all__ = ["add_file", "is_begun"]

_DATE = "--at 2026-04-18T07:30"


def is_begun(log: Log, path: Path) -> bool:
    """Whether a file's adding was cut short: it is completed as it was begun, so it does not
    matter which dogs the log knows today."""
    return any(not one.complete for one in _of_content(log, path))


def add_file(order: IntakeOptions, folder: Path, path: Path, *, redate: bool = False) -> str:
    """Hear one file into the log, or take a bundle in; what came of it, in words.

    `redate`: the order's time is right where the log has another.
    """
    from voicelog.store.bagit import is_bagit

    with open_log(folder) as log:
        if is_bagit(path):
            return merged_words(import_bundle(log, path))
        known = _known(log, path, order, redate=redate)
        if known is None:
            return _heard(log, path, open_intake(path, order), order)
        if known.complete:
            return _dated(log, known, order.at, redate=redate)
        said = _completed(log, path, known, order)
        differs = order.at is not None and not _same(_date_of(log, known), order.at)
        return f"{said} It was {_dated(log, known, order.at, redate=redate)}" if differs else said


# --- what is there already ----------------------------------------------------------------


def _of_content(log: Log, path: Path) -> tuple[StoredRecording, ...]:
    """The recordings of a file's content."""
    from voicelog.store.sound_files import sha256_of

    try:
        return log.of_content(sha256_of(path))
    except OSError:
        return ()  # what is wrong with the file is said when it is opened


def _known(log: Log, path: Path, order: IntakeOptions, *, redate: bool) -> StoredRecording | None:
    """The recording that this file is, or None where it is a new one.

    Sound is one recording for ever. Typed words are one for each day; without a day they are
    any that is there, and one without a date is theirs.
    """
    there = _of_content(log, path)
    if not order.typed or order.at is None or (redate and len(there) == 1):
        return next((one for one in there if not one.complete), there[0] if there else None)
    days = {one.id: _date_of(log, one) for one in there}
    same = (one for one in there if (at := days[one.id]) and at.date() == order.at.date())
    return next(same, next((one for one in there if days[one.id] is None), None))


def _date_of(log: Log, known: StoredRecording) -> datetime | None:
    """When a recording began, as a person last set it, or as it was added."""
    from voicelog.session.entries import recording_start

    return recording_start(log.events(known.id), known.started_at)


def _same(one: datetime | None, other: datetime) -> bool:
    """Whether two times are the same, on the wall where one of them names no zone."""
    if one is None:
        return False
    if one.tzinfo is None or other.tzinfo is None:
        return one.replace(tzinfo=None) == other.replace(tzinfo=None)
    return one == other


def _dated(log: Log, known: StoredRecording, at: datetime | None, *, redate: bool) -> str:
    """What to say of a recording that is there, whose date is mended where that is clear."""
    there = "already in the log"
    began = _date_of(log, known)
    if at is None:
        left = "left as it is"
        return f"{there}, {left}" if began else f"{there}, {left}; {_dateless()}"
    if _same(began, at):
        return f"{there}, left as it is"
    if began is not None and not redate:
        return (
            f"{there} as of {_said(began)}, not {_said(at)}, and left so; if {_said(at)} is "
            "right, add it again with --redate"
        )
    if not _set_clock(log, known, at):
        return f"{there}, left as it is: nothing was heard in it that a date could be given to"
    was = f" instead of {_said(began)}" if began else ", which it did not have"
    return f"{there}; its date is now {_said(at)}{was}"


def _set_clock(log: Log, known: StoredRecording, at: datetime) -> bool:
    """Say when a recording began; whether there is anything in it that it could be said of."""
    from voicelog.model import Action, Utterance

    first = next((one for one in log.events(known.id) if isinstance(one, Utterance)), None)
    if first is None:
        return False
    now = log.now()
    name = f"clock-{known.id[:12]}-{now.isoformat()}"
    value = at.isoformat()
    who = getpass.getuser()
    log.append([Action(id=name, action="clock", target=first.id, value=value, who=who, at=now)])
    return True


def _said(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"


def _dateless() -> str:
    return f"it has no date, which rules of the day need: add it again with {_DATE}"


# --- into the log -------------------------------------------------------------------------


def _completed(log: Log, path: Path, known: StoredRecording, order: IntakeOptions) -> str:
    """Take up one that was cut short, with what it was begun with, whatever holds today."""
    from pydantic import ValidationError

    from voicelog.app.pipeline import TYPED
    from voicelog.grammar.grammar import optional_grammars_of
    from voicelog.safety.settings import Settings
    from voicelog.store import SetAsideError
    from voicelog.store.set_aside import reason

    try:
        settings = Settings.model_validate(known.settings)
    except ValidationError as error:
        raise SetAsideError(known.file_name, reason(error)) from error
    as_begun = replace(
        order,
        roster=known.roster,
        settings=settings,
        dog=known.dog,
        optional=optional_grammars_of(known.grammar),
        typed=known.listeners == (TYPED,),
        listener=_listener(known) or order.listener,
        at=known.started_at,
    )
    intake = open_intake(path, as_begun, known_as=known.id, begun=log.events(known.id))
    said = _heard(log, path, intake, as_begun, known)
    today = (order.roster, order.settings, order.dog)
    if today == (known.roster, settings, known.dog):
        return said
    return f"{said} Completed with the dogs and settings it was begun with."


def _listener(known: StoredRecording) -> PassChoice | None:
    """Who was told to listen, where that was fewer than would by themselves."""
    whisper = [name.startswith("whisper ") for name in known.listeners]
    if not any(whisper):
        return "quick"
    return "careful" if all(whisper) else None


def _heard(
    log: Log, path: Path, intake: Intake, order: IntakeOptions, known: StoredRecording | None = None
) -> str:
    """Hear a file to its end, committing as it goes; what came of it, in words."""
    from voicelog.app.session_catalog import SessionCatalog
    from voicelog.store import Recording, StoredRecording

    batches = iter(intake)
    first = next(batches, None)  # what holds no sound fails here, before anything is kept
    whole = intake.recording
    sound = log.store_sound(path, str(whole.sha256), intake.id)
    listeners = whole.listeners
    if known is not None:
        listeners = tuple(dict.fromkeys((*known.listeners, *listeners)))
        row = known.model_dump(include=set(Recording.model_fields))
        whole = Recording.model_validate(row)
    place = {"sound": sound.relative_to(log.folder).as_posix(), "listeners": listeners}
    begun = whole.model_copy(update=place)
    SessionCatalog(log).trial(
        StoredRecording(**dict(begun), added_at=log.now(), complete=False), ()
    )
    if not log.begin_recording(begun):
        return "already in the log, left as it is"
    for batch in chain(() if first is None else (first,), batches):
        log.append(batch)
    end = intake.recording
    log.finish_recording(intake.id, duration_s=end.duration_s, level=end.level)
    said = _counted(intake)
    notes = [intake_note(intake, order)]
    if begun.started_at is None:
        dateless = _dateless()
        notes.append(f"{dateless[0].upper()}{dateless[1:]}.")
    return " ".join([said, *filter(None, notes)])


def _counted(intake: Intake) -> str:
    verdicts = [event.status for event in intake.events if event.event == "verdict"]
    return (
        f"{verdicts.count('accepted')} notes sure, {verdicts.count('doubtful')} to look at, "
        f"{verdicts.count('rejected')} not for the log."
    )
