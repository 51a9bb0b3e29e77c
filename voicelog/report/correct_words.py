"""What the terminal says while entries are corrected: the list, the question, what is possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from shlex import quote

from voicelog.report.state_words import TO_CHECK, StateWord
from voicelog.report.words import clean, counted, date_words, listed, numbers

__all__ = [
    "ANSWERS",
    "ASKED_TOO",
    "ListedEntry",
    "WaitingSession",
    "above_top_question",
    "above_top_words",
    "also_waits_words",
    "entry_lines",
    "heading_words",
    "hint_words",
    "nothing_words",
    "order_words",
    "part_of_note_words",
    "session_choice_words",
    "signed_words",
    "stop_first_words",
    "stopped_words",
    "undone_words",
]

ANSWERS = (
    "Enter: right as it stands. 1 to 9: that reading. Or type what was said (l9 c), "
    "here short for level nine, came. "
    "p: play its sound. v: void. s: skip. u: undo. q: stop. ?: this again."
)
"""What can be answered when an entry is asked about."""
ASKED_TOO = "Reps to check, each with a question ('voicelog questions'):"


_MOST_NAMED = 5
"""Sessions that are named where others wait; of the rest, how many there are."""


@dataclass(frozen=True, slots=True)
class ListedEntry:
    """An entry as the terminal lists it: its number, when it begins ("" where it has no time), its
    state, its words, why it is to check ("" where it is not), the readings on offer, the numbers of
    the reps that it is of, the parts of it that are no note, and the number of the rep that it
    corrects (None where it is no correction)."""

    number: int
    at: str
    word: StateWord
    said: str
    why: str = ""
    offers: tuple[str, ...] = ()
    reps: tuple[int, ...] = ()
    unread: tuple[str, ...] = ()
    corrects: int | None = None


@dataclass(frozen=True, slots=True)
class WaitingSession:
    """A session in which something waits: whose it is ("" for no dog named), its day (None: not
    known), how many entries are to check and reps to answer for, its id, and whether a stop is
    among what was found in it."""

    dog: str
    day: date | None
    count: int
    key: str
    stopped: bool = False


def also_waits_words(sessions: Sequence[WaitingSession]) -> tuple[str, ...]:
    """That others wait than what was shown, and how to come to the newest of them; nothing where
    none do. `sessions` are those, the newest first."""
    if not sessions:
        return ()
    named = [
        f"{clean(one.dog) or 'no dog named'}, {_day(one.day)} ({one.count})"
        for one in sessions[:_MOST_NAMED]
    ]
    more = len(sessions) - _MOST_NAMED
    rest = f"; and {counted(more, 'session')} more" if more > 0 else ""
    return (
        f"Still to check or to answer: {'; '.join(named)}{rest}.",
        f"The first of them: voicelog correct --session {clean(sessions[0].key)}",
    )


def stop_first_words(session: WaitingSession) -> str:
    """That a stop of another session depends on what waits there: `session` is that."""
    day = _day(session.day)
    whose = clean(session.dog) or "no dog named"
    return (
        f"First: a stop of {whose}, {day}, depends on an entry to check: "
        f"voicelog correct --session {clean(session.key)}"
    )


def heading_words(dog: str, day: date | None, key: str) -> str:
    """Which session it is. `dog` is "" where none was named; `key` is the session's id."""
    return f"{clean(dog) or 'No dog named'}, {_day(day)}, session {clean(key)}"


def order_words(to_check: int, *, every: bool) -> str:
    """In which order entries are listed: the `to_check` ones, or `every` one."""
    if not to_check:
        return "In order of time."
    rest = ", then all others in order of time" if every else ""
    return f"To check, what may matter most for the dog first{rest}; the numbers go by time."


