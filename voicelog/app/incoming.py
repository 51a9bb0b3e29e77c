"""Files on their way into the log: received in pieces, then heard one after the other.

They stand in a folder of their own beside the log until they are in it. Each piece is on disk when
it is answered, so one that breaks off goes on where it stopped; what each file came to is written
beside it, so nothing depends on the page that brought it. Hearing is done by `hear_incoming`, in a
process of its own; killed, it is gone on with, as every `add` that was cut short.
"""

from __future__ import annotations

import re
import shutil
import traceback
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from time import monotonic

from pydantic import ValidationError

from voicelog.app.add import add_file
from voicelog.app.archive import import_bundle, restore_log
from voicelog.app.demo import demo_options, demo_recordings
from voicelog.app.input_files import EmptyFolderError, input_files
from voicelog.app.open_file import IntakeOptions, named_dogs
from voicelog.app.open_log import load_settings, open_log
from voicelog.app.read import read_file, summaries_of
from voicelog.app.same_sound import SameRecordingError
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.state_file import read_state, write_state
from voicelog.app.voice_card import card_for, graded_lines, read_card_files, reading_lines
from voicelog.audio.locked_files import append_bytes, size_of, write_bytes
from voicelog.grammar.pronunciation import NoPronunciationError
from voicelog.model import UsageError, VoicelogError
from voicelog.model.incoming import IncomingFile, IncomingKind
from voicelog.model.names import LONGEST_NAME, plain_text
from voicelog.report.added_words import added_words
from voicelog.report.changes import changes_elsewhere
from voicelog.report.html import article
from voicelog.report.incoming_words import (
    DEMO_HEARD,
    GAVE_UP,
    inside_words,
    no_room_words,
    not_waiting_words,
    restored_words,
    same_recording_words,
    unlike_words,
    wrong_file_words,
)
from voicelog.report.merge_words import left_out_words, merged_words
from voicelog.store import Log
from voicelog.store.bagit import is_bagit
from voicelog.store.errors import translate_errors
from voicelog.store.file_lock import file_lock, is_locked
from voicelog.store.log_lock import INCOMING_FOLDER, work_folder
from voicelog.store.sound_files import sha256_of, whole_bytes

__all__ = [
    "IncomingError",
    "OffsetError",
    "begin_demo",
    "begin_incoming",
    "demo_page",
    "forget_incoming",
    "hear_incoming",
    "incoming_files",
    "is_hearing",
    "keep_anyway",
    "received_bytes",
    "take_piece",
]

_LOCK = "incoming.lock"
_ID = re.compile(r"[0-9a-f]{20}")
_ROOM = 64 << 20
"""Bytes that stay free on the disk beside a file that is received."""
_DEMO_ID = sha256(b"demo").hexdigest()[:20]
_MOST_TRIES = 3
"""How often a file is begun whose hearing was cut short; one that kills its program is left."""
_TELL_S = 0.5
"""How often it is written down how far a file is heard, s."""


class IncomingError(UsageError):
    """A file that cannot be received, or of which nothing is known."""


class OffsetError(IncomingError):
    """A piece that does not follow on what is there; `have` bytes are."""

    def __init__(self, name: str, have: int) -> None:
        super().__init__(unlike_words(name, have))
        self.have = have


def begin_incoming(
    folder: Path,
    name: str,
    size: int,
    *,
    stamp: str = "",
    kind: IncomingKind = "recording",
    dogs: tuple[str, ...] = (),
    at: datetime | None = None,
) -> IncomingFile:
    """Begin to receive a file into the log's `folder`, or go on with one that was begun.

    Args:
        name: what the file is called, without folders.
        size: its bytes.
        stamp: when it was changed, or whatever tells it from another of that name and size.
        kind: what is to be done with it.
        dogs, at: as for `voicelog add`.

    Raises:
        IncomingError: there is no such file, or the disk has no room for it.
        LogError: as the disk refuses.
    """
    bare = plain_text(re.split(r"[/\\]", name)[-1]).lstrip(".")[-LONGEST_NAME:].strip()
    told = f"{bare}\0{size}\0{stamp}\0{kind}".encode(errors="replace")
    try:
        new = IncomingFile(
            id=sha256(told).hexdigest()[:20], name=bare, size=size, kind=kind, dogs=dogs, at=at
        )
    except ValidationError as error:
        raise IncomingError(wrong_file_words(bare)) from error
    known = _read(folder, new.id)
    if known is not None and known.state not in ("done", "refused", "arriving"):
        return known
    have = received_bytes(folder, new) if known is not None and known.state == "arriving" else 0
    if shutil.disk_usage(folder).free < size - have + _ROOM:
        raise IncomingError(no_room_words(bare, size))
    if have == 0:
        shutil.rmtree(_place(folder, new.id), ignore_errors=True)
    with translate_errors(folder):
        _place(folder, new.id).mkdir(mode=0o700, parents=True, exist_ok=True)
    return _write(folder, new.model_copy(update={"number": _number(folder, known)}))


