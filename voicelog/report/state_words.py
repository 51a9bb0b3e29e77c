"""The one word for the state of an entry or a rep, the same on every face.

In the contract an entry is accepted, doubtful, rejected or voided. A person reads *sure*,
*check*, *not understood* or *void*, wherever it is shown: on paper, on a page, on a terminal.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, Literal

from voicelog.model import Entry, EntryOutput, Rep, Status
from voicelog.report.words import counted, numbers

__all__ = [
    "CHECK",
    "NOT_UNDERSTOOD",
    "SURE",
    "TO_CHECK",
    "VOID",
    "StateWord",
    "check_reps_words",
    "counted_reps",
    "entry_word",
    "listed_reps",
    "rep_word",
    "reps_words",
    "state_class",
    "status_word",
    "void_reps_words",
]

StateWord = Literal["sure", "check", "not understood", "void"]
"""accepted; doubtful: a person must say; rejected: no note was heard; voided: taken back."""

SURE: Final = "sure"
CHECK: Final = "check"
NOT_UNDERSTOOD: Final = "not understood"
VOID: Final = "void"

TO_CHECK: Final = "to check"
"""The same state within a sentence: "3 entries to check"."""

_OF_STATUS: Mapping[Status, StateWord] = {
    "accepted": SURE,
    "doubtful": CHECK,
    "rejected": NOT_UNDERSTOOD,
}


def status_word(status: Status) -> StateWord:
    """The word for how sure a reading is, where nothing was taken back. `status` is that of the
    contract."""
    return _OF_STATUS[status]


def entry_word(entry: Entry | EntryOutput) -> StateWord:
    """The word for an entry: void once it was taken back, whatever it was before."""
    return VOID if entry.voided else _OF_STATUS[entry.status]


def rep_word(rep: Rep) -> StateWord:
    """The word for a rep: void when it was taken back, or when "no contact" said that the dog
    could not have felt it; check when any entry of it is to check."""
    return VOID if rep.void else CHECK if rep.doubtful else SURE


def reps_words(reps: int, to_check: int, void: int) -> str:
    """How many reps there are: "8 reps (2 to check) and 1 void". A `void` one is none of the 8
    `reps`: it never counts. One `to_check` is, and counts once it was reviewed."""
    look = f" ({to_check} {TO_CHECK})" if to_check else ""
    return f"{counted(reps, 'rep')}{look}{f' and {void} {VOID}' if void else ''}"


def listed_reps(counts: Mapping[str, int]) -> str:
    """The same, of a session in a list of sessions. `counts` are those of its row."""
    return reps_words(*(counts.get(name, 0) for name in ("reps", "reps_to_check", "void_reps")))


def counted_reps(words: Iterable[StateWord]) -> str:
    """The same, of reps with these `words`."""
    found = Counter(words)
    return reps_words(found.total() - found[VOID], found[CHECK], found[VOID])


def void_reps_words(reps: Sequence[int]) -> str:
    """Which reps are void: "rep 4 is void"; "" for none. `reps` are their numbers, in order."""
    return _which_are(reps, VOID)


def check_reps_words(reps: Sequence[int]) -> str:
    """Which reps are to check, in the same words: "rep 4 is to check"."""
    return _which_are(reps, TO_CHECK)


def _which_are(reps: Sequence[int], state: str) -> str:
    return f"{numbers('rep', reps)} {'is' if len(reps) == 1 else 'are'} {state}" if reps else ""


def state_class(word: StateWord) -> str:
    """The word as one class of HTML: "not-understood"."""
    return word.replace(" ", "-")