def entry_lines(entry: ListedEntry) -> tuple[str, ...]:
    """An entry in the list, and a line for each reading on offer. `entry` is what is listed."""
    why = f" ({entry.why})" if entry.why else ""
    of = f" ({numbers('rep', entry.reps)})" if entry.reps else ""
    if entry.corrects is not None:
        of = f" (corrects what was said of rep {entry.corrects})"
    first = f"{entry.number:4}  {entry.at:>5}  {entry.word}  '{clean(entry.said)}'{of}{why}"
    unread = listed(f"'{clean(one)}'" for one in entry.unread)
    return (
        first,
        *([f"            no note in it: {unread}"] if unread else []),
        *(f"            {place}: '{clean(one)}'" for place, one in enumerate(entry.offers, 1)),
    )


def hint_words(number: int, more: int) -> str:
    """What to type next; `number` is that of an entry listed, `more` how many are not listed."""
    rest = f" {more} more entries: --all." if more else ""
    return (
        f"Correct one with --entry {number} and --confirm, --take 1, --words 'l9 c', --void or "
        f"--to DOG; --play plays it.{rest}"
    )


def above_top_words(dog: str, level: int, top: int) -> str:
    """That a level above the `top` of a dog's collar was not kept, for a command."""
    return (
        f"Level {level} is above the top of {clean(dog)}'s collar, {top}, so nothing was changed; "
        "give the right level with --words, or add --above-top if it is right."
    )


def above_top_question(dog: str, level: int, top: int) -> str:
    """The same as a question, where entries are asked about one by one."""
    return (
        f"Level {level} is above the top of {clean(dog)}'s collar, {top}. Type the note with the "
        f"level that it was; k: keep {level}. If the collar goes so high: voicelog dogs put "
        f"{quote(clean(dog))} --top N."
    )


def part_of_note_words(number: int, dropped: str, words: str, merged: str | None) -> str:
    """That words were not put in place of a sure entry, since some of what it says (`dropped`)
    would be lost; `merged` is the whole note with them, where it can be said."""
    whole = f" (--words '{clean(merged)}')" if merged else ""
    return (
        f"Entry {number} also says '{clean(dropped)}', which '{clean(words)}' would drop, so "
        f"nothing was changed; give the whole note{whole}, or add --whole if that is all that was "
        "said."
    )


def undone_words(told: str) -> str:
    """That a change was undone. `told` is the change, as `edit_words` names it."""
    return f"Undone: {told}."


def signed_words(who: str) -> str:
    """Whose name a correction or an answer is kept with."""
    return f"Signed: {clean(who)} (another name: --as)."


def nothing_words(reps: int, *, in_list: bool = False) -> str:
    """That no entry is to check; `reps` have a question, and are shown below. `in_list`: entries
    are listed, not asked about."""
    found = f"Nothing {TO_CHECK}."
    if reps:
        asked = "a question" if reps == 1 else "questions"
        found = f"No entry {TO_CHECK}; {counted(reps, 'rep')} {TO_CHECK}, with {asked} below."
    more = " Every entry of this session: --all. Another session: --day."
    return found + more * in_list


def stopped_words(left: int, reps: int, *, signed: str | None) -> str:
    """What came of asking about one entry after the other, at its end: `left` entries still wait
    and `reps` have a question, and whose name the changes are kept with, None where nothing was
    changed."""
    kept = "Nothing was changed."
    if signed is not None:
        kept = f"Every answer is kept. {signed_words(signed)}"
    parts = [counted(left, "entry", "entries")] * bool(left) + [counted(reps, "rep")] * bool(reps)
    waits = f"{listed(parts) or 'nothing'} left {TO_CHECK}"
    return f"{kept} In this session: {waits}."


def session_choice_words(sessions: Sequence[tuple[str, date | None, str]]) -> str:
    """That one of several sessions is to be named. `sessions` are dog, day and id of each."""
    listed = "; ".join(f"{clean(dog)}, {_day(day)}: {key}" for dog, day, key in sessions)
    return f"There are {len(sessions)} sessions; say which with --session ID ({listed})."


def _day(day: date | None) -> str:
    return "no date" if day is None else date_words(day)
