"""Hold a second hearing of a recording against its events: what differs, and what to append.

Pure. The machines' view and the people's are kept apart: what is appended follows from the
old verdicts and the new ones alone; what people did says only what must not be touched, and
what was right.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from voicelog.app.intake import RecognizedUtterance
from voicelog.app.rehear.difference import Difference, UtteranceChange, UtteranceText
from voicelog.app.rehear.edit_targets import changed_edit_targets
from voicelog.app.rehear.outcomes import scored
from voicelog.app.rehear.utterance_match import common_s, matched
from voicelog.grammar.grammar import Grammar
from voicelog.model import Action, Entry, Event, Reading, Utterance, Verdict
from voicelog.session.entries import fold, undone_events
from voicelog.session.recording_builder import NOTE_PROBABILITY_THRESHOLD
from voicelog.store import StoredRecording

__all__ = ["REHEARD_JUDGE", "IsSilent", "compare", "touched"]

REHEARD_JUDGE = "heard anew 1"
"""The judge of what was not found again, or is heard as other utterances now."""
UNLIKE = 0.02
"""Verdicts whose confidence differs by less say the same: engines differ between machines."""

IsSilent = Callable[[Utterance], bool]
"""Whether no sound is left where an utterance was: nothing can be heard there."""


def compare(
    recording: StoredRecording,
    events: Sequence[Event],
    heard: Iterable[RecognizedUtterance],
    grammar: Grammar,
    silent: IsSilent = lambda _utterance: False,
) -> Difference:
    """`heard` today against `events`, which are in the order in which they were committed."""
    entries = fold(events, grammar.interpret)
    olds = _standing(events, entries)
    news = sorted(heard, key=lambda one: (one[0].start_s, one[0].end_s))
    comparison = _Comparison(recording.id, events)
    match = matched([old.utterance for old in olds], [new[0] for new in news])
    for place, other in match.same.items():
        comparison.same(olds[other], news[place])
    for group in match.groups:
        comparison.recut([olds[i] for i in group.old], [news[i] for i in group.new])
    for place in match.gone:
        comparison.gone(olds[place], silent)
    changes = comparison.changes
    if changes:
        world = [one for old in olds for one in old.stands]
        changes += changed_edit_targets(
            recording, events, world, comparison.world, touched(events), grammar
        )
    read = [entry for entry in entries if entry.by == "person"]
    before = {old.utterance.id: old.verdict for old in olds if old.verdict is not None}
    return Difference(
        recording=recording.id,
        roster=grammar.roster,
        changes=tuple(sorted(changes, key=_starts)),
        before=scored(read, before, grammar),
        after=scored(read, comparison.now, grammar),
    )


def touched(events: Sequence[Event]) -> frozenset[str]:
    """The utterances that a person has read, put in or acted on, and has not let go of.

    With them go the spoken edits that aim at one: heard otherwise, they would change it.
    """
    undone = undone_events(tuple(events))
    heard = {e.utterance for e in events if isinstance(e, Verdict)}
    found = {e.id for e in events if isinstance(e, Utterance) and e.id not in heard}
    causes = {e.id: e.cause for e in events if isinstance(e, Action) and e.cause is not None}
    for event in events:
        if event.id in undone:
            continue
        if isinstance(event, Reading) and event.by == "person":
            found.add(event.utterance)
        elif isinstance(event, Action) and event.by == "person" and event.action != "clock":
            found.add(causes.get(event.target, event.target))
    edits = (e for e in events if isinstance(e, Action) and e.id in causes and e.id not in undone)
    return frozenset(found.union(edit.cause or "" for edit in edits if edit.target in found))


# --- what stands ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _LoggedUtterance:
    """An utterance that stands in the log, what it says there, its newest verdict, and
    whether a person has a hand in it."""

    utterance: Utterance
    said: UtteranceText
    verdict: Verdict | None
    touched: bool

    @property
    def idle(self) -> bool:
        return self.verdict is None or _idle(self.verdict)

    @property
    def stands(self) -> list[RecognizedUtterance]:
        """It as the machines heard it; nothing where they did not."""
        return [] if self.verdict is None else [(self.utterance, (), self.verdict)]


def _standing(events: Sequence[Event], entries: Sequence[Entry]) -> list[_LoggedUtterance]:
    persons = touched(events)
    verdicts = _newest_verdicts(events)
    utterances = {event.id: event for event in events if isinstance(event, Utterance)}
    return [
        _LoggedUtterance(
            utterance=utterances[entry.id],
            said=UtteranceText(
                utterance=entry.id,
                start_s=entry.start_s,
                end_s=entry.end_s,
                status=entry.status,
                words=entry.reading,
            ),
            verdict=verdicts.get(entry.id),
            touched=entry.id in persons,
        )
        for entry in entries
    ]


def _newest_verdicts(events: Sequence[Event]) -> dict[str, Verdict]:
    return {event.utterance: event for event in events if isinstance(event, Verdict)}


# --- what comes -------------------------------------------------------------------------


class _Comparison:
    """What has come of it so far.

    `world` is what the machines will have heard once all is taken over, `now` today's
    verdict on each old utterance.
    """

    def __init__(self, recording: str, events: Sequence[Event]) -> None:
        self.changes: list[UtteranceChange] = []
        self.world: list[RecognizedUtterance] = []
        self.now: dict[str, Verdict] = {}
        self._recording = recording
        self._known = {event.id: event for event in events if isinstance(event, Utterance)}
        self._newest = _newest_verdicts(events)

    def same(self, old: _LoggedUtterance, new: RecognizedUtterance) -> None:
        """An utterance that was found again: at most another verdict on it."""
        self.now[old.utterance.id] = new[2]
        if old.verdict is not None and _says(old.verdict, new[2]):
            self.world += old.stands
            return
        anew = self._anew(old.utterance, new)
        self.world += old.stands if old.touched else [anew]
        self._change([old], [anew], stays=old.touched)

    def recut(self, olds: Sequence[_LoggedUtterance], news: Sequence[RecognizedUtterance]) -> None:
        """Sound that falls apart otherwise: new utterances in place of the old ones."""
        for old in olds:
            nearest = max(news, key=lambda new: common_s(old.utterance, new[0]))
            self.now[old.utterance.id] = nearest[2]
        anew = [self._anew(self._own(new[0]), new) for new in news]
        nothing = bool(olds) and all(old.idle for old in olds)
        nothing &= all(_idle(new[2]) for new in news)
        stays = any(old.touched for old in olds)
        if stays or nothing:
            self.world += [one for old in olds for one in old.stands]
        else:
            self.world += anew
        if not nothing:
            self._change(olds, anew, stays=stays, replaced=True)

    def gone(self, old: _LoggedUtterance, silent: IsSilent) -> None:
        """An utterance that was not found again: no speech is heard there today."""
        stays = old.touched or old.idle or silent(old.utterance)
        if stays:
            self.world += old.stands
            return
        nothing = self._void(old, ())
        self.world.append((old.utterance, (), nothing))
        self.changes.append(
            UtteranceChange(
                before=(old.said,),
                after=(old.said.model_copy(update={"status": "rejected", "words": ""}),),
                events=(nothing,),
            )
        )

    def _change(
        self,
        olds: Sequence[_LoggedUtterance],
        news: Sequence[RecognizedUtterance],
        *,
        stays: bool,
        replaced: bool = False,
    ) -> None:
        change = UtteranceChange(
            before=tuple(old.said for old in olds),
            after=tuple(
                UtteranceText(
                    utterance=utterance.id,
                    start_s=utterance.start_s,
                    end_s=utterance.end_s,
                    status=verdict.status,
                    words=verdict.words,
                )
                for utterance, _, verdict in news
            ),
            person=stays,
        )
        if not stays:
            events: list[Event] = []
            for utterance, readings, verdict in news:
                events += [utterance, *readings, verdict]
            if replaced:
                stand = tuple(utterance.id for utterance, _, _ in news)
                events += [self._void(old, stand) for old in olds]
            change = change.model_copy(update={"events": tuple(events)})
        if change.seen or change.events:
            self.changes.append(change)

    def _own(self, utterance: Utterance) -> Utterance:
        """A new utterance under an id that no other has."""
        own = utterance.model_copy(update={"recording": self._recording})
        if self._known.get(own.id, own) == own:
            return own
        return own.model_copy(update={"id": f"{own.id}-{round(own.end_s * 1000)}"})

    def _anew(self, utterance: Utterance, heard: RecognizedUtterance) -> RecognizedUtterance:
        """What was heard, as of `utterance`, under ids that follow from what stood before.

        A verdict that comes back after another was given is another event, or the log would
        take it for one that it has.
        """
        _, readings, verdict = heard
        newest = self._newest.get(utterance.id)
        before = newest.id if newest else ""
        own = tuple(
            reading.model_copy(
                update={"id": _named("r", reading.id, before), "utterance": utterance.id}
            )
            for reading in readings
        )
        name = _named("v", verdict.model_dump_json(), utterance.id, before)
        told = verdict.model_copy(update={"id": name, "utterance": utterance.id})
        return utterance, own, told

    def _void(self, old: _LoggedUtterance, stand: tuple[str, ...]) -> Verdict:
        before = old.verdict.id if old.verdict else ""
        return Verdict(
            id=_named("v", old.utterance.id, REHEARD_JUDGE, before, *stand),
            utterance=old.utterance.id,
            status="rejected",
            words="",
            confidence=0.0,
            judge=REHEARD_JUDGE,
            replaced_by=stand,
        )


def _idle(verdict: Verdict) -> bool:
    """Whether it says that no note was spoken, and surely enough to leave reps alone."""
    return verdict.status == "rejected" and verdict.confidence < NOTE_PROBABILITY_THRESHOLD


def _says(old: Verdict, new: Verdict) -> bool:
    """Whether two verdicts say the same, or as good as."""
    said, says = ((one.status, one.words, one.alternatives, one.stranger) for one in (old, new))
    return said == says and abs(old.confidence - new.confidence) < UNLIKE


def _starts(change: UtteranceChange) -> float:
    return min(said.start_s for said in (*change.before, *change.after))


def _named(kind: str, *parts: str) -> str:
    digest = hashlib.sha256("\0".join(parts).encode()).hexdigest()
    return f"{kind}-{digest[:16]}"
