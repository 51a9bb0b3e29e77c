"""A recording heard in another process, here or on another machine: what is sent and comes back.

Hearing asks for nothing of the log, so it can be done anywhere where the same program has the same
models; what comes of it is committed where the log is. So a process that dies takes nothing along.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from voicelog import __version__
from voicelog.app.grammars import grammar_with
from voicelog.app.intake import RecognizedUtterance, SoundFile
from voicelog.app.recognizers import shared_recognizers
from voicelog.model import Roster, VoicelogError
from voicelog.recognition.listener_hashes import listener_hashes, program_hash
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.report.cluster_words import other_worker_words

__all__ = [
    "HeardSound",
    "HeardWith",
    "HearingOutcome",
    "HearingTask",
    "NotHeard",
    "hear_task",
    "hearing_identity",
]


@dataclass(frozen=True, slots=True)
class HeardWith:
    """All that what is heard in a sound depends on, beside the program and its models: names and
    cues that may be spoken, opt-in grammars, and which recognizers were asked for."""

    roster: Roster
    optional: tuple[str, ...] = ()
    listener: RecognizerChoice | None = None


@dataclass(frozen=True, slots=True)
class HearingTask:
    """One recording to be heard.

    path: the file, or only its name where `content` has its bytes.
    known_as: the recording's id, where that is not the hash of its bytes.
    called: what people know it by, where that is not the file's name.
    identity: what `hearing_identity` says where the task was made; None where it is done by the
        same installation.
    """

    path: Path
    heard_with: HeardWith
    content: bytes | None = None
    known_as: str | None = None
    called: str = ""
    identity: Mapping[str, str] | None = None

    @property
    def name(self) -> str:
        """What to call it."""
        return self.called or self.path.name


@dataclass(frozen=True, slots=True)
class HeardSound:
    """What was heard in it. It is a `Source` as the file would have been, without its sound.

    id: SHA-256 of the bytes that were heard.
    found: every utterance with its readings and verdict, in order.
    known: the fields of its Recording, the listeners with them.
    """

    id: str
    heard_with: HeardWith
    found: tuple[RecognizedUtterance, ...]
    known: Mapping[str, Any]
    note: str | None = None

    def heard(self) -> Iterator[RecognizedUtterance]:
        return iter(self.found)

    def facts(self) -> Mapping[str, Any]:
        return self.known


@dataclass(frozen=True, slots=True)
class NotHeard:
    """Why nothing was heard, in one sentence."""

    said: str


HearingOutcome = HeardSound | NotHeard

_hearing = threading.Lock()
"""A process has one set of recognizers, so its threads hear one recording after the other."""


def hear_task(task: HearingTask) -> HearingOutcome:
    """Hear a recording to its end, in whichever process. What a user can mend comes back as
    NotHeard; mistakes of the program are raised."""
    try:
        with _hearing:
            return _heard(task)
    except VoicelogError as error:  # not all of them can be taken apart and put together again
        return NotHeard(str(error))


def _heard(task: HearingTask) -> HearingOutcome:
    wanted = task.heard_with
    if task.identity is not None and hearing_identity(wanted) != task.identity:
        return NotHeard(other_worker_words(task.name))
    loaded = shared_recognizers(wanted.roster, wanted.optional, wanted.listener)
    sound = SoundFile(
        task.path,
        lambda blocks, name: loaded.recognize(blocks, task.known_as or name),
        content=task.content,
        recognizer_note=lambda: loaded.note,
    )
    found = tuple(sound.heard())
    known = {**sound.facts(), "listeners": loaded.recognizers.names}
    return HeardSound(sound.id, wanted, found, known, sound.note)


def hearing_identity(wanted: HeardWith) -> dict[str, str]:
    """What hears here: this program's version and hash, the grammar with a hash of its files and
    names, and each model and library that listens (`listener_hashes`), by name.

    Raises:
        VoicelogError: a grammar or a model that is asked for is damaged or not there.
    """
    grammar = grammar_with(wanted.roster, wanted.optional)
    program = f"{__version__} {program_hash()[:16]}"
    named = {"voicelog": program, "grammar": grammar.name}
    return named | listener_hashes(grammar.language, wanted.listener)
