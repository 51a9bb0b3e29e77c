"""A log's sessions in order of time, derived when stale and cached.

What was derived from a recording is good while nothing that it depends on has changed: its
own events, the program, the grammar, and the same dogs' earlier sessions. The cache can be
thrown away at any time (`rebuild`); only the events are the truth.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from pydantic import TypeAdapter

from voicelog import __version__
from voicelog.analysis.sitting import Sitting, decode, encode, in_order, sitting_of
from voicelog.grammar.grammar import Grammar
from voicelog.log import Derived, Kept, Log
from voicelog.model import FORMAT, Finding, Record, RecordingLine, Session, Severity
from voicelog.pipeline import Derivation, derive

__all__ = ["Diary", "Page", "began", "previous_of"]

GrammarOf = Callable[[Kept], Grammar]
_WORST: tuple[Severity, ...] = ("stop", "caution", "remark")


class Page(Record):
    """One session of the log, with its findings and when it began."""

    session: Session
    findings: tuple[Finding, ...]
    began: datetime | None


_LINE = TypeAdapter(RecordingLine)
_PAGE = TypeAdapter(Page)


def began(recording: Kept, at_s: float = 0.0) -> datetime | None:
    """The wall clock at a moment of a recording, where it is known."""
    return recording.started_at + timedelta(seconds=at_s) if recording.started_at else None


class Diary:
    """The sessions of one log."""

    def __init__(self, log: Log, grammar_of: GrammarOf) -> None:
        self._log = log
        self._grammar_of = grammar_of

    def recordings(self) -> tuple[Kept, ...]:
        """Every complete recording, oldest first; one without a clock by when it was added."""
        kept = (recording for recording in self._log.recordings() if recording.complete)
        return tuple(sorted(kept, key=_moment))

    def refresh(self) -> int:
        """Derive anew what is stale; how many recordings that was."""
        chains: dict[str, str] = {}
        earlier: set[str] = set()
        rebuilt = 0
        for recording in self.recordings():
            rebuilt += self._bring_up_to_date(recording, chains, earlier)
            earlier.add(recording.id)
        return rebuilt

    def rebuild(self) -> int:
        """Throw the cache away and derive everything; how many recordings that was."""
        self._log.derived_clear()
        return self.refresh()

    def line(self, recording: Kept) -> RecordingLine:
        """A recording's part of the contract, as last derived."""
        rows = self._log.derived_get(recording.id)
        head = next(row for row in rows if row.key == recording.id)
        return _LINE.validate_json(head.body)

    def pages(self, dog: str) -> tuple[Page, ...]:
        """A dog's sessions, oldest first."""
        rows = self._log.derived_of_dog(dog)
        pages = [_PAGE.validate_json(row.body) for row in rows]
        return tuple(sorted(pages, key=lambda page: (_naive(page.began), page.session.start_s)))

    def sittings(self, dog: str) -> tuple[Sitting, ...]:
        """A dog's sessions in short, oldest first; much quicker than its pages."""
        return in_order(map(decode, self._log.digests(dog)))

    def recent(self, last: int) -> dict[str, tuple[Sitting, ...]]:
        """About the last so many sessions in short of every dog, oldest first."""
        found: dict[str, list[Sitting]] = {}
        for sitting in map(decode, self._log.digests(last=last)):
            found.setdefault(sitting.dog, []).append(sitting)
        return {dog: in_order(some) for dog, some in found.items()}

    def dogs(self) -> tuple[str, ...]:
        """The dogs that have sessions, by first appearance."""
        found: dict[str, None] = {}
        for recording in self.recordings():
            for row in self._log.derived_get(recording.id):
                if row.dog is not None:
                    found[row.dog] = None
        return tuple(found)

    def _bring_up_to_date(self, recording: Kept, chains: dict[str, str], earlier: set[str]) -> bool:
        """`chains` are the stamps of each dog's last session, `earlier` the recordings before."""
        grammar = self._grammar_of(recording)
        base = _digest(
            __version__,
            str(FORMAT),
            grammar.name,
            str(self._log.event_seq(recording.id)),
            recording.model_dump_json(),
        )
        rows = self._log.derived_get(recording.id)
        head = next((row for row in rows if row.key == recording.id), None)
        pages = [row for row in rows if row.key != recording.id]
        stale = head is None or head.stamp != base
        stale |= any(row.stamp != _digest(base, chains.get(row.dog or "", "")) for row in pages)
        if stale:
            pages = self._derive(recording, grammar, base, chains, earlier)
        for row in pages:
            chains[row.dog or ""] = row.stamp
        return stale

    def _derive(
        self,
        recording: Kept,
        grammar: Grammar,
        base: str,
        chains: dict[str, str],
        earlier: set[str],
    ) -> list[Derived]:
        events = self._log.events(recording.id)
        first = derive(recording, events, grammar)
        dogs = {session.dog.name for session in first.sessions}
        past = {dog: self._before(earlier, dog) for dog in dogs}
        whole = derive(recording, events, grammar, past) if any(past.values()) else first
        head = Derived(
            key=recording.id,
            recording=recording.id,
            stamp=base,
            body=whole.line.model_dump_json(by_alias=True),
        )
        pages = [
            _page_row(recording, whole, session, _digest(base, chains.get(session.dog.name, "")))
            for session in whole.sessions
        ]
        self._log.derived_put(recording.id, [head, *pages])
        return pages

    def _before(self, earlier: set[str], dog: str) -> list[tuple[datetime | None, Session]]:
        pages = self.pages(dog)
        return [(p.began, p.session) for p in pages if p.session.recording in earlier]


def _page_row(recording: Kept, whole: Derivation, session: Session, stamp: str) -> Derived:
    start = began(recording, session.start_s)
    found = tuple(f for f in whole.line.findings if f.session == session.id)
    entries = [entry for entry in whole.line.entries if entry.session == session.id]
    standing = {finding.severity for finding in found if not finding.struck}
    return Derived(
        key=session.id,
        recording=recording.id,
        stamp=stamp,
        dog=session.dog.name,
        day=start.date() if start else None,
        worst=next((severity for severity in _WORST if severity in standing), None),
        counts={
            "reps": sum(not rep.void for rep in session.reps),
            "look": sum(entry.status == "doubtful" for entry in entries),
        },
        digest=encode(sitting_of(session, found, start)),
        body=Page(session=session, findings=found, began=start).model_dump_json(by_alias=True),
    )


def _moment(recording: Kept) -> tuple[datetime, str]:
    return _naive(recording.started_at or recording.added_at), recording.id


def _naive(moment: datetime | None) -> datetime:
    return moment.replace(tzinfo=None) if moment else datetime.min


def _digest(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:24]


def previous_of(pages: Sequence[Page], session: str) -> Session | None:
    """The dog's session before the one of that id, or None."""
    ids = [page.session.id for page in pages]
    place = ids.index(session)
    return pages[place - 1].session if place > 0 else None
