"""Walk through entries in order: sessions begin and end, the rest goes to their books.

The walk takes one entry at a time and looks only back, so walking a prefix and going on is
the same as walking it all.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from voicelog.model import Dog, Entry, Phrase, Roster, Session
from voicelog.model.phrases import (
    ConditionPhrase,
    EditPhrase,
    EquipmentPhrase,
    HandlerPhrase,
    RepPhrase,
    SessionControlPhrase,
    SessionDogPhrase,
    SessionPhrase,
    StrikeRepPhrase,
)
from voicelog.session.entries import is_strike
from voicelog.session.other_dogs import dogs_named_in
from voicelog.session.utterance_builder import add_rep_phrases, correct_rep
from voicelog.session.session_builder import SessionBuilder

__all__ = ["build_sessions"]

NOTE_PROBABILITY_THRESHOLD = 0.05
"""How likely a rejected sound must be a note for the rep that it fell in to be incomplete."""
MEMO_S = 120.0  # a memo whose end was not heard ends by itself


def build_sessions(
    entries: Iterable[Entry],
    roster: Roster,
    *,
    dog: str | None = None,
    temperature_unit: str = "C",
    include_doubtful: bool = True,
    apply_corrections: bool = True,
) -> tuple[Session, ...]:
    """Sessions in the order in which they began.

    `dog` is worked while no session was started by voice. Without `include_doubtful`, doubtful
    entries are passed over; without `apply_corrections`, strikes and corrections are, as if
    nothing had been taken back.
    """
    walker = _RecordingBuilder(roster, dog, temperature_unit, include_doubtful, apply_corrections)
    said: dict[str, Entry] = {}
    for entry in entries:
        walker.step(entry)
        said[entry.id] = entry
    return tuple(book.session(said, roster) for book in walker.books)


class _RecordingBuilder:
    def __init__(
        self,
        roster: Roster,
        dog: str | None,
        temperature_unit: str,
        include_doubtful: bool,
        apply_corrections: bool,
    ) -> None:
        self.roster, self.dog, self.temperature_unit = roster, dog, temperature_unit
        self.include_doubtful, self.apply_corrections = include_doubtful, apply_corrections
        self.books: list[SessionBuilder] = []
        self.book: SessionBuilder | None = None
        self.ended = False
        self.paused = False
        self.memo_since: float | None = None

    def step(self, entry: Entry) -> None:
        doubtful = entry.status == "doubtful"
        said = entry.status == "accepted" or (doubtful and self.include_doubtful)
        if not said or not entry.phrases:
            if self.book is not None:
                self.belongs(self.book, entry)
                missed = (
                    entry.status == "rejected" and entry.confidence >= NOTE_PROBABILITY_THRESHOLD
                )
                if missed and self.book.open is not None:
                    self.book.open.doubtful = True
                words = entry.reading or entry.heard
                calls = dogs_named_in(words, self.roster) if missed or not entry.phrases else []
                if calls:
                    self.book.calls[entry.id] = calls
            return
        if entry.voided and self.apply_corrections:
            self.struck(entry, entry.phrases)
            return
        phrases = entry.phrases
        if entry.target == entry.id and self.apply_corrections:
            last = max((i for i, phrase in enumerate(phrases) if is_strike(phrase)), default=-1)
            self.struck(entry, phrases[:last])
            phrases = phrases[last + 1 :]
        breath = _UtteranceParts()
        for phrase in phrases:
            if isinstance(phrase, SessionPhrase):
                self.take(entry, breath)
                breath = _UtteranceParts()
                self.session(entry, phrase)
            elif self.silent(entry, phrase):
                continue
            elif isinstance(phrase, RepPhrase):
                (breath.told if breath.mended is None else breath.mended).append(phrase)
            elif isinstance(phrase, EquipmentPhrase) and breath.told:
                breath.after.append(phrase)
            elif isinstance(phrase, EditPhrase) and phrase.do == "correct":
                breath.mended = breath.mended or []
            else:
                self.other(entry, phrase)
        self.take(entry, breath)
        if self.book is not None:
            self.belongs(self.book, entry)

    def take(self, entry: Entry, breath: _UtteranceParts) -> None:
        self.add_reps(entry, breath.told)
        if breath.mended is not None:
            self.correct(entry, breath.mended)
        for phrase in breath.after:
            self.other(entry, phrase)

    def struck(self, entry: Entry, phrases: Sequence[Phrase]) -> None:
        """Struck words did nothing; only the whole rep that they told stays, void."""
        memo_since = self.memo_since
        told = [p for p in phrases if not self.silent(entry, p) and isinstance(p, RepPhrase)]
        self.memo_since = memo_since  # a struck "memo" begins none
        book = self.book_of(entry) if told else self.book
        if book is not None:
            self.belongs(book, entry)
            _keep_struck_reps(book, entry, told)

    def belongs(self, book: SessionBuilder, entry: Entry) -> None:
        if not self.ended or entry.id in book.placed:
            book.entries[entry.id] = None
            book.end_s = max(book.end_s, entry.end_s)

    def silent(self, entry: Entry, phrase: Phrase) -> bool:
        """Whether the log is paused, or this is part of a memo; a memo begins and ends here."""
        if self.memo_since is not None and entry.start_s - self.memo_since > MEMO_S:
            self.memo_since = None
        edit = phrase.do if isinstance(phrase, EditPhrase) else None
        if edit == "end memo":
            self.memo_since = None
        elif self.memo_since is None and not self.paused:
            if edit == "memo":
                self.memo_since = entry.start_s
            return False
        return self.paused or self.memo_since is not None

    # --- sessions ------------------------------------------------------------------------

    def session(self, entry: Entry, phrase: SessionPhrase) -> None:
        do = phrase.do
        self.memo_since = None
        if do == "pause":
            self.paused = True
        elif do == "resume":
            self.paused = False
        if self.paused and do not in ("start", "next", "end"):
            return
        match phrase:
            case SessionDogPhrase(do="start" | "next"):
                self.start(entry, phrase.dog)
            case SessionDogPhrase():
                if (book := self.current(entry)) is not None:
                    book.dog = self.profile(phrase.dog)
                    book.placed[entry.id] = None
            case HandlerPhrase():
                if (book := self.current(entry)) is not None:
                    book.set_conditions(entry, phrase)
            case SessionControlPhrase(do="end") if self.book is not None:
                _close_open_rep(self.book)
                self.book.placed[entry.id] = None
                self.book.end_s = max(self.book.end_s, entry.end_s)
                self.book.entries[entry.id] = None
                self.ended, self.paused = True, False
            case SessionControlPhrase():
                pass

    def start(self, entry: Entry, dog: str) -> None:
        previous = self.book
        unstarted = previous is not None and previous.dog.name == "" and not previous.drafts
        book = self.new_book(entry, self.profile(dog))
        if previous is not None:
            _close_open_rep(previous)
            if entry.id in previous.placed:  # one breath may end one dog's work and begin another's
                self.belongs(previous, entry)
            if unstarted:
                # What was said before any dog was named is said of the first one.
                self.books.remove(previous)
                book.start_s = previous.start_s
                book.conditions, book.marks = previous.conditions, previous.marks
                book.entries, book.placed = previous.entries, previous.placed
                book.collar_on = previous.collar_on
            else:
                book.carry_over(previous.conditions, entry.start_s)
        book.placed[entry.id] = None
        self.ended, self.paused = False, False

    def new_book(self, entry: Entry, dog: Dog) -> SessionBuilder:
        begun_here = sum(book.id.startswith(f"{entry.id}.s") for book in self.books)
        self.book = SessionBuilder(
            id=f"{entry.id}.s{begun_here + 1}" if begun_here else f"{entry.id}.s",
            recording=entry.recording,
            dog=dog,
            start_s=entry.start_s,
            end_s=entry.end_s,
            temperature_unit=self.temperature_unit,
        )
        self.books.append(self.book)
        return self.book

    def profile(self, name: str) -> Dog:
        return self.roster.dog(name) or Dog(name=name)

    def current(self, entry: Entry) -> SessionBuilder | None:
        """The session that an entry falls in; the first word of any begins one."""
        if self.ended:
            return None
        if self.book is None:
            return self.new_book(entry, self.profile(self.dog) if self.dog else NO_DOG)
        return self.book

    # --- what is said in a session -------------------------------------------------------

    def add_reps(self, entry: Entry, told: list[RepPhrase]) -> None:
        book = self.book_of(entry) if told else None
        if book is not None:
            add_rep_phrases(book, entry, told)
            if self.book is not None and book is not self.book:
                book.entries[entry.id] = None
                if (calls := book.calls.get(entry.id)) is not None:
                    self.book.calls[entry.id] = calls  # its neighbours were not moved with it

    def book_of(self, entry: Entry) -> SessionBuilder | None:
        """The session of the dog that a person moved the entry to, else the current one."""
        book = self.current(entry)
        if entry.dog is None or (book is not None and book.dog.name == entry.dog):
            return book
        return next((b for b in reversed(self.books) if b.dog.name == entry.dog), book)

    def other(self, entry: Entry, phrase: Phrase) -> None:
        book = self.current(entry)
        if book is None:
            return
        if isinstance(phrase, EquipmentPhrase | ConditionPhrase):
            book.set_conditions(entry, phrase)
            return
        book.placed[entry.id] = None
        match phrase:
            case EditPhrase(do="flag") if entry.target is not None:
                book.flagged[entry.target] = None
            case EditPhrase(do="strike") if entry.status == "doubtful":
                _doubt_rep(book)
            case StrikeRepPhrase() if entry.status == "doubtful":
                _doubt_rep(book, phrase.rep)
            case StrikeRepPhrase() if self.apply_corrections:
                for draft in book.drafts:
                    draft.void = draft.void or draft.id == entry.target
            case _:
                pass

    def correct(self, entry: Entry, mended: list[RepPhrase]) -> None:
        """ "correction ..." speaks of the rep it was aimed at, with the rest of its breath."""
        book = self.current(entry)
        if book is None:
            return
        if entry.status == "doubtful":
            _doubt_rep(book)
            return
        draft = next((d for d in book.drafts if d.id == entry.target), None)
        if draft is None:
            return
        book.placed[entry.id] = None
        if self.apply_corrections:
            correct_rep(book, draft, entry, mended)


@dataclass(slots=True)
class _UtteranceParts:
    """One breath sorted: what it tells, what it corrects, what it does to the collar then."""

    told: list[RepPhrase] = field(default_factory=list)
    mended: list[RepPhrase] | None = None
    after: list[EquipmentPhrase] = field(default_factory=list)


NO_DOG = Dog(name="")
"""Worked before any dog was named."""


def _close_open_rep(book: SessionBuilder) -> None:
    """A rep that the session's end cut short has no outcome: it was not said."""
    if book.open is not None:
        book.open, book.closed = None, book.open


def _doubt_rep(book: SessionBuilder, number: int | None = None) -> None:
    """A doubtful strike or correction may be about this rep, else the last: it is doubtful."""
    named = [draft for draft in book.drafts if draft.number == number]
    for draft in named or book.drafts[-1:]:
        draft.doubtful = True


def _keep_struck_reps(book: SessionBuilder, entry: Entry, told: list[RepPhrase]) -> None:
    """A struck entry that told a whole rep leaves it in the list, void.

    Numbers given out stay given: a later "strike rep 4" means the same rep as before.
    """
    if book.open is not None:
        return
    trial = SessionBuilder(
        id=book.id,
        recording=book.recording,
        dog=book.dog,
        start_s=entry.start_s,
        end_s=entry.end_s,
        temperature_unit=book.temperature_unit,
        conditions=list(book.conditions),
        collar_on=book.collar_on,
        current_level=book.current_level,
    )
    add_rep_phrases(trial, entry, told)
    if trial.open is not None:
        return
    for draft in trial.drafts:
        draft.number, draft.void = len(book.drafts) + 1, True
        book.drafts.append(draft)
