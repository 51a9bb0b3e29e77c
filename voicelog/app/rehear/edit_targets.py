"""Where spoken edits aim once other words are heard around them.

"strike that" was settled when it was committed, on the notes heard until then. Where those
are heard otherwise today, it aims at what it would aim at had they been heard so at once:
that is how the same recording, added today, would come out. What a person has a hand in
stays.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any

from voicelog.app.intake import Intake, RecognitionSetup, RecognizedUtterance
from voicelog.app.rehear.difference import UtteranceChange, UtteranceText
from voicelog.grammar.grammar import Grammar
from voicelog.model import Action, Event
from voicelog.safety.settings import Settings
from voicelog.session.entries import undone_events
from voicelog.store import StoredRecording

__all__ = ["changed_edit_targets"]


def changed_edit_targets(
    recording: StoredRecording,
    events: Sequence[Event],
    before: Sequence[RecognizedUtterance],
    after: Sequence[RecognizedUtterance],
    persons: Collection[str],
    grammar: Grammar,
) -> tuple[UtteranceChange, ...]:
    """A change for each spoken edit of `after` that aims elsewhere than it did in `before`.

    `persons` are the utterances that may not be touched, as edit or as aim.
    """
    then, now = (_aims(recording, world, grammar) for world in (before, after))
    undone = undone_events(tuple(events))
    kept = {e.cause: e for e in events if isinstance(e, Action) and e.cause and e.id not in undone}
    said = {one.utterance: one for one in (_said(heard) for heard in (*before, *after))}
    changes: list[UtteranceChange] = []
    for cause in dict.fromkeys((*then, *now)):
        old, new = then.get(cause), now.get(cause)
        concerned = {cause, *(action.target for action in (old, new) if action is not None)}
        if _place(old) == _place(new) or not concerned.isdisjoint(persons):
            continue
        event = _event(new, kept.get(cause))
        if event is not None:
            changes.append(
                UtteranceChange(
                    before=_with_aim(said[cause], old, said),
                    after=_with_aim(said[cause], new, said),
                    events=(event,),
                )
            )
    return tuple(changes)


def _aims(
    recording: StoredRecording, heard: Sequence[RecognizedUtterance], grammar: Grammar
) -> dict[str, Action]:
    """What each spoken edit aims at, had all this been heard as it came in."""
    setup = RecognitionSetup(grammar=grammar, settings=Settings(), dog=recording.dog)
    actions = (event for batch in Intake(_Heard(heard), setup) for event in batch)
    return {e.cause: e for e in actions if isinstance(e, Action) and e.cause is not None}


class _Heard:
    """What was heard, as a source."""

    note: str | None = None
    id = ""

    def __init__(self, heard: Sequence[RecognizedUtterance]) -> None:
        self._heard = sorted(heard, key=lambda one: (one[0].start_s, one[0].end_s, one[0].id))

    def heard(self) -> Iterator[RecognizedUtterance]:
        return iter(self._heard)

    def facts(self) -> Mapping[str, Any]:
        return {}


def _event(new: Action | None, kept: Action | None) -> Action | None:
    """What to append so that `new` holds in place of `kept`."""
    if new is None:
        return None if kept is None else _undo(kept)
    if _place(new) == _place(kept):
        return None
    chained = f"{new.id} {kept.id if kept else ''}"
    return new.model_copy(update={"id": f"a-{hashlib.sha256(chained.encode()).hexdigest()[:16]}"})


def _undo(kept: Action) -> Action:
    name = hashlib.sha256(f"undo {kept.id}".encode()).hexdigest()[:16]
    return Action(id=f"a-{name}", action="undo", target=kept.id, by="listener")


def _place(action: Action | None) -> tuple[str, str, str | None] | None:
    return None if action is None else (action.action, action.target, action.value)


def _said(heard: RecognizedUtterance) -> UtteranceText:
    utterance, _, verdict = heard
    return UtteranceText(
        utterance=utterance.id,
        start_s=utterance.start_s,
        end_s=utterance.end_s,
        status=verdict.status,
        words=verdict.words,
    )


def _with_aim(
    edit: UtteranceText, action: Action | None, said: Mapping[str, UtteranceText]
) -> tuple[UtteranceText, ...]:
    return (edit,) if action is None else (edit, said[action.target])
