"""The two verbs: hear again, and take over."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator

import numpy as np

from voicelog.app.commit import commit_change
from voicelog.app.grammars import grammar_with
from voicelog.app.heard_elsewhere import HeardWith, HearingOutcome, HearingTask, NotHeard
from voicelog.app.intake import HeardSoFar, Recognize, RecognizedUtterance, told_blocks
from voicelog.app.own_speech import lower_overlapping_verdict, own_speech_in
from voicelog.app.recognizers import shared_recognizers
from voicelog.app.rehear.compare import compare, touched
from voicelog.app.rehear.current_roster import current_roster
from voicelog.app.rehear.difference import Difference, SoundGoneError
from voicelog.app.typed_file import TYPED, TypedFile
from voicelog.audio.files import BLOCK, RATE, AudioReader
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar, optional_grammars_of
from voicelog.model import Action, Utterance, VoicelogError
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.store import Log, StoredRecording

__all__ = ["accept_rehearing", "rehear", "rehear_task", "rehear_today"]


def rehear_today(
    log: Log,
    recording: StoredRecording,
    listener: RecognizerChoice | None = None,
    heard_so_far: HeardSoFar = lambda done_s, total_s: None,
    outcome: HearingOutcome | None = None,
) -> Difference:
    """Hear a recording of `log` again with the recognizers and the vocabulary of today, as
    `rehear` does. What the program said itself is no note. `heard_so_far` is told of each second.
    `outcome` is what another process heard of it (`rehear_task`), None where it is heard here.

    Raises as `rehear` and `load_recognizers` do; VoicelogError where the other could not hear it.
    """
    wanted = _heard_with(log, recording, listener)
    spoken = own_speech_in(log.events(recording.id))
    if isinstance(outcome, NotHeard):
        raise VoicelogError(outcome.said)

    def hear(blocks: Iterable[Samples], name: str) -> Iterator[RecognizedUtterance]:
        told = told_blocks(blocks, heard_so_far, recording.duration_s)
        if outcome is not None and outcome.heard_with == wanted:
            deque(told, maxlen=0)  # where it is silent is seen here
            found: Iterable[RecognizedUtterance] = outcome.heard()
        else:
            loaded = shared_recognizers(wanted.roster, wanted.optional, listener)
            found = loaded.recognize(told, name)
        return (lower_overlapping_verdict(heard, spoken) for heard in found)

    return rehear(log, recording, hear, grammar_with(wanted.roster, wanted.optional))


def rehear_task(
    log: Log, recording: StoredRecording, listener: RecognizerChoice | None = None
) -> HearingTask | None:
    """What another process hears of a recording of `log`, for `rehear_today`; None where there is
    nothing to hear."""
    path = log.sound_of(recording)
    if path is None or recording.listeners == (TYPED,):
        return None
    wanted = _heard_with(log, recording, listener)
    return HearingTask(path, wanted, known_as=recording.id, called=recording.file_name)


def _heard_with(
    log: Log, recording: StoredRecording, listener: RecognizerChoice | None
) -> HeardWith:
    roster, optional = current_roster(log, recording), optional_grammars_of(recording.grammar)
    return HeardWith(roster, optional, listener)


def rehear(log: Log, recording: StoredRecording, hear: Recognize, grammar: Grammar) -> Difference:
    """Hear a recording of `log` again and compare; nothing is changed.

    A typed recording is read again, without `hear`. `grammar` is what words are understood
    by, with the names and cues that may be spoken (see `current_roster`). Raises SoundGoneError
    where there is nothing to hear, and the errors of voicelog.audio.
    """
    path = log.sound_of(recording)
    if path is None:
        raise SoundGoneError(recording)
    events = log.events(recording.id)
    if recording.listeners == (TYPED,):
        # A line is gone only where it was deleted, so what it said is left alone.
        lines = TypedFile(path, grammar, known_as=recording.id).heard()
        return compare(recording, events, lines, grammar, lambda _utterance: True)
    silences = _SilentIntervals()
    with AudioReader(path) as reader:
        heard = tuple(hear(silences.noting(reader), recording.id))
    return compare(recording, events, heard, grammar, silences.cover)


def accept_rehearing(log: Log, difference: Difference) -> int:
    """Append what is new; how many of the changes that a reader sees were taken.

    The words that were not known when it was recorded are known from now on. What a person
    has come to read since the hearing stays as that person read it. Raises ConcurrentChangeError
    where somebody else keeps adding to the recording while this is tried.
    """
    seq = log.event_seq(difference.recording)
    events = log.events(difference.recording)
    persons = touched(events)
    free = [c for c in difference.changes if c.events and c.utterances.isdisjoint(persons)]
    heard = [e for change in free for e in change.events if not isinstance(e, Action)]
    # Edits come last: they may aim at what is new, or at what has just been left out.
    there = {event.id for event in (*events, *heard)}
    edits = [e for change in free for e in change.events if isinstance(e, Action)]
    new = [*heard, *(edit for edit in edits if edit.target in there)]
    if new:
        commit_change(log, difference.recording, new, seen=seq, roster=difference.roster)
    return sum(change.seen for change in free)


class _SilentIntervals:
    """Where a stream is digital silence: sound that was deleted. Blocks are BLOCK samples."""

    def __init__(self) -> None:
        self._silent: list[bool] = []

    def noting(self, blocks: Iterable[Samples]) -> Iterator[Samples]:
        """The same blocks; each is noted as it passes."""
        for block in blocks:
            self._silent.append(not np.any(block))
            yield block

    def cover(self, utterance: Utterance) -> bool:
        """Whether most of an utterance's time is silent, or past the end of the sound."""
        first, last = (round(t * RATE / BLOCK) for t in (utterance.start_s, utterance.end_s))
        there = self._silent[first : last + 1]
        return sum(there) * 2 >= len(there)
