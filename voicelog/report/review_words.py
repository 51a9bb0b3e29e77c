"""Sentences of the review page: why an entry is to check, what was done to it, what is left."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from voicelog.model import Action, Condition, Event, FieldEvent, Reading, Utterance, Verdict
from voicelog.model.review import CheckCause, Do, ReviewReason
from voicelog.report.state_words import CHECK, TO_CHECK, status_word
from voicelog.report.words import clean, counted, day

__all__ = [
    "DONE",
    "NOTHING_LOGGED",
    "NO_DOG_NAMED",
    "NO_SESSION_HEARD",
    "NO_SUCH_SESSION",
    "PAGE_CLOSED",
    "QUEUE",
    "budget_words",
    "check_cause_words",
    "condition_words",
    "edit_words",
    "entry_facts",
    "event_words",
    "neighbour_words",
    "review_reason_words",
    "to_check_words",
]

NOTHING_LOGGED = "No session is in the log yet: begin with Add."
PAGE_CLOSED = "voicelog is closed; a live session goes on. You can close this tab."
NO_DOG_NAMED = "No dog named"
NO_SESSION_HEARD = "No session heard"
NO_SUCH_SESSION = "No session matches all of that: remove a condition."

DONE: Mapping[Do, str] = {
    "confirm": "Confirmed; nothing else changed.",
    "read": "Kept; nothing else changed.",
    "void": "Void now; nothing else changed.",
    "restore": "Restored; nothing else changed.",
    "move": "Moved; nothing else changed.",
    "add": "Added; nothing else changed.",
    "answer": "Answered; nothing else changed.",
    "clock": "The start is set; nothing else changed.",
    "dog": "The dog is set; nothing else changed.",
    "undo": "Undone; nothing else changed.",
    "redo": "Done again; nothing else changed.",
}
"""What is said of a change that changed nothing but the entry itself."""

_REASONS: Mapping[ReviewReason, str] = {
    "rests: stop": "a stop depends on it",
    "rests: caution": "a caution depends on it",
    "rests: remark": "a remark depends on it",
    "strong sign": "may be a strong sign of stress",
    "contact or skin": "may be about contact or skin",
    "level": "names a level",
    "stimulus": "says what the button did",
    "edit": "takes something back or changes it",
    "session": "says which dog it is",
    "equipment": "is about collar or skin",
    "outcome": "says how a rep ended",
    "sign": "says what the body showed",
    "condition": "holds until changed",
    "other": "",
}

_EDITS: Mapping[str, str] = {
    "confirm": "confirm {at} as '{value}'",
    "void": "void {at}",
    "move": "move {at} to {value}",
    "flag": "flag {at}",
    "clock": "set the start to {value}",
}


_CAUSES: Mapping[CheckCause, str] = {
    "heard": "not heard clearly",
    "heard quickly": "not heard clearly by the quick listener alone",
    "typed": "no note as typed",
    "beyond top": "above the top level of the dog's collar",
    "under lowest": "below the lowest level of the dog's collar",
    "follows unread": "it follows a line that was not understood: what does it take back?",
    "whose": "",
}


def check_cause_words(cause: CheckCause) -> str:
    """Why an entry is not sure; `cause` is its code."""
    return _CAUSES[cause]


def review_reason_words(reason: ReviewReason, cause: str = "") -> str:
    """What hangs on an entry to check; `cause` says in words why it is not sure ("": not said)."""
    return "; ".join(filter(None, (cause, _REASONS[reason])))


def edit_words(event: Utterance | Reading | Action, at: str, words: str = "") -> str:
    """What a person did by an event, as one would name it to undo it.

    Args:
        event: what the person committed.
        at: when the entry that it is about began, "" where it has no time.
        words: what the entry says.
    """
    if isinstance(event, Utterance):
        return f"add '{clean(words)}'{f' at {at}' if at else ''}"
    at = at or "a line"
    if isinstance(event, Reading):
        return f"read {at} as '{clean(event.words)}'"
    if event.action == "amend":
        return f"'not known' for how '{clean(words)}' ended"
    return _EDITS[event.action].format(at=at, value=clean(event.value or ""))


def step_words(told: str, count: int) -> str:
    """A step of `count` edits, the last of which is `told` in words."""
    return told if count == 1 else f"{told}, and {count - 1} more with it"


def event_words(event: Event, *, undone: bool) -> str:
    """What happened to an entry by one event, as a line of its history.

    Args:
        event: one that is about the entry.
        undone: whether it was taken back later.
    """
    return f"{_event_words(event)}{' (taken back)' if undone else ''}"


def _event_words(event: Event) -> str:
    match event:
        case Utterance():
            if event.start_s == event.end_s:
                return "Typed without sound."
            return f"Sound from {event.start_s:.1f} s to {event.end_s:.1f} s."
        case Reading(by="listener") if event.who.startswith("typed"):
            return f"Typed as '{clean(event.words)}'."
        case Reading(by="listener"):
            sure = f", {event.confidence:.0%} sure"
            return f"{clean(event.who)} heard '{clean(event.words)}'{sure}."
        case Reading():
            return f"{_who(event)} read it as '{clean(event.words)}'."
        case Verdict():
            also = f", or {', '.join(event.alternatives)}" if event.alternatives else ""
            return f"Marked {status_word(event.status)}: '{clean(event.words)}'{clean(also)}."
        case Action() if event.cause is not None:
            return f"A spoken {'strike' if event.action == 'void' else event.action} aimed at it."
        case Action(action="amend", by="person"):
            return f"{_who(event)}: how the rep ended is not known."
        case Action(action="undo"):
            return f"{_who(event)} undid a change."
        case Action():
            value = f" '{clean(event.value)}'" if event.value else ""
            return f"{_who(event)}: {event.action}{value}."
        case FieldEvent():
            return ""  # is about no entry


def _who(event: Reading | Action) -> str:
    when = f", {day(event.at)}" if event.at else ""
    return f"{clean(event.who) or 'somebody'}{when}"


def neighbour_words(before: str | None, after: str | None) -> str:
    """Between what an entry was said: the entries before and after it, None where none is."""
    return ", ".join(
        f"{place} '{said}'"
        for place, said in (("after", before), ("before", after))
        if said is not None
    )


def condition_words(condition: Condition) -> str:
    """What holds from a moment on, as the timeline says it: "distance 20 yards"."""
    name = condition.name.replace("_", " ")
    return clean(" ".join(filter(None, (name, condition.value, condition.unit))))


def entry_facts(
    *,
    guessed: bool,
    talk: bool,
    unplaced: bool,
    corrects: int | None,
    moved_to: str | None,
    by: str | None,
    edits: int,
) -> tuple[str, ...]:
    """What is to be known of an entry beside its words, a phrase each.

    Args:
        guessed: its reading lies near what was typed, which is no note.
        talk: it was not understood, and its reading is a guess.
        unplaced: it is sure, and did nothing.
        corrects: the number of the rep that it corrects, None where it corrects none.
        moved_to: the dog that a person moved it to, None where nobody did.
        by: who has checked it, None where nobody has, "" where it is not known who.
        edits: how many things people did to it.
    """
    found = []
    if guessed:
        found.append("choose what was meant")
    if talk:
        found.append("probably talk, and these words a guess: leave it, unless you hear them")
    if unplaced:
        found.append("belongs to no rep")
    if corrects is not None:
        found.append(f"corrects what was said of rep {corrects}")
    if moved_to is not None:
        found.append(f"moved to {clean(moved_to)}")
    if by is not None:
        found.append(f"checked by {clean(by) or 'somebody'}")
    if edits > 1:
        found.append(f"{edits} changes")
    return tuple(found)


_WAITING = f"the papers mark them {CHECK} and do not count them"
QUEUE = f"These entries and reps are not sure; until you decide, {_WAITING}."
"""What the evening's queue holds, and what it means that something waits in it."""


