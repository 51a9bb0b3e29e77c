"""A session as a reviewer sees it: every entry with its words, its state and what is offered."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan
from voicelog.analysis.session_digest import by_date, decode
from voicelog.app.dog_history import DogHistory
from voicelog.app.grammars import grammar_of
from voicelog.app.matters import dog_matters
from voicelog.app.open_log import settings_in_force
from voicelog.app.review.edit_history import EditHistory, ledger, version
from voicelog.app.review.rep_questions import AskedQuestion, questions
from voicelog.app.review.review_queue import ReviewItem, offers, review_queue
from voicelog.app.session_catalog import LoggedSession, SessionCatalog
from voicelog.app.session_entries import entries_of
from voicelog.app.summary import summary_of
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.harm_words import HarmKind, harm_told
from voicelog.grammar.typed_note import near_typed, read_typed_note
from voicelog.model import (
    Dog,
    Entry,
    EntryOutput,
    Event,
    RecordingOutput,
    Session,
)
from voicelog.model.phrases import EditPhrase
from voicelog.model.review import CheckCause
from voicelog.recognition.recognizer_names import kind_of
from voicelog.report.state_words import NOT_UNDERSTOOD, StateWord, entry_word
from voicelog.report.summary import Summary
from voicelog.report.unread_lines import unread_line_words
from voicelog.safety.settings_file import SettingsError
from voicelog.session.entries import undone_events
from voicelog.session.variants import with_other_dog_doubt
from voicelog.store import CacheRow, Log, StoredRecording

__all__ = ["EntryRow", "SessionView", "SessionViews", "guessed", "heard_in"]


_HARM_RANKS: Mapping[HarmKind | None, int] = {
    "pain or stress": 1,
    "biting or growling": 1,
    "skin": 2,
    "press": 3,
    "ignored": 4,
    None: 8,
}
"""How soon a typed line comes that was not understood: one that may tell of harm among what weighs,
and before all that waits for another evening."""


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One entry as the lane shows it."""

    entry: Entry
    word: StateWord
    placed: bool
    reps: tuple[int, ...]
    offers: tuple[str, ...]
    check: ReviewItem | None
    version: str
    edits: int
    """How many things people did to it."""
    guessed: bool
    """Whether its reading is not what was typed, but what lies near."""
    corrects: int | None = None
    """The number of the rep that it corrects, or answers a question about."""
    as_typed: bool = False
    """Whether it was typed, not understood, and nobody has read it."""

    @property
    def said(self) -> str:
        """What it is shown as: its reading, but what was typed where the reading is a guess or it
        was not understood."""
        typed = self.guessed or self.as_typed
        return self.entry.heard if typed else self.entry.reading or self.entry.heard

    @property
    def is_unread(self) -> bool:
        """Whether it is a typed line that was not understood, and in no count."""
        return self.as_typed and self.word == NOT_UNDERSTOOD

    @property
    def may_tell_of_harm(self) -> bool:
        """Whether it is in no count, and may tell of harm to the dog."""
        return self.is_unread and harm_told(self.entry.heard) is not None

    @property
    def rank(self) -> int:
        """How soon it comes of what waits for a person, the smaller the sooner."""
        return _HARM_RANKS[harm_told(self.entry.heard)] if self.check is None else self.check.rank

    @property
    def why(self) -> str:
        """Why it waits, in words; "" where nothing is to be said of it."""
        if self.check is not None:
            return self.check.why
        return unread_line_words(self.entry.heard) if self.is_unread else ""


@dataclass(frozen=True)
class SessionView:
    """A session, or a recording in which none was heard, as it stands."""

    head: CacheRow
    kept: StoredRecording
    page: LoggedSession | None
    line: RecordingOutput
    summary: Summary | None
    rows: tuple[EntryRow, ...]
    to_check: tuple[ReviewItem, ...]
    questions: tuple[AskedQuestion, ...]
    ledger: EditHistory
    seq: int
    events: tuple[Event, ...]
    dogs: tuple[str, ...]
    """Dogs that the recording has sessions of."""

    @property
    def session(self) -> Session | None:
        return self.page.session if self.page else None

    @cached_property
    def entries(self) -> Mapping[str, EntryRow]:
        """The rows by the id of their entry."""
        return {row.entry.id: row for row in self.rows}

    @cached_property
    def waiting(self) -> tuple[EntryRow, ...]:
        """The entries that wait for a person, what weighs most first: those to check, and typed
        lines that were not understood."""
        checked = [self.entries[item.entry] for item in self.to_check]
        unread = [row for row in self.rows if row.is_unread]
        return tuple(sorted((*checked, *unread), key=lambda row: (row.rank, row.entry.start_s)))