def begin_demo(folder: Path) -> IncomingFile:
    """Let the demo's first recording wait to be heard, of which nothing is kept but its page.
    `folder` is the log's."""
    path = demo_recordings()[0]
    known = _read(folder, _DEMO_ID)
    if known is not None and known.state in ("waiting", "hearing"):
        return known
    with translate_errors(folder):
        _place(folder, _DEMO_ID).mkdir(mode=0o700, parents=True, exist_ok=True)
    new = IncomingFile(
        id=_DEMO_ID,
        number=_number(folder, known),
        name=path.name,
        size=path.stat().st_size,
        kind="demo",
        state="waiting",
    )
    return _write(folder, new)


def demo_page(folder: Path) -> str:
    """The summary of the demo as part of a page; empty where it was not heard. `folder` is the
    log's."""
    try:
        return whole_bytes(_demo_page(folder)).decode()
    except OSError:
        return ""


def take_piece(folder: Path, name: str, at: int, piece: bytes) -> IncomingFile:
    """Take one piece of a file; on disk when this returns. With the last, the file waits to be
    heard.

    Args:
        name: the file's id.
        at: the place of the piece's first byte.

    Raises:
        IncomingError: no such file is being received.
        OffsetError: the piece does not follow on what is there.
        LogError: as the disk refuses.
    """
    one = _known(folder, name)
    if one.state != "arriving":
        return one
    part = _part(folder, one)
    have = received_bytes(folder, one)
    if at != have or have + len(piece) > one.size:
        raise OffsetError(one.name, have)
    with translate_errors(folder):
        append_bytes(part, piece)
    if have + len(piece) < one.size:
        return one
    with translate_errors(folder):
        part.rename(_sound(folder, one))
    return _write(folder, one.model_copy(update={"state": "waiting"}))


def received_bytes(folder: Path, one: IncomingFile) -> int:
    """How much of a file is there, of `one.size` bytes."""
    if one.state != "arriving":
        return one.size
    try:
        return size_of(_part(folder, one))
    except OSError:
        return 0


def incoming_files(folder: Path) -> list[IncomingFile]:
    """All of them, in the order in which they came to the log's `folder`."""
    found = (_read(folder, path.stem) for path in _root(folder).glob("*.json"))
    return sorted(filter(None, found), key=lambda one: (one.number, one.id))


def keep_anyway(folder: Path, name: str) -> IncomingFile:
    """Add a file though it sounds like one in the log. Raises IncomingError where that was not
    asked."""
    one = _known(folder, name)
    if one.state != "like another":
        raise IncomingError(not_waiting_words(one.name))
    return _write(folder, one.model_copy(update={"state": "waiting", "anyway": True, "tries": 0}))


def forget_incoming(folder: Path, name: str) -> IncomingFile:
    """Take a file off the list, and what is there of it off the disk; the log stays as it is.

    Raises:
        IncomingError: there is none of that id (`name`), or it is being heard.
    """
    one = _known(folder, name)
    if one.state == "hearing" and is_hearing(folder):
        raise IncomingError(not_waiting_words(one.name))
    shutil.rmtree(_place(folder, name), ignore_errors=True)
    _state(folder, name).unlink(missing_ok=True)
    return one


def is_hearing(folder: Path) -> bool:
    """Whether a program hears what came into the log's `folder`."""
    return is_locked(folder / _LOCK)


def hear_incoming(folder: Path) -> None:
    """Hear all that waits in the log's `folder`, one by one; nothing where another program does."""
    with file_lock(folder / _LOCK) as free:
        while free and (waiting := _next(folder)) is not None:
            _hear(folder, waiting)


# --- hearing ----------------------------------------------------------------------------


def _next(folder: Path) -> IncomingFile | None:
    """The first that waits; one that was being heard when its program was killed is one."""
    files = incoming_files(folder)
    return next((one for one in files if one.state in ("hearing", "waiting")), None)


def _hear(folder: Path, one: IncomingFile) -> None:
    if one.tries >= _MOST_TRIES:
        _write(folder, one.model_copy(update={"state": "refused", "told": GAVE_UP}))
        return
    begun = {"state": "hearing", "heard_s": 0.0, "tries": one.tries + 1}
    one = _write(folder, one.model_copy(update=begun))
    path = demo_recordings()[0] if one.kind == "demo" else _sound(folder, one)
    try:
        with open_log(folder) as log:
            told, key = _taken(log, one, path)
        end = {"state": "done", "told": told, "key": key}
    except SameRecordingError as error:
        known = error.known
        told = same_recording_words(error.how, known.file_name, known.started_at)
        end = {"state": "like another", "told": told}
    except (VoicelogError, NoPronunciationError) as error:
        end = {"state": "refused", "told": plain_text(str(error).replace(str(path), one.name))}
    except Exception as error:  # a mistake of the program: the next file is heard all the same
        traceback.print_exc()
        end = {"state": "refused", "told": inside_words(type(error).__name__)}
    if (end["state"] == "done" and one.kind != "demo") or one.kind == "card":
        path.unlink(missing_ok=True)
    _write(folder, one.model_copy(update=end))


