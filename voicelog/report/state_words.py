"""The one word for the state of an entry or a rep, the same on every face.

In the contract an entry is accepted, doubtful, rejected or voided. A person reads *sure*,
*check*, *not understood* or *void*, wherever it is shown: on paper, on a page, on a terminal.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, Literal

from voicelog.model import Entry, EntryOutput, Rep, Status

__all__ = [
    "CHECK",
    "NOT_UNDERSTOOD",
    "SURE",
    "TO_CHECK",
    "VOID",
    "StateWord",
    "entry_word",
    "rep_word",
    "state_class",
    "status_word",
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


def state_class(word: StateWord) -> str:
    """The word as one class of HTML: "not-understood"."""
    return word.replace(" ", "-")
