"""Open matters in words: the same on every paper, on the page and in the ear."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from voicelog.analysis.open_matters import OpenMatter, standing
from voicelog.analysis.session_matters import BAD_SKIN
from voicelog.model import MatterKind, SessionMatter
from voicelog.model.matters import NEEDS_PROFESSIONAL
from voicelog.report.state_words import TO_CHECK, VOID
from voicelog.report.words import Face, clean, counted, date_words, listed, numbers
from voicelog.safety.advice import PROFESSIONAL

__all__ = [
    "CLOSED_BY",
    "EACH_CLOSED_BY",
    "MATTERS_LINK",
    "MATTERS_PAGE",
    "NO_MATTERS",
    "SKIN_FIRST",
    "UNCHECKED",
    "after_closing_words",
    "at_stake_lines",
    "bad_day_words",
    "beside_mark",
    "closed_words",
    "closing_asks",
    "earlier_words",
    "matter_count_words",
    "matter_name",
    "matter_words",
    "matters_place_words",
    "owner_matter_words",
    "spoken_matters",
    "spoken_skin",
    "state_words",
    "stop_words",
    "whose_words",
]

CLOSED_BY = "a person closes it, with a reason"
"""What a stop waits for."""
EACH_CLOSED_BY = "a person closes each, with a reason"
"""What several wait for."""
SKIN_FIRST = (
    'Look at the skin before the collar goes on and note "skin clear", said or typed; until that '
    "note the collar stays off. Sore skin: see a veterinarian before it is fitted again."
)
"""What is to be done about skin that was red or sore."""
NO_MATTERS = "Nothing is open."
MATTERS_LINK = "To the open matters, where a person closes them."
"""Leads to `MATTERS_PAGE`."""
MATTERS_PAGE = "/matters"
"""Where the page has all open matters."""

UNCHECKED = "; based on a note that nobody has checked"
"""What an owner is told of what only an entry to check says."""

_STOP = "Stop: "
_HASH = re.compile(r"[0-9a-f]{64}")
_STAGES: Mapping[str, str] = {"bird": "birds", "gun": "gunfire"}
_STOPS: Mapping[str, str] = {
    "stress-not-eased": "level not lowered after a strong sign",
    "stress-strong": "a strong sign",
    "stress-twice": "no more stimulation that day",
    "unwell": "work with a dog that was not well",
    "too-young": "too young for stimulation",
    "heat": "too hot for work",
    "skin": "red or sore skin",
    "over-ceiling": "level above the ceiling",
    "bird": "button with birds too early",
    "gun": "button with gunfire too early",
}
"""What went wrong, of each rule that calls a stop."""
_SPOKEN: Mapping[MatterKind, str] = {
    "aggression": "growl or bite",
    "skin": "skin",
    "stop": "stop",
    "ceiling": "over ceiling",
    "stage": "stage too early",
    "strong sign": "strong sign",
}


def matter_name(matter: SessionMatter) -> str:
    """What it is, without when and how it stands: "Snapped", "Stop: too hot for work"."""
    names = listed(map(clean, matter.names))
    match matter.kind:
        case "aggression":
            return names.capitalize() or "A growl, a snap or a bite"
        case "skin":
            return f"Skin {names or 'not said to be clear before the collar'}"
        case "ceiling":
            return "A level above the ceiling"
        case "stage":
            what = listed(_STAGES[rule] for rule in matter.rules if rule in _STAGES)
            return f"The button with {what or 'birds or gunfire'} before that stage was reached"
        case "strong sign":
            return f"Strong sign: {names}" if names else "Strong sign"
        case "stop":
            rules = [rule for rule in matter.rules if rule != "stress-strong"]
            return f"{_STOP}{listed(map(stop_words, rules))}{f' ({names})' if names else ''}"


def whose_words(dog: str) -> str:
    """Whose matters these are. `dog` is the name; of a deleted dog the hash of its name, all that
    is left of it; "" where none was named."""
    if _HASH.fullmatch(dog):
        return f"A dog that was deleted ({dog[:8]})"
    return clean(dog) or "No dog named"


def beside_mark(words: str) -> str:
    """The `words` on a matter where a mark beside them says already that it is a stop."""
    told = words.removeprefix(_STOP)
    return f"{told[:1].upper()}{told[1:]}"


def stop_words(rule: str) -> str:
    """What went wrong where a rule called a stop, never its name. `rule` is that."""
    return _STOPS.get(rule, "a safety rule of another version")


def state_words(one: OpenMatter) -> str:
    """How it stands: "open", "closed by Anna on 3 May 2031: ..."; no full stop."""
    closing, correction = one.closing, one.matter.correction
    if one.state == "closed" and closing is not None:
        day = None if closing.at is None else closing.at.date()
        asked = f" (consulted: {clean(closing.consulted)})" if closing.consulted else ""
        words = f"closed by {clean(closing.who)} on {date_words(day)}: {clean(closing.reason)}"
        return f"{words.rstrip('.')}{asked}"
    if one.state == "corrected" and correction is not None:
        at = "" if correction.at is None else f" on {date_words(correction.at.date())}"
        who = f" by {clean(correction.who)}" if correction.who else ""
        return f"no longer open after a correction{who}{at}"
    words = "open" if one.state == "open" else "acknowledged in the field, still open"
    if one.reopened is not None:
        words = f"opened again by {clean(one.reopened.who)}: {clean(one.reopened.reason)}"
    if correction is not None:
        how = "struck by voice" if correction.how == "by voice" else "heard otherwise since"
        words = f"{how}, which closes nothing: {words}"
    return words.rstrip(".")


def after_closing_words(found: Sequence[OpenMatter]) -> str:
    """What a closing of these does not settle, "" where nothing: skin is cleared by a note."""
    skin = any(one.state == "closed" and one.matter.kind == "skin" for one in found)
    return f"A closed matter does not clear the skin. {SKIN_FIRST}" if skin else ""


def matter_words(one: OpenMatter) -> str:
    """A matter in one sentence: what, when, in which reps, on what it rests, how it stands."""
    matter = one.matter
    reps = numbers("rep", matter.reps) if matter.reps else ""
    inside = "; ".join(filter(None, (earlier_words(one), reps)))
    where = f" ({inside})" if inside else ""
    doubt = f"; based on an entry {TO_CHECK}" if matter.on_doubt else ""
    struck = f"; {VOID} in {numbers('rep', matter.struck_reps)}" if matter.struck_reps else ""
    gone = "; its session was deleted" if one.deleted else ""
    return (
        f"{matter_name(matter)} on {date_words(one.day)}{where}: "
        f"{state_words(one)}{doubt}{struck}{gone}."
    )


def earlier_words(one: OpenMatter) -> str:
    """When the skin was bad that was not said to be clear: "red on 3 May 2031"; "" elsewhere."""
    if one.earlier is None:
        return ""
    day = None if one.earlier.began is None else one.earlier.began.date()
    return f"{listed(map(clean, one.earlier.names))} on {date_words(day)}"


def owner_matter_words(one: OpenMatter) -> str:
    """A matter that stands, in plain words for the owner: no names of rules, people or reps."""
    matter, day = one.matter, date_words(one.day)
    what = "A stop" if matter.kind == "stop" else matter_name(matter)
    inside = f" ({earlier_words(one)})" if one.earlier else ""
    doubt = UNCHECKED if matter.on_doubt else ""
    gone = ", of a session that was deleted" if doubt and one.deleted else ""
    return f"Not settled yet: {what[0].lower()}{what[1:]} on {day}{inside}{doubt}{gone}."


def closed_words(one: OpenMatter) -> str:
    """What a closed matter was, when, and who closed it when: in a sentence, without the stop."""
    what = "a stop" if one.matter.kind == "stop" else matter_name(one.matter)
    closing = one.closing
    by = ""
    if closing is not None:
        day = None if closing.at is None else closing.at.date()
        by = f" (closed by {clean(closing.who)} on {date_words(day)})"
    return f"{what[0].lower()}{what[1:]} on {date_words(one.day)}{by}"


def bad_day_words(found: Sequence[OpenMatter]) -> str:
    """What went wrong on the last bad day, and how many of it are closed; "" for nothing."""
    if not found:
        return ""
    named = [beside_mark(matter_name(one.matter)) for one in found]
    what = listed(dict.fromkeys(f"{name[0].lower()}{name[1:]}" for name in named))
    open_ = sum(one.stands for one in found)
    how = "closed since" if not open_ else "open" if open_ == len(found) else "in part open"
    return f"The last bad day was {date_words(found[0].day)}: {what}; {how}."


def matters_place_words(dog: str, face: Face) -> str:
    """Where the list of a dog's open matters is (`dog` is "" where none was named), in the terminal
    or on the page."""
    if face == "page":
        return "see Open matters"
    quoted = dog if dog.isalnum() else f'"{dog}"'
    return f"voicelog matters list{f' {quoted}' if dog else ''}"


def matter_count_words(found: Sequence[OpenMatter]) -> str:
    """How many stand, and how many of them bar the button: "2 open matters, 1 of them a stop"."""
    open_ = standing(found)
    if not open_:
        return "no open matter"
    stops = sum(one.is_stop for one in open_)
    words = counted(len(open_), "open matter")
    if not stops:
        return words
    if stops == len(open_):
        return f"{words}, {'a stop' if stops == 1 else 'all stops'}"
    return f"{words}, {'1 of them a stop' if stops == 1 else f'{stops} of them stops'}"


def spoken_matters(found: Sequence[OpenMatter]) -> str:
    """What stands, for the ear, in six words at most: "Skin open, no button."; "" for nothing."""
    open_ = standing(found)
    if not open_:
        return ""
    what = f"{len(open_)} matters" if len(open_) > 1 else _SPOKEN[open_[0].matter.kind]
    button = ", no button" if any(one.is_stop for one in open_) else ""
    return f"{what.capitalize()} open{button}."


def spoken_skin(skin: str | None, found: Sequence[OpenMatter]) -> str:
    """That the skin is to be looked at before the collar goes on, for the ear; "" where nothing of
    that is to be said. `skin` is how it was said to be last, `found` the open matters, which are
    told beside it: where the only one is the skin, that is said already."""
    open_ = standing(found)
    if skin not in BAD_SKIN or [one.matter.kind for one in open_] == ["skin"]:
        return ""
    return f"Skin was {skin}. Collar stays off."


def at_stake_lines(
    kept: Sequence[OpenMatter],
    forgotten: Sequence[OpenMatter],
    ceilings: Mapping[str, tuple[int | None, int | None]],
) -> tuple[str, ...]:
    """What a deletion keeps and forgets of matters and ceilings, a line each, before it is done."""
    lines = [f"Kept, without entries and sound: {matter_words(one)}" for one in kept]
    lines += [f"Forgotten: {matter_words(one)}" for one in forgotten]
    lines += [
        f"Forgotten: {clean(dog)}'s ceiling is {_ceiling(before)}, and then {_ceiling(after)}."
        for dog, (before, after) in ceilings.items()
    ]
    return tuple(lines)


def _ceiling(level: int | None) -> str:
    return "none" if level is None else "no level at all" if level < 0 else str(level)


def closing_asks(matter: SessionMatter) -> str:
    """Whom a closing has to name, "" where nobody."""
    return PROFESSIONAL if matter.kind in NEEDS_PROFESSIONAL else ""
