"""A deed becomes events, once it is known that all is still as the person saw it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import cached_property

from voicelog.app.grammars import grammar_of
from voicelog.app.review.edit_history import EditRequest, new_id, step_ids
from voicelog.app.review.errors import (
    BadRequestError,
    EditConflictError,
    NotANoteError,
    NotFoundError,
    StrangeNameError,
)
from voicelog.app.review.rep_questions import answer_to, is_not_known
from voicelog.app.review.session_view import SessionView, guessed
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.typed_names import unknown_name
from voicelog.grammar.typed_note import read_typed_note, unread_words
from voicelog.model import PLAUSIBLE_YEARS, Action, Entry, Event, Reading, Roster, Utterance
from voicelog.model.phrases import RepPhrase, SessionDogPhrase, named_level
from voicelog.report.incoming_words import begun_later_words
from voicelog.report.summary_rows import other_dog_words
from voicelog.report.words import at_clock, clean, clock
from voicelog.session.entries import fold, undone_events
from voicelog.session.spoken_edits import aim_at_rep, follows_unread, resolve_spoken_edit

__all__ = ["EditCommand", "above_top"]

ADDED_S = 1.0
"""How long an entry is that was not heard but put in by hand, s."""
LONGEST_S = 30.0
"""How long one may be whose end was given; longer is no breath but a slip, s."""


def above_top(view: SessionView, roster: Roster, words: str) -> tuple[str, int, int] | None:
    """The dog, the level and the top where `words` name a level above the top of the collar in the
    session of `view`; None where they do not. The top is the recording's, or that of `roster`
    where that is higher: it may have been put right since."""
    if view.session is None:
        return None
    dog = view.session.dog
    today = roster.dog(dog.name) or dog
    tops = [one.transmitter.top for one in (dog, today) if one.transmitter.top is not None]
    grammar = grammar_of(view.kept)
    phrases = grammar.interpret(read_typed_note(grammar, words).words) or ()
    level = max((named_level(one) or 0 for one in phrases), default=0)
    if len(tops) < 2 or level <= max(tops):
        return None
    return dog.name, level, max(tops)


class EditCommand:
    """One deed on its way to events."""

    def __init__(self, view: SessionView, deed: EditRequest, who: str, now: datetime) -> None:
        self.view, self.deed, self.who, self.now = view, deed, who, now
        self.grammar = grammar_of(view.kept)

    def events(self) -> list[Event]:
        """What to commit. Raises a ReviewError where it cannot be done."""
        match self.deed.do:
            case "confirm":
                return self.confirm()
            case "read":
                return self.read()
            case "void":
                return [self.action("void", self.entry.id)]
            case "restore":
                return self.restore()
            case "move":
                return self.move()
            case "add":
                return self.add()
            case "answer":
                return self.answer()
            case "clock":
                return self.clock()
            case "dog":
                return self.other_dog()
            case "undo" | "redo":
                return self.step()

    @cached_property
    def entry(self) -> Entry:
        """The entry that the deed is about, as the person saw it."""
        row = self.view.entries.get(self.deed.entry or "")
        if row is None:
            raise NotFoundError(
                "This entry is not in the session any more; to see those that are, open the "
                "session again."
            )
        if row.version != self.deed.version:
            entry = row.entry
            by = f" ({clean(entry.who)})" if entry.who else ""
            now = "is void" if entry.voided else f"reads '{clean(entry.reading)}'{by}"
            raise EditConflictError(f"The entry{at_clock(entry.start_s, entry.end_s)}", now)
        return row.entry

    def confirm(self) -> list[Event]:
        entry = self.entry
        if not entry.phrases or guessed(entry, self.view.kept, self.grammar):
            raise self.not_a_note(entry.heard if entry.phrases else entry.reading)
        session = self.view.session
        if session is not None and (whose := other_dog_words(session, entry.id)):
            raise BadRequestError(
                f"This is {whose}, and has to be about one dog; say which (Other dog on the "
                "page, --to in the terminal), or retype or void what was misheard."
            )
        done = self.action("confirm", entry.id, entry.reading)
        return [done, *self.aim(entry, entry.reading)]

    def read(self) -> list[Event]:
        words = self.note()
        return [self.reading(self.entry.id, words), *self.aim(self.entry, words)]

    def restore(self) -> list[Event]:
        """Take back the newest void that a person put on the entry."""
        if not self.entry.voided:
            raise BadRequestError("This entry is not void, so there is nothing to restore.")
        done = self.view.events
        gone = undone_events(done)
        void = next(
            (
                event
                for event in reversed(done)
                if isinstance(event, Action)
                and event.action == "void"
                and event.target == self.entry.id
                and event.cause is None
                and event.id not in gone
            ),
            None,
        )
        if void is None:
            raise BadRequestError(
                "A spoken 'strike that' made this entry void; to take that back, void the entry "
                "that says it."
            )
        return [self.action("undo", void.id)]

    def move(self) -> list[Event]:
        dog = self.deed.dog or ""
        if dog not in self.view.dogs:
            have = ", ".join(self.view.dogs) or "none"
            raise NotFoundError(
                f"There is no session of '{clean(dog)}' in this recording; choose a dog that has "
                f"one ({have}), or set the dog of the whole session (--to without --entry in the "
                "terminal)."
            )
        return [self.action("move", self.entry.id, dog)]

    def add(self) -> list[Event]:
        words, at_s = self.note(), self.deed.at_s
        length = self.view.kept.duration_s
        if at_s is None or (length and at_s > length):
            raise BadRequestError(
                f"The new entry has no time within the recording, which goes from 0:00 "
                f"to {clock(length)}; type it as minutes:seconds."
            )
        name = new_id("p")
        recording = self.view.kept.id
        until_s = self.deed.until_s
        end_s = until_s if until_s is not None and until_s > at_s else at_s + ADDED_S
        end_s = min(end_s, at_s + LONGEST_S)
        if self.view.kept.listeners == (TYPED,) and not length:
            end_s = at_s  # typed without times, as all other notes of it
        added = Utterance(id=name, recording=recording, start_s=at_s, end_s=end_s)
        entry = Entry(id=name, start_s=at_s, end_s=end_s)
        return [added, self.reading(name, words, f"{name}.r"), *self.aim(entry, words)]

    def answer(self) -> list[Event]:
        """A question about a rep is answered: an entry is read anew, or the rep is corrected."""
        session = self.view.session
        asked = next((q for q in self.view.questions if q.question.id == self.deed.rep), None)
        if session is None or asked is None:
            raise NotFoundError(
                "This question about the rep is not open any more; to see those that are, open the "
                "session "
                "again."
            )
        if asked.version != self.deed.version:
            raise EditConflictError(f"Rep {asked.rep}", "was corrected")
        if is_not_known(asked, self.deed.words or ""):
            rep = asked.question.id
            return [self.action("amend", rep.rpartition(".")[0], rep)]
        words = self.note()
        told = [one for one in self.grammar.interpret(words) or () if isinstance(one, RepPhrase)]
        if len(told) < len(self.grammar.interpret(words) or ()):
            raise NotANoteError(clean(words), asked.answers)
        entries = {row.entry.id: row.entry for row in self.view.rows}
        done = answer_to(asked, told, session, entries, self.grammar)
        if done.entry is not None:
            if not done.words:
                return [self.action("void", done.entry)]
            return [self.reading(done.entry, done.words)]
        name, at_s = new_id("p"), session.end_s
        aimed = aim_at_rep(Entry(id=name, start_s=at_s, end_s=at_s), asked.question.id)
        added = Utterance(id=name, recording=self.view.kept.id, start_s=at_s, end_s=at_s)
        return [added, self.reading(name, done.words, f"{name}.r"), *([aimed] if aimed else [])]

    def clock(self) -> list[Event]:
        started = self.view.line.started_at
        self.unchanged(started.isoformat() if started else "", "The start")
        try:
            moment = datetime.fromisoformat(self.deed.moment or "")
        except ValueError as error:
            raise BadRequestError(
                f"'{clean(self.deed.moment or '')}' is no date and time for the start; "
                "choose them again."
            ) from error
        if moment.year not in PLAUSIBLE_YEARS:
            raise BadRequestError(
                f"Found the year {moment.year} for the start, "
                f"wanted one from {PLAUSIBLE_YEARS[0]} to "
                f"{PLAUSIBLE_YEARS[-1]}; correct it."
            )
        if moment.astimezone() > self.now.astimezone():
            raise BadRequestError(begun_later_words(moment))
        if not self.view.rows:
            raise BadRequestError("There is no entry in this recording, so its start is of no use.")
        if moment.tzinfo is None and started is not None and started.tzinfo is not None:
            moment = moment.replace(tzinfo=started.tzinfo)
        return [self.action("clock", self.view.rows[0].entry.id, moment.isoformat())]

    def other_dog(self) -> list[Event]:
        """The whole session is another dog's: mend what began it, or say "wrong dog"."""
        session, dog = self.view.session, self.deed.dog or ""
        if session is None:
            raise BadRequestError(
                "There is no session here; add 'start session' and the dog first."
            )
        self.unchanged(session.dog.name, "The session's dog")
        known = [one.name for one in self.view.kept.roster.dogs]
        if dog not in known:
            raise NotFoundError(
                f"'{clean(dog)}' could not be named when this was recorded, only "
                f"{', '.join(known) or 'no dog'}; put the dog on the roster and hear the recording "
                "again with 'voicelog rehear'."
            )
        begun_by = next(
            (row.entry for row in self.view.rows if session.id.startswith(f"{row.entry.id}.s")),
            None,
        )
        at_s = begun_by.end_s if begun_by else session.start_s
        if begun_by is not None:
            said = [
                replace(phrase, dog=dog)
                if isinstance(phrase, SessionDogPhrase) and phrase.dog == session.dog.name
                else phrase
                for phrase in begun_by.phrases
            ]
            if tuple(said) != begun_by.phrases:
                words = self.grammar.speak(said)
                return [self.reading(begun_by.id, words)]
        name = new_id("p")
        words = self.grammar.verbalize(f"wrong dog {dog}")
        if self.grammar.interpret(words) is None:
            raise NotANoteError(words)
        return [
            Utterance(id=name, recording=self.view.kept.id, start_s=at_s, end_s=at_s),
            self.reading(name, words, f"{name}.r"),
        ]

    def step(self) -> list[Event]:
        do = self.deed.do
        ledger = self.view.ledger
        act = ledger.to_undo(self.deed.entry) if do == "undo" else ledger.redo
        if act is None and self.deed.entry is not None:
            raise BadRequestError("Nothing of this entry was corrected, so nothing is undone.")
        if act is None:
            raise BadRequestError(f"Nothing is left to {do} in this recording.")
        if act.id != self.deed.version:
            raise EditConflictError(f"What is to {do}", f"is: {act.told}")
        aims = (*act.also, act.id)
        names = step_ids("a", len(aims))
        undone = (self.action("undo", target) for target in aims)
        return [
            one.model_copy(update={"id": name}) for one, name in zip(undone, names, strict=True)
        ]

    # --- parts of events -------------------------------------------------------------

    def note(self) -> str:
        """The words typed, as the grammar writes them."""
        typed = self.deed.words or ""
        read = read_typed_note(self.grammar, typed)
        if not read.sure:
            strange = unknown_name(self.grammar, read.words)
            if strange is not None:
                roster = self.view.kept.roster
                have = [*(dog.name for dog in roster.dogs), *roster.handlers]
                raise StrangeNameError(clean(typed)[:80], clean(strange)[:40], have)
            raise self.not_a_note(typed)
        return read.words

    def not_a_note(self, typed: str) -> NotANoteError:
        """That a text is none, with the parts of it that are not and what it may be."""
        parts = [clean(one)[:80] for one in unread_words(self.grammar, typed)]
        return NotANoteError(clean(typed)[:80], read_typed_note(self.grammar, typed).offers, parts)

    def reading(self, utterance: str, words: str, name: str | None = None) -> Reading:
        return Reading(
            id=name or new_id("r"),
            utterance=utterance,
            words=words,
            by="person",
            who=self.who,
            grammar=self.grammar.name,
            at=self.now,
        )

    def action(self, do: str, target: str, value: str | None = None) -> Action:
        return Action.model_validate(
            {
                "id": new_id("a"),
                "action": do,
                "target": target,
                "value": value,
                "by": "person",
                "who": self.who,
                "at": self.now,
            }
        )

    def aim(self, entry: Entry, words: str) -> list[Event]:
        """What a spoken edit aims at, now that a person says that it is one. Typed after a line
        that is still not understood, nobody has said what it takes back: that is nothing."""
        phrases = self.grammar.interpret(words) or ()
        if not any(phrase.kind == "edit" for phrase in phrases):
            return []
        read = entry.model_copy(
            update={"reading": words, "phrases": phrases, "status": "accepted", "voided": False}
        )
        kept = self.view.kept
        all_entries = fold(self.view.events, self.grammar.interpret)
        place = next((i for i, one in enumerate(all_entries) if one.id == entry.id), None)
        before = (
            [one for one in all_entries if one.start_s < entry.start_s]
            if place is None
            else all_entries[:place]
        )
        if kept.listeners == (TYPED,) and follows_unread(read, before):
            return []
        aimed = resolve_spoken_edit(read, before, kept.roster, dog=kept.dog)
        return [] if aimed is None else [aimed]

    def unchanged(self, now: str, what: str) -> None:
        if self.deed.version != now:
            raise EditConflictError(what, f"is {clean(now) or 'not known'}")
