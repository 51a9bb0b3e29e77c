"""The ceiling, and what is to be minded about a dog's sessions, in words.

Where the plan has no button, no limit of a level is named (`barred_words`): beside "Button: none" a
number reads as one that is fine.
"""

from __future__ import annotations

from voicelog.analysis.levels import Ceiling, LowestStrongSign
from voicelog.analysis.session_scope import ScopeNote
from voicelog.report.state_words import TO_CHECK
from voicelog.report.words import counted, date_words

__all__ = ["barred_words", "ceiling_words", "note_words", "strong_sign_words"]


def ceiling_words(one: Ceiling) -> str:
    """Why the ceiling is where it is, or why there is none. `one` is the ceiling as worked out."""
    if one.basis == "no session":
        return "No session yet."
    if one.top is not None and one.strong is not None:
        return (
            f"A strong sign is noted at level {one.strong.level} {strong_sign_words(one.strong)}, "
            f"and the collar goes to {one.top}: at which level it came is not known, so "
            "no stimulation; work without the button, and correct that entry."
        )
    why = _of_the_reps(one)
    if one.basis == "profile":
        why = (
            f"The ceiling of the dog's profile. {why}"
            if one.strong
            else "The ceiling of the dog's profile; no strong sign so far."
        )
    if one.none_left:
        why += " No level is that low: no stimulation; work without the button."
    return why


def barred_words(one: Ceiling) -> str:
    """The ceiling where the button is not to be used: what was too much, and no level to go to."""
    if one.strong is None:
        return "No level is named while there is no button."
    if one.top is not None:
        return ceiling_words(one)
    return f"No level is named while there is no button. {_too_much(one.strong)}."


def _too_much(one: LowestStrongSign) -> str:
    return f"Too much was level {one.level} {strong_sign_words(one)}"


def _of_the_reps(one: Ceiling) -> str:
    if one.strong is None:
        return "No strong sign at any level so far, so the reps set no ceiling."
    why = (
        f"{counted(one.steps, 'step')} under level {one.strong.level}, the lowest with a strong "
        f"sign {strong_sign_words(one.strong)}."
    )
    if one.curve is not None:
        why += (
            f" The curve through all reps lowers it: above {one.curve} a strong sign is likelier "
            f"than {one.chance:.0%}."
        )
    return why


def strong_sign_words(one: LowestStrongSign) -> str:
    """Which sign, when, and whether it is sure, in brackets. `one` is as worked out."""
    doubt = "" if one.sure else f", {TO_CHECK}"
    return f"({one.sign}, {date_words(one.day)}{doubt})"


def note_words(note: ScopeNote) -> str:
    """What is to be minded about the sessions that a paper rests on. `note` counts what was left
    out."""
    sessions = counted(note.sessions, "session")
    match note.code:
        case "other transmitter":
            return (
                f"{counted(note.reps, 'rep')} of {sessions} with another transmitter or another "
                f"range in the profile (until {date_words(note.day)}) are left out: a level there "
                "means something else."
            )
        case "undated":
            return f"{sessions} without a date taken as older than all others."
        case "after today":
            return (
                f"{sessions} dated after today ({date_words(note.day)}): check the clock of the "
                "recorder; their order may be wrong."
            )