class SessionViews:
    """The sessions that were looked at last, with all that their views rest on.

    A view that nothing has changed is the same object again, and so is a row of it: what a change
    made different is told by that. May be used from several threads.
    """

    MOST = 4
    """Views that are kept."""

    def __init__(self, log: Log, session_catalog: SessionCatalog) -> None:
        self._log, self._catalog = log, session_catalog
        self._lock, self._making = threading.Lock(), threading.Lock()
        self._known: OrderedDict[str, tuple[tuple[object, ...], SessionView]] = OrderedDict()
        self._plans: dict[str, tuple[tuple[object, ...], Plan]] = {}

    def see(self, head: CacheRow, kept: StoredRecording) -> SessionView:
        """The session of a row, or the recording where it is of one, as it stands."""
        page = self._catalog.page_of(head)
        own: Sequence[OpenMatter] = ()
        planned: Plan | None = None
        if page is not None:
            today = self._log.now().date()
            own = dog_matters(self._catalog, page.session.dog.name, today)
            planned = self._plan(page.session.dog.name, own, today)
        before = self._catalog.before(head)
        seq = self._log.event_seq(kept.id)
        rests_on = (seq, head, kept, own, before, planned)
        known = self._known_view(head.key)
        if known is None or known[0] != rests_on:
            with self._making:  # who asks for what another is making waits for it
                known = self._known_view(head.key)
                if known is None or known[0] != rests_on:
                    rows = {} if known is None else known[1].entries
                    of = (head, kept, page, before)
                    known = rests_on, _see(self._log, self._catalog, of, own, planned, seq, rows)
                    self._keep(head.key, known)
        return known[1]

    def _plan(self, dog: str, own: Sequence[OpenMatter], today: date) -> Plan | None:
        """The plan of a dog, the same object where all that it rests on is as it was; None where
        the settings cannot be read, so that the session can be seen all the same."""
        try:
            settings = settings_in_force(self._log)
        except SettingsError:
            return None
        digests, profile = self._log.digests(dog), self._log.roster().dog(dog)
        rests_on = (digests, profile, settings, own, today)
        known = self._plans.get(dog)
        if known is None or known[0] != rests_on:
            past = by_date(map(decode, digests))
            of = profile or Dog(name=dog, transmitter=past[-1].transmitter)
            made = DogHistory(past, of, settings.for_dog(of.name), own, today).plan
            known = rests_on, made
            if len(self._plans) >= self.MOST:
                self._plans = {}
            self._plans[dog] = known
        return known[1]

    def _known_view(self, key: str) -> tuple[tuple[object, ...], SessionView] | None:
        with self._lock:
            return self._known.get(key)

    def _keep(self, key: str, known: tuple[tuple[object, ...], SessionView]) -> None:
        with self._lock:
            self._known[key] = known
            self._known.move_to_end(key)
            while len(self._known) > self.MOST:
                self._known.popitem(last=False)


def _see(
    log: Log,
    session_catalog: SessionCatalog,
    of: tuple[CacheRow, StoredRecording, LoggedSession | None, LoggedSession | None],
    own: Sequence[OpenMatter],
    planned: Plan | None,
    seq: int,
    rows: Mapping[str, EntryRow],
) -> SessionView:
    """A view made anew, with those of the `rows` that are as they were."""
    head, kept, page, before = of
    events = session_catalog.events(kept.id, seq)
    grammar = grammar_of(kept)
    line = session_catalog.line(kept.id)
    session = page.session if page else None
    belonging = {one.id: one for one in entries_of(line, session.id if session else None)}
    folded = session_catalog.memo(kept).folded(events, grammar)
    entries = [entry for entry in folded if entry.id in belonging]
    if session is not None:
        entries = list(with_other_dog_doubt(entries, (session,)))
    found = review_queue(
        entries,
        page.findings if page else (),
        grammar.interpret,
        session,
        cause=_usual_cause(kept.listeners),
    )
    return SessionView(
        head=head,
        kept=kept,
        page=page,
        line=line,
        summary=None
        if page is None
        else summary_of(kept, line, page, before, own, planned, "page"),
        rows=_rows(entries, belonging, events, session, found, kept, rows),
        to_check=found,
        questions=()
        if session is None
        else questions(session, grammar, typed=kept.listeners == (TYPED,)),
        ledger=ledger(events),
        seq=seq,
        events=events,
        dogs=tuple(dict.fromkeys(one.dog for one in line.sessions if one.dog)),
    )


