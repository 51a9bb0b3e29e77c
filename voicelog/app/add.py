"""One file into the log, whatever is there of it already: new, half added, without a date."""

from __future__ import annotations

import getpass
from collections import Counter
from dataclasses import replace
from datetime import datetime
from itertools import chain
from pathlib import Path

from pydantic import ValidationError

from voicelog.app.commit import RecordingCommit, commit_change
from voicelog.app.dogs_named import dogs_named
from voicelog.app.grammars import grammar_with
from voicelog.app.intake import Intake
from voicelog.app.open_file import IntakeOptions, open_file, typed_at
from voicelog.app.same_sound import SameSoundError, same_sound
from voicelog.app.same_words import SameWordsError, same_words
from voicelog.app.typed_file import TYPED, TypedFile
from voicelog.grammar.grammar import optional_grammars_of
from voicelog.model import Action, Utterance, Verdict
from voicelog.model.adding import AddedFile, Dating, HeardFile
from voicelog.model.input_limits import OddFileError, checked_file
from voicelog.recognition.recognizer_names import kind_of
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.safety.settings import Settings
from voicelog.session.entries import recording_start
from voicelog.store import Log, Recording, SetAsideError, StoredRecording
from voicelog.store.set_aside import reason
from voicelog.store.sound_files import sha256_of

__all__ = ["add_file", "is_begun", "options_to_hear"]


def is_begun(log: Log, path: Path) -> bool:
    """Whether a file's adding was cut short: it is completed as it was begun, so it does not matter
    which dogs the log knows today. `path` is a file of any name with that content."""
    return any(not one.complete for one in _of_content(log, path))


def options_to_hear(log: Log, path: Path, options: IntakeOptions) -> IntakeOptions | None:
    """With which options the sound of a file is to be heard, so that `add_file` can take in what
    another process heard; None where there is nothing to hear: it is typed, or complete in the log.

    Args:
        log: where it goes.
        path: the file.
        options: how it is taken in.

    Raises:
        SetAsideError: it was begun with settings that this program does not know.
    """
    if options.typed:
        return None
    known = _known(log, path, options, redate=False)
    if known is None:
        return options
    return None if known.complete else _as_begun(known, options)


def add_file(
    log: Log, path: Path, options: IntakeOptions, *, redate: bool = False, anyway: bool = False
) -> AddedFile:
    """Hear one file into the log.

    Args:
        log: where it goes.
        path: the file.
        options: how it is taken in.
        redate: the time of `options` is right where the log has another.
        anyway: it is added though it is like a recording that is there.

    Raises:
        SameSoundError, SameWordsError: it is like one that is there.
        TypedFormatError: a typed file that cannot be taken.
        SetAsideError: it was begun, or comes, with settings that this program does not know.
        VoicelogError: those of voicelog.audio, of voicelog.store and of `load_recognizers`.
    """
    options = typed_at(path, options)
    known = _known(log, path, options, redate=redate)
    if known is None:
        if not anyway:
            _refuse_same(log, path, options)
        return AddedFile(_commit(log, path, open_file(path, options)))
    if known.complete:
        return AddedFile(None, dating=_dated(log, known, options.at, redate=redate))
    heard, as_begun = _completed(log, path, known, options)
    dating = None
    if options.at is not None and not _same(_date_of(log, known), options.at):
        dating = _dated(log, known, options.at, redate=redate)
    return AddedFile(heard, as_begun, dating)


def _refuse_same(log: Log, path: Path, options: IntakeOptions) -> None:
    if not options.typed:
        if (alike := same_sound(log, path)) is not None:
            raise SameSoundError(path, alike)
        return
    typed = TypedFile(path, grammar_with(options.roster, options.optional))
    if (said := same_words(log, typed.words, options.dog, options.at)) is not None:
        raise SameWordsError(path, said)


# --- what is there already ----------------------------------------------------------------


def _of_content(log: Log, path: Path) -> tuple[StoredRecording, ...]:
    """The recordings of a file's content."""
    try:
        checked_file(path)
        return log.of_content(sha256_of(path))
    except (OSError, OddFileError):
        return ()  # what is wrong with the file is said when it is opened


def _known(log: Log, path: Path, options: IntakeOptions, *, redate: bool) -> StoredRecording | None:
    """The recording that this file is, or None where it is a new one.

    Sound is one recording for ever. Typed words are one for each day; without a day they are
    any that is there, and one without a date is theirs.
    """
    there = _of_content(log, path)
    if not options.typed or options.at is None or (redate and len(there) == 1):
        return next((one for one in there if not one.complete), there[0] if there else None)
    days = {one.id: _date_of(log, one) for one in there}
    same = (one for one in there if (at := days[one.id]) and at.date() == options.at.date())
    return next(same, next((one for one in there if days[one.id] is None), None))