def _taken(log: Log, one: IncomingFile, path: Path) -> tuple[str, str]:
    """Take a file into the log; what came of it, in words, and the key of its page."""
    if one.kind == "demo":
        options = replace(demo_options(), heard_so_far=_teller(log.folder, one))
        heard = read_file(options, path)
        shown = summaries_of(heard.derivation, options.settings)
        html = "\n".join(article(summary, f"s{number}") for number, summary in enumerate(shown))
        with write_bytes(_demo_page(log.folder)) as out:
            out.write(html.encode())
        return DEMO_HEARD, ""
    if one.kind == "card":
        return "\n".join(_card_lines(log, path)), ""
    if one.kind == "backup":
        done, settings = restore_log(log, path)
        left = left_out_words(done, path) if done.left_out else ""
        told = restored_words(merged_words(done), left, settings=settings)
        return _with_changes(told, SessionCatalog(log)), ""
    if is_bagit(path):
        done_words = merged_words(import_bundle(log, path))
        return _with_changes(done_words, SessionCatalog(log)), ""
    options = IntakeOptions(
        roster=named_dogs(log.roster(), one.dogs, strangers=False),
        settings=load_settings(None, log.folder, one.dogs),
        dog=one.dogs[0] if len(one.dogs) == 1 else None,
        typed=_is_typed(path),
        at=one.at,
        heard_so_far=_teller(log.folder, one),
    )
    added = add_file(log, path, options, anyway=one.anyway)
    catalog = SessionCatalog(log)
    told = _with_changes(added_words(added, at_page=True), catalog)
    return told, _key(log, catalog, path)


def _with_changes(told: str, catalog: SessionCatalog) -> str:
    """What was told, and which findings are others now in sessions that were there before."""
    return "\n".join((told, *changes_elsewhere(catalog.refresh_noting())))


def _card_lines(log: Log, path: Path) -> Iterator[str]:
    """What is found in a recording of the voice card."""
    roster = log.roster()
    lines = card_for(roster)
    reading = read_card_files(lines, [path], roster)
    yield from reading_lines(lines, reading)
    yield from graded_lines(reading, roster)


def _key(log: Log, catalog: SessionCatalog, path: Path) -> str:
    """Where what a file came to is seen: its first session, or the recording."""
    for kept in log.of_content(sha256_of(path)):
        if kept.id in catalog.asides():
            continue
        sessions = catalog.line(kept.id).sessions
        return sessions[0].id if sessions else kept.id
    return ""


def _teller(folder: Path, one: IncomingFile) -> Callable[[float, float | None], None]:
    """Writes down how far the file is heard, now and then."""
    last = monotonic()

    def tell(done_s: float, total_s: float | None) -> None:
        nonlocal last
        if monotonic() - last >= _TELL_S:
            last = monotonic()
            _write(folder, one.model_copy(update={"heard_s": done_s, "total_s": total_s}))

    return tell


def _is_typed(path: Path) -> bool:
    try:
        return path in input_files([path.parent], typed=True).typed
    except EmptyFolderError:
        return False


# --- on disk ----------------------------------------------------------------------------


def _number(folder: Path, known: IncomingFile | None) -> int:
    """The place in the order of a file: the one it has, or the next."""
    if known is not None:
        return known.number
    return max((one.number for one in incoming_files(folder)), default=0) + 1


def _demo_page(folder: Path) -> Path:
    return _place(folder, _DEMO_ID) / "summary.html"


def _root(folder: Path) -> Path:
    return work_folder(folder) / INCOMING_FOLDER


def _place(folder: Path, name: str) -> Path:
    return _root(folder) / name


def _part(folder: Path, one: IncomingFile) -> Path:
    return _place(folder, one.id) / "arriving.part"


def _sound(folder: Path, one: IncomingFile) -> Path:
    return _place(folder, one.id) / one.name


def _state(folder: Path, name: str) -> Path:
    return _root(folder) / f"{name}.json"


def _read(folder: Path, name: str) -> IncomingFile | None:
    return read_state(_state(folder, name), IncomingFile) if _ID.fullmatch(name) else None


def _known(folder: Path, name: str) -> IncomingFile:
    one = _read(folder, name)
    if one is None:
        raise IncomingError(wrong_file_words(""))
    return one


def _write(folder: Path, one: IncomingFile) -> IncomingFile:
    return write_state(folder, _state(folder, one.id), one)