def to_check_words(entries: int, reps: int) -> str:
    """How much there is to check, the same on every page: `entries`, and `reps` that are asked
    about."""
    if not reps:
        return f"{counted(entries, 'entry', 'entries')} {TO_CHECK}"
    if not entries:
        return f"{counted(reps, 'rep')} {TO_CHECK}"
    parts = f"{counted(entries, 'entry', 'entries')} and {counted(reps, 'rep')}"
    return f"{entries + reps} {TO_CHECK}: {parts}"


def budget_words(
    to_check: Iterable[bool],
    *,
    late: int,
    done: bool,
    read: int,
    budget: int,
    questions: int = 0,
    harmful: int = 0,
    unread: str = "",
) -> str:
    """What there is to check in a session, and how much of it may wait.

    Args:
        to_check: of each entry to check, whether it may weigh on the dog.
        late: how many of those may wait for another evening.
        done: whether the budget of the evening is used up.
        read: how many were read today.
        budget: how many an evening may take.
        questions: how many reps are asked about, which are shown apart.
        harmful: how many typed lines that were not understood may tell of harm; they do not wait.
        unread: what is said of typed lines that were not understood, "" where there are none.
    """
    weighs = list(to_check)
    if not weighs and not questions:
        return unread or f"Nothing {TO_CHECK}."
    parts = [to_check_words(len(weighs), questions)]
    if any(weighs):
        matters = "may matter for the dog's safety"
        first = f"{sum(weighs)} of them {matters} and come first"
        parts.append(first if len(weighs) + questions > 1 else f"it {matters}")
    if read:
        parts.append(f"{read} reviewed today")
    if done:
        but = ", but not what may tell of harm" if harmful else ""
        parts.append(
            f"the {budget} of an evening are done; the rest may wait{but}; until you decide, "
            f"{_WAITING}"
        )
    elif late:
        parts.append(f"{late} of them may wait; until you decide, {_WAITING}")
    return " ".join(filter(None, ("; ".join(parts) + ".", unread)))
