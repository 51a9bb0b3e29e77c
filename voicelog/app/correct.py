"""Correcting the log without the page: the page's own edits, asked for by number.

Entries are numbered as they come in their session. Whatever is done goes by `EditRequest` and
`ReviewService`, so history and undo are one with the page's.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from voicelog.app.grammars import grammar_of
from voicelog.app.review.edit_command import above_top
from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.rep_questions import questions
from voicelog.app.review.review_service import EditResult, ReviewService
from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.app.session_choice import chosen_sessions
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.typed_note import read_typed_note, unread_parts, unread_words
from voicelog.model import UsageError
from voicelog.model.review import Do
from voicelog.report.correct_words import above_top_words, part_of_note_words, session_choice_words
from voicelog.report.wording.rep_questions import QuestionRow
from voicelog.session.part_corrections import part_corrected

__all__ = [
    "AboveTopError",
    "Correction",
    "PartOfNoteError",
    "correct",
    "find_session",
    "numbered",
    "open_questions",
    "row_of",
    "to_undo",
    "unread",
    "waiting",
]


@dataclass(frozen=True, slots=True)
class Correction:
    """What is to be corrected.

    do: what the page would do.
    number: the entry's, as listed; None where it is about the whole session. "undo" may be either.
    words: what was said, for "read", in short forms too.
    dog: whose the entry ("move") or the session ("dog") is.
    moment: when the recording began, for "clock".
    above_top: whether a level above the top of the dog's collar is meant.
    whole: whether words that tell of less than the sure entry did are all that was said.
    """

    do: Do
    number: int | None = None
    words: str | None = None
    dog: str | None = None
    moment: datetime | None = None
    above_top: bool = False
    whole: bool = False


class PartOfNoteError(UsageError):
    """Words for a sure entry of which some would be lost; `merged` is it with them in place of what
    they correct."""

    def __init__(self, number: int, dropped: str, words: str, merged: str | None) -> None:
        super().__init__(part_of_note_words(number, dropped, words, merged))
        self.dropped, self.merged = dropped, merged


class AboveTopError(UsageError):
    """What is about to stand has a `level` above the `top` of the collar of `dog`."""

    def __init__(self, dog: str, level: int, top: int) -> None:
        super().__init__(above_top_words(dog, level, top))
        self.dog, self.level, self.top = dog, level, top


def find_session(
    service: ReviewService, dog: str | None, day: date | None, key: str | None
) -> SessionView:
    """The one session that is meant.

    Args:
        service: the log.
        dog: whose; None for any dog's of the last day.
        day: of which day; None for the last.
        key: its id (or its recording's, where none was heard), which says it all.

    Raises:
        UsageError: several may be meant; they are named with their ids.
        VoicelogError: there is none.
    """
    if key is not None:
        return service.view(key)
    rows = chosen_sessions(service.session_catalog, dog, day)
    if len(rows) > 1:
        raise UsageError(session_choice_words([(row.dog or "", row.day, row.key) for row in rows]))
    return service.view(rows[0].key)


def numbered(view: SessionView) -> tuple[tuple[int, EntryRow], ...]:
    """The entries of a session with their numbers: those that wait first, in the order in which to
    take them, then the others by time. `view` is the session."""
    numbers = {row.entry.id: number for number, row in enumerate(view.rows, start=1)}
    waits = {row.entry.id for row in view.waiting}
    rest = [row for row in view.rows if row.entry.id not in waits]
    return tuple((numbers[row.entry.id], row) for row in (*view.waiting, *rest))


def waiting(view: SessionView) -> tuple[tuple[int, EntryRow], ...]:
    """The entries of the session of `view` that wait for a person, with their numbers: those to
    check, and the typed lines that were not understood, since who typed them meant a note."""
    return numbered(view)[: len(view.waiting)]


def unread(view: SessionView, row: EntryRow) -> tuple[str, ...]:
    """The parts of an entry (`row`) of the session of `view` that are no note and like none, as
    they were typed; none where it was spoken, is void or sure, was read by a person, or is none as
    a whole."""
    entry = row.entry
    if view.kept.listeners != (TYPED,) or entry.status == "accepted" or entry.voided:
        return ()
    if entry.by == "person":
        return ()
    grammar = grammar_of(view.kept)
    parts = unread_parts(grammar, entry.heard)
    whole = not unread_words(grammar, entry.heard)
    return () if whole else tuple(one.part for one in parts if one.meant is None)


def open_questions(view: SessionView) -> tuple[QuestionRow, ...]:
    """The questions about the reps of the session of `view`, to be put into words."""
    if view.page is None:
        return ()
    dog, began = view.page.session.dog.name, view.page.began
    typed = view.kept.listeners == (TYPED,)
    asked = questions(view.page.session, grammar_of(view.kept), typed=typed)
    return tuple(one.row(dog, began) for one in asked)


def row_of(view: SessionView, number: int) -> EntryRow:
    """The entry of a number of `view`.

    Raises:
        UsageError: there is none of that number.
    """
    if not 1 <= number <= len(view.rows):
        raise UsageError(
            f"There is no entry {number}, they go from 1 to {len(view.rows)}; list them with "
            "'voicelog correct --all'."
        )
    return view.rows[number - 1]


def correct(
    service: ReviewService, view: SessionView, correction: Correction, who: str
) -> EditResult:
    """Do it, as the page would.

    Args:
        service: the log.
        view: the session, as the person saw it.
        correction: what to do.
        who: the name of the person.

    Raises:
        UsageError: there is no such entry.
        PartOfNoteError: the words are less than the sure entry says.
        AboveTopError: a level is above the top of the collar, and nobody said that it is meant.
        ReviewError: it cannot be done, or the entry is no longer as it was seen; nothing was done.
    """
    row = None if correction.number is None else row_of(view, correction.number)
    if row is not None and not correction.above_top:
        _check_levels(service, view, correction, row)
    if row is not None and not correction.whole:
        _check_dropped(view, correction, row)
    request = EditRequest(
        do=correction.do,
        version=_version(view, correction.do, row),
        entry=None if row is None else row.entry.id,
        words=correction.words,
        above_top=True,  # asked about above
        dog=_roster_name(view, correction.dog),
        moment=None if correction.moment is None else correction.moment.isoformat(),
    )
    return service.do(view.head.key, request, who)


def _check_levels(
    service: ReviewService, view: SessionView, correction: Correction, row: EntryRow
) -> None:
    """Raises AboveTopError. The top is the recording's, or today's where that is higher: it may
    have been put right since."""
    if correction.do not in ("confirm", "read"):
        return
    words = row.entry.reading if correction.words is None else correction.words
    found = above_top(view, service.log.roster(), words)
    if found is not None:
        raise AboveTopError(*found)


def _check_dropped(view: SessionView, correction: Correction, row: EntryRow) -> None:
    """Raises PartOfNoteError."""
    entry = row.entry
    if correction.words is None or entry.status != "accepted" or entry.voided:
        return
    grammar = grammar_of(view.kept)
    new = grammar.interpret(read_typed_note(grammar, correction.words).words) or ()
    found = part_corrected(entry.phrases, new)
    if found is None:
        return
    merged, dropped = found
    words = grammar.speak(merged)
    raise PartOfNoteError(
        correction.number or 0,
        grammar.speak(dropped),
        correction.words,
        words if grammar.interpret(words) is not None else None,
    )


def _version(view: SessionView, do: Do, row: EntryRow | None) -> str:
    """What a person has seen of what it is about."""
    match do:
        case "clock":
            return view.line.started_at.isoformat() if view.line.started_at else ""
        case "undo":
            act = view.ledger.to_undo(None if row is None else row.entry.id)
            return act.id if act else ""
        case "redo":
            return view.ledger.redo.id if view.ledger.redo else ""
        case _ if row is not None:
            return row.version
        case _:
            return view.session.dog.name if view.session else ""


def to_undo(view: SessionView, number: int | None) -> str | None:
    """What is the next to undo in the session of `view`, of the entry of a number or of all, in
    words; None where there is nothing.

    Raises:
        UsageError: there is no entry of that number.
    """
    act = view.ledger.to_undo(None if number is None else row_of(view, number).entry.id)
    return None if act is None else act.told


def _roster_name(view: SessionView, dog: str | None) -> str | None:
    """A dog's name as the roster has it, whatever its letter case."""
    if dog is None:
        return None
    known = view.kept.roster.dog(dog)
    return dog if known is None else known.name