def _usual_cause(listeners: tuple[str, ...]) -> CheckCause:
    """Why what these heard, or read, is to check where nothing else is wrong with it."""
    if listeners == (TYPED,):
        return "typed"
    return "heard" if any(kind_of(one) == "careful" for one in listeners) else "heard quickly"


def guessed(entry: Entry, kept: StoredRecording, grammar: Grammar) -> bool:
    """Whether an entry's reading lies near what was typed, and nobody has chosen it yet. `kept` is
    its recording, and `grammar` that of it."""
    unread = entry.status == "doubtful" and entry.by == "listener"
    return unread and kept.listeners == (TYPED,) and not read_typed_note(grammar, entry.heard).sure


def heard_in(events: Sequence[Event]) -> dict[str, list[str]]:
    """What each listener or person took an utterance to say, in order, but for what was undone: a
    slip that was taken back is nothing that was heard. `events` are those of a recording."""
    undone = undone_events(tuple(events))
    heard: dict[str, list[str]] = {event.id: [] for event in events if event.event == "utterance"}
    for event in events:
        if event.event == "reading" and event.utterance in heard and event.id not in undone:
            heard[event.utterance].append(event.words)
    return heard


def _rows(
    entries: Sequence[Entry],
    lines: Mapping[str, EntryOutput],
    events: Sequence[Event],
    session: Session | None,
    found: Sequence[ReviewItem],
    kept: StoredRecording,
    known: Mapping[str, EntryRow],
) -> tuple[EntryRow, ...]:
    grammar = grammar_of(kept)
    heard = heard_in(events)
    check_of = {item.entry: item for item in found}
    number_of = {rep.id: rep.number for rep in session.reps} if session else {}
    reps: dict[str, list[int]] = {}
    for rep in session.reps if session else ():
        for entry in rep.entries:
            reps.setdefault(entry, []).append(rep.number)
    edits: dict[str, int] = {}
    for event in events:
        if event.event in ("reading", "action") and event.by == "person":
            about = event.utterance if event.event == "reading" else event.target
            edits[about] = edits.get(about, 0) + 1
    typed = kept.listeners == (TYPED,)
    guesses = {one.id for one in entries if typed and guessed(one, kept, grammar)}

    def on_offer(entry: Entry) -> tuple[str, ...]:
        if entry.status == "accepted":
            return ()
        guess = (entry.reading,) if entry.id in guesses else ()
        others = offers(entry, heard[entry.id], grammar.interpret)
        return (*guess, *(near_typed(grammar, entry.heard, others) if typed else others))

    in_rep = {entry: tuple(numbers) for entry, numbers in reps.items()}

    def row(entry: Entry) -> EntryRow:
        name, was = entry.id, known.get(entry.id)
        same = was is not None and (was.entry is entry or was.entry == entry)
        placed, in_reps, offered = lines[name].placed, in_rep.get(name, ()), on_offer(entry)
        check, edited, is_guess = check_of.get(name), edits.get(name, 0), name in guesses
        corrected = number_of.get(entry.target or "") if _is_correction(entry) else None
        if (
            was is not None
            and same
            and was.placed == placed
            and was.reps == in_reps
            and was.offers == offered
            and (was.check is check or was.check == check)
            and was.edits == edited
            and was.corrects == corrected
            and was.guessed == is_guess
        ):
            return was
        return EntryRow(
            entry=was.entry if was is not None and same else entry,
            word=entry_word(entry),
            placed=placed,
            reps=in_reps,
            offers=offered,
            check=check,
            version=was.version if was is not None and same else version(entry),
            edits=edited,
            guessed=is_guess,
            corrects=corrected,
            as_typed=typed and entry.status == "rejected" and entry.by == "listener",
        )

    return tuple(map(row, entries))


def _is_correction(entry: Entry) -> bool:
    return any(isinstance(one, EditPhrase) and one.do == "correct" for one in entry.phrases)
