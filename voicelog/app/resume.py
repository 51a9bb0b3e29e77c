"""Complete a live recording that was cut short: hear its sound again, keep what is missing.

What was committed stands: its utterances come again under the same ids and are passed over,
also where the sound lost its last second and one of them would now end earlier.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from voicelog.app.commit import RecordingCommit
from voicelog.app.intake import Intake, RecognitionSetup, Recognize, RecognizedUtterance
from voicelog.app.live_files import finish_live_recording, is_from_phone, live_file, live_folder
from voicelog.app.own_speech import EARPIECE, lower_overlapping_verdict, own_speech_in
from voicelog.app.recognizers import load_recognizers
from voicelog.audio.errors import EmptyFileError, NoSamplesError, NotRecordingError
from voicelog.audio.files import blocks
from voicelog.audio.recorder import read_pcm
from voicelog.grammar.grammar import optional_grammars_of
from voicelog.model import Event, FieldEvent, Utterance
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.safety.settings import stored_settings
from voicelog.store import Log, SetAsideError, StoredRecording
from voicelog.store.set_aside import reason

__all__ = [
    "ResumedRecording",
    "interrupted_recordings",
    "orphan_files",
    "resume_all",
    "resume_recording",
    "resume_stored",
]

RecognizeAgain = Callable[[StoredRecording], tuple[RecognitionSetup, Recognize]]
"""A recording -> how it was set up, and who hears its sound anew."""


@dataclass(frozen=True, slots=True)
class ResumedRecording:
    """What came of one: notes found again and new ones; None where it held no sound."""

    recording: StoredRecording
    again: int = 0
    new: int = 0
    sound: bool = True


def interrupted_recordings(log: Log) -> tuple[StoredRecording, ...]:
    """Live recordings that were not finished and whose sound is there, oldest first. One that a
    phone still sends is completed when it is whole, and is none of them. `log` is only read."""
    return tuple(
        kept
        for kept in log.each_recording()
        if not kept.complete
        and live_file(log, kept.id).is_file()
        and not is_from_phone(log, kept.id)
    )


def orphan_files(log: Log) -> tuple[Path, ...]:
    """Growing files of which the log knows nothing; `voicelog add` takes them.

    One without a sample, of a program killed as it began, is removed.
    """
    known = {kept.id for kept in log.each_recording()}
    found = []
    for path in sorted(live_folder(log).glob("*.wav")):
        if path.stem in known:
            continue
        if len(read_pcm(path)):
            found.append(path)
        else:
            path.unlink()
    return tuple(found)


def resume_all(
    log: Log, listener: RecognizerChoice | None = None
) -> Iterator[ResumedRecording | SetAsideError]:
    """Complete every recording that was cut short, oldest first, with the recognizers of today.

    One whose settings this program does not know stays as it is: that is its result.
    """
    for kept in interrupted_recordings(log):
        yield resume_stored(log, kept, listener)


def resume_stored(
    log: Log, kept: StoredRecording, listener: RecognizerChoice | None = None
) -> ResumedRecording | SetAsideError:
    """Complete one recording of the log that was cut short (`kept`), with the recognizers of today.
    One whose settings this program does not know stays as it is: that is its result."""
    try:
        return resume_recording(log, kept, partial(_recognize_again, listener))
    except ValidationError as error:
        return SetAsideError(kept.file_name, reason(error))


def _recognize_again(
    listener: RecognizerChoice | None, kept: StoredRecording
) -> tuple[RecognitionSetup, Recognize]:
    loaded = load_recognizers(kept.roster, optional_grammars_of(kept.grammar), listener)
    return loaded.setup(stored_settings(kept.settings), kept.dog), loaded.recognize


def resume_recording(
    log: Log, kept: StoredRecording, hear_again: RecognizeAgain
) -> ResumedRecording:
    """Hear a cut recording to its last sample and take it in. Run again, it does the rest."""
    path = live_file(log, kept.id)
    if log.recording(kept.id) != kept:  # somebody else was quicker
        return ResumedRecording(kept)
    before = log.events(kept.id)
    known = {event.id for event in before if isinstance(event, Utterance)}
    setup, hear = hear_again(kept)
    commit = RecordingCommit(log, kept.id)
    again = new = 0
    try:
        for batch in Intake(_ResumedSource(kept.id, path, before, hear), setup):
            if batch[0].id in known:
                again += 1
            else:
                commit.append(batch)
                new += 1
        finish_live_recording(commit, path)
    except (EmptyFileError, NoSamplesError, NotRecordingError):
        path.unlink()
        return ResumedRecording(kept, sound=False)
    return ResumedRecording(kept, again, new)


class _ResumedSource:
    """The sound of a cut recording as a source, with what the program said held against it."""

    note: str | None = None

    def __init__(
        self,
        recording: str,
        path: Path,
        before: tuple[Event, ...],
        hear: Recognize,
    ) -> None:
        self.id = recording
        self._path, self._hear = path, hear
        earpiece = any(isinstance(e, FieldEvent) and e.detail == EARPIECE for e in before)
        self._spoken = () if earpiece else own_speech_in(before)

    def heard(self) -> Iterator[RecognizedUtterance]:
        for heard in self._hear(blocks(self._path), self.id):
            yield lower_overlapping_verdict(heard, self._spoken)

    def facts(self) -> Mapping[str, Any]:
        return {}