def _date_of(log: Log, known: StoredRecording) -> datetime | None:
    """When a recording began, as a person last set it, or as it was added."""
    return recording_start(log.events(known.id), known.started_at)


def _same(one: datetime | None, other: datetime) -> bool:
    """Whether two times are the same, on the wall where one of them names no zone."""
    if one is None:
        return False
    if one.tzinfo is None or other.tzinfo is None:
        return one.replace(tzinfo=None) == other.replace(tzinfo=None)
    return one == other


def _dated(log: Log, known: StoredRecording, at: datetime | None, *, redate: bool) -> Dating:
    """What becomes of the date of a recording that is there; it is set where that is clear."""
    began = _date_of(log, known)
    if at is None or _same(began, at):
        return Dating("left", began, at)
    if began is not None and not redate:
        return Dating("other", began, at)
    return Dating("set" if _set_clock(log, known, at) else "no utterance", began, at)


def _set_clock(log: Log, known: StoredRecording, at: datetime) -> bool:
    """Say when a recording began; whether there is anything in it that it could be said of."""
    first = next((one for one in log.events(known.id) if isinstance(one, Utterance)), None)
    if first is None:
        return False
    now = log.now()
    name = f"clock-{known.id[:12]}-{now.isoformat()}"
    value = at.isoformat()
    handlers = log.roster().handlers
    who = handlers[0] if len(handlers) == 1 else getpass.getuser()
    action = Action(id=name, action="clock", target=first.id, value=value, who=who, at=now)
    commit_change(log, known.id, [action])
    return True


# --- into the log -------------------------------------------------------------------------


def _completed(
    log: Log, path: Path, known: StoredRecording, options: IntakeOptions
) -> tuple[HeardFile | None, bool]:
    """Take up one that was cut short, with what it was begun with; whether that is not what
    holds today."""
    as_begun = _as_begun(known, options)
    intake = open_file(path, as_begun, known_as=known.id, begun=log.events(known.id))
    heard = _commit(log, path, intake, known)
    today = (options.roster, options.settings, options.dog)
    return heard, today != (as_begun.roster, as_begun.settings, as_begun.dog)


def _as_begun(known: StoredRecording, options: IntakeOptions) -> IntakeOptions:
    """The options that one was begun with; raises SetAsideError as `add_file` does."""
    try:
        settings = Settings.model_validate(known.settings)
    except ValidationError as error:
        raise SetAsideError(known.file_name, reason(error)) from error
    return replace(
        options,
        roster=known.roster,
        settings=settings,
        dog=known.dog,
        optional=optional_grammars_of(known.grammar),
        typed=known.listeners == (TYPED,),
        listener=_choice(known) or options.listener,
        at=known.started_at,
    )


def _choice(known: StoredRecording) -> RecognizerChoice | None:
    """Which recognizers were told to listen, where that was fewer than would by themselves."""
    kinds = set(map(kind_of, known.listeners))
    if "careful" not in kinds:
        return "quick"
    return "careful" if kinds == {"careful"} else None


def _commit(
    log: Log, path: Path, intake: Intake, known: StoredRecording | None = None
) -> HeardFile | None:
    """Hear a file to its end, committing as it goes; None where it is in the log already."""
    batches = iter(intake)
    first = next(batches, None)  # what holds no sound fails here, before anything is kept
    begun = intake.recording
    if known is not None:
        listeners = tuple(dict.fromkeys((*known.listeners, *begun.listeners)))
        row = known.model_dump(include=set(Recording.model_fields))
        begun = Recording.model_validate(row).model_copy(
            update={"sha256": begun.sha256, "listeners": listeners}
        )
    commit = RecordingCommit(log, intake.id)
    if not commit.begin(begun, path):
        return None
    for batch in chain(() if first is None else (first,), batches):
        commit.append(batch)
    end = intake.recording
    commit.finish(end.duration_s, end.level)
    optional = optional_grammars_of(begun.grammar)
    verdicts = Counter(event.status for event in intake.events if isinstance(event, Verdict))
    return HeardFile(
        accepted=verdicts["accepted"],
        doubtful=verdicts["doubtful"],
        rejected=verdicts["rejected"],
        note=intake.note,
        dated=begun.started_at is not None,
        named=dogs_named(intake.events, grammar_with(begun.roster, optional), begun.dog),
        recording=intake.id,
    )
