"""What a reviewer can see of a log, and do to it. No web in here.

A change is one step: check that the entry is still as the person saw it, commit the events,
derive that recording anew and the dog's later sessions that rest on it, and say what came of it
in all of them.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime
from time import monotonic

from voicelog.app.commit import commit_change
from voicelog.app.grammars import grammar_of
from voicelog.app.recording_rows import program_stamp
from voicelog.app.review.edit_command import EditCommand, above_top
from voicelog.app.review.edit_history import EditRequest, history
from voicelog.app.review.errors import AboveTopOfCollarError, EditConflictError, NotFoundError
from voicelog.app.review.review_queue import offers
from voicelog.app.review.session_view import SessionView, SessionViews, guessed, heard_in
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import logged_dog
from voicelog.app.session_ids import session_id_now
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.completion import completions
from voicelog.grammar.faithful_offer import keeps_turns
from voicelog.grammar.fuzzy_match import fuzzy_matches
from voicelog.grammar.sound_alikes import sound_alike_readings
from voicelog.grammar.typed_note import near_typed, read_typed_note
from voicelog.model import Event, Utterance
from voicelog.report.changes import SeenSession, change_counts, changes
from voicelog.session.entries import fold
from voicelog.store import (
    CacheRow,
    ConcurrentChangeError,
    Log,
    SessionFilter,
    SetAsideError,
    StoredRecording,
)

__all__ = ["EditResult", "ReadingOptions", "ReviewService"]

QUIET_S = 2.0
"""How long after a change nothing is brought up to date in the background, s."""


@dataclass(frozen=True, slots=True)
class EditResult:
    """What came of a change."""

    key: str
    """The session to show now; another one where the change began or ended a session."""
    view: SessionView
    entry: str | None
    changed: tuple[str, ...]
    counts: tuple[str, str, str]
    """The same in three numbers, see `change_counts`."""


@dataclass(frozen=True, slots=True)
class ReadingOptions:
    """Readings to choose from; the first is taken by Enter alone only where it is `marked`."""

    readings: tuple[str, ...]
    marked: bool = False


class ReviewService:
    """One log on the desk. May be used from several threads."""

    def __init__(self, log: Log, now: Callable[[], datetime]) -> None:
        self.log = log
        self.session_catalog = SessionCatalog(log)
        self._views = SessionViews(log, self.session_catalog)
        self._now = now
        self._lock = threading.RLock()
        self._stop, self._woken = threading.Event(), threading.Event()
        self._waiting, self._changed_at = 0, -QUIET_S
        self.behind = 0
        """Recordings that wait to be derived anew, when last looked."""

    # --- seeing ----------------------------------------------------------------------

    def view(self, key: str) -> SessionView:
        """What a session, or a recording without any, is now.

        Raises:
            NotFoundError: there is none of that key, or it is set aside.
        """
        head = self._head(key)
        program, _, number = head.stamp.rpartition("/")
        if program != program_stamp():
            rows = self.log.derived_get(head.recording)
            self.bring_dogs([row.dog for row in rows if row.dog is not None])
            head = self._head(key)
        elif head.stale or number != str(self.log.event_seq(head.recording)):
            with self._before_others():
                self.session_catalog.revalidate(head.recording)
            head = self._head(key)
        if "aside" in head.counts:
            raise NotFoundError(str(SetAsideError(head.body, head.digest)))
        return self._views.see(head, self._kept(head.recording))

    def history(self, recording: str, entry: str) -> tuple[str, ...]:
        """All that happened to an entry, a line each."""
        lines = history(entry, self.log.events(recording))
        if not lines:
            raise NotFoundError(
                f"Found no entry {entry[:60]} in this recording, wanted one of it; go back to "
                "the session."
            )
        return lines

    def complete(self, key: str, entry: str | None, text: str) -> ReadingOptions:
        """Readings that a typed text may become; without text, those on offer for an entry.

        Words that are not understood are never turned into others: what lies near is offered,
        and a person chooses it or does not.
        """
        kept = self._kept(self._head(key).recording)
        grammar = grammar_of(kept)
        events = self.log.events(kept.id)
        entries = fold(events, grammar.interpret)
        at = next((one for one in entries if one.id == entry), None)
        if text.strip():
            spoken = {word for one in entries if one.phrases for word in one.reading.split()}
            likely = completions(grammar, text, like=at.reading if at else "", spoken=spoken)
            found = [one for one in likely if keeps_turns(text, one.words)]
            near = [one.words for one in found]
            read = read_typed_note(grammar, text)
            if read.sure:
                return ReadingOptions(tuple(dict.fromkeys([read.words, *near])), marked=True)
            if found:
                return ReadingOptions(tuple(near), marked=found[0].whole)
            lying = (one.words for one in fuzzy_matches(grammar, text[:200]))
            likest = (*read.offers, *near_typed(grammar, text, lying))
            return ReadingOptions(tuple(dict.fromkeys(likest)))
        if at is None:
            return ReadingOptions(())
        typed = kept.listeners == (TYPED,)
        alike = () if typed else sound_alike_readings(grammar, at.reading, kept.roster.top_level)
        guess = (at.reading,) if guessed(at, kept, grammar) else ()
        offered = offers(at, heard_in(events)[at.id], grammar.interpret)
        others = (*offered, *alike)
        if typed:
            others = near_typed(grammar, at.heard, others)
        return ReadingOptions(tuple(dict.fromkeys((*guess, *others))))

    def bring_dogs(self, dogs: Sequence[str]) -> None:
        """Bring up to date all of these dogs, named in whatever case, before it is shown: what
        another program left of them may be otherwise, and this one may not be able to read it."""
        named = [logged_dog(self.session_catalog, dog) or dog for dog in dogs]
        if self.session_catalog.stale(named):
            with self._before_others():
                self.session_catalog.refresh(named)

    def left_by_another_program(self) -> frozenset[str]:
        """The recordings that wait to be derived again only since the program is another one."""
        behind = frozenset(self.session_catalog.stale())
        return behind.difference(self.session_catalog.stale(())) if behind else behind

    def _head(self, key: str) -> CacheRow:
        head = self.log.derived_row(key)
        if head is None:
            with self._before_others():
                now = session_id_now(self.session_catalog, key)
            head = None if now is None else self.log.derived_row(now)
        if head is None:
            raise NotFoundError(
                "There is no such session in the log, or none any more since a change; choose "
                "another."
            )
        return head

    def _kept(self, recording: str) -> StoredRecording:
        kept = self.log.recording(recording)
        if kept is None:
            raise NotFoundError("Found no such recording in the log; choose another.")
        return kept

    # --- doing -----------------------------------------------------------------------

    def do(self, key: str, deed: EditRequest, who: str) -> EditResult:
        """Do it, or nothing at all.

        Raises:
            EditConflictError: what it is about is no longer as the person saw it.
            NotANoteError: the words are not of the grammar.
            AboveTopOfCollarError: they name a level above the top of the dog's collar.
            NotFoundError, BadRequestError: there is no such thing to do it to.
        """
        with self._before_others():
            before = self.view(key)
            dogs = self._dogs_of(before)
            if self.session_catalog.refresh(dogs):
                before = self.view(key)
            key = before.head.key
            command = EditCommand(before, deed, who, self._now())
            events = command.events()
            self._refuse_above_top(before, deed)
            try:
                commit_change(self.log, before.kept.id, events, seen=before.seq)
            except ConcurrentChangeError as error:
                raise EditConflictError("The recording", "has newer entries") from error
            with self.session_catalog.noting() as noted:
                self.session_catalog.bring(before.kept.id)
                self.session_catalog.refresh(dogs)
            about = _about(before, deed, events)
            now_key = self._key_after(key, before, about)
            after = self.view(now_key)
            self._changed_at = monotonic()
        self._woken.set()
        was, now = _seen(before), _seen(after)
        elsewhere = [one for one in noted if one.session not in (key, now_key)]
        left = len(after.to_check) + len(after.questions)
        return EditResult(
            key=now_key,
            view=after,
            entry=about,
            changed=changes(was, now, elsewhere),
            counts=change_counts(was, now, left, elsewhere),
        )

    def _refuse_above_top(self, view: SessionView, deed: EditRequest) -> None:
        """What is typed, and what is confirmed as it stands, has to be chosen where it names a
        level above the top."""
        words = deed.words or ""
        if deed.do == "confirm" and deed.entry is not None and deed.entry in view.entries:
            words = view.entries[deed.entry].entry.reading
        if deed.do not in ("confirm", "read", "add") or not words or deed.above_top:
            return
        found = above_top(view, self.log.roster(), words)
        if found is not None:
            raise AboveTopOfCollarError(words, *found)

    def _dogs_of(self, view: SessionView) -> list[str]:
        """The dogs that a change of the recording of `view` is about."""
        known = (view.session.dog.name if view.session else "", *view.dogs)
        return list(dict.fromkeys(filter(None, known)))

    def _key_after(self, key: str, before: SessionView, entry: str | None) -> str:
        """The same session where it is still there, else the one that the entry is in now."""
        recording = before.kept.id
        line = self.session_catalog.line(recording)
        ids = [session.id for session in line.sessions]
        if key in ids or (key == recording and not ids):
            return key
        now_in = next((one.session for one in line.entries if one.id == entry), None)
        if now_in is not None:
            return now_in
        start_s = before.session.start_s if before.session else 0.0
        nearest = sorted(line.sessions, key=lambda one: abs(one.start_s - start_s))
        return nearest[0].id if nearest else recording

    # --- in the background -----------------------------------------------------------

    def refresh_stale(self, rest_s: float = 0.0) -> int:
        """Bring up to date what is behind, resting between recordings; how many were."""
        behind = self.session_catalog.stale()
        for done, recording in enumerate(behind, start=1):
            while self._busy() and not self._stop.wait(0.05):
                pass  # a person comes first
            with self._lock:
                self.session_catalog.revalidate(recording)
            self.behind = len(behind) - done
            if self._stop.wait(rest_s):
                break
        return len(behind)

    def _busy(self) -> bool:
        return self._waiting > 0 or monotonic() - self._changed_at < QUIET_S

    def refresh_loop(self, every_s: float = 2.0, rest_s: float = 0.05) -> None:
        """Catch up whenever something was added to the log, until `close`."""
        self.warm_up()
        seen = -1
        while not self._stop.is_set():
            newest = self.log.event_seq()
            if newest != seen or self._woken.is_set():
                self._woken.clear()
                seen = newest
                self.refresh_stale(rest_s)
            self._woken.wait(every_s)

    def warm_up(self) -> None:
        """Do once what is slow the first time, before somebody waits for it: the newest session is
        the one that is opened first, as a rule."""
        newest = self.session_catalog.headings(SessionFilter(), limit=1).rows
        if newest:
            with suppress(NotFoundError):  # set aside, or gone by now
                self.view(newest[0].key)
            grammar = grammar_of(self._kept(newest[0].recording))
            sound_alike_readings(grammar, "level one")
            fuzzy_matches(grammar, "levle one")

    def close(self) -> None:
        """Let `refresh_loop` come to its end."""
        self._stop.set()
        self._woken.set()

    @contextmanager
    def _before_others(self) -> Iterator[None]:
        """Alone at the log, and next in line for that."""
        self._waiting += 1
        try:
            with self._lock:
                yield
        finally:
            self._waiting -= 1

    def today(self) -> date:
        """The day it is where the page is read."""
        return self._now().date()


def _seen(view: SessionView) -> SeenSession | None:
    if view.page is None or view.summary is None:
        return None
    return SeenSession(view.page.session, view.summary, view.page.findings)


def _about(before: SessionView, deed: EditRequest, events: Sequence[Event]) -> str | None:
    if deed.do in ("undo", "redo"):
        act = before.ledger.to_undo(deed.entry) if deed.do == "undo" else before.ledger.redo
        return act.entry if act else None
    added = next((event.id for event in events if isinstance(event, Utterance)), None)
    return deed.entry or added
