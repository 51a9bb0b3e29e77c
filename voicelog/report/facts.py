"""The facts of a session in words: who, when, where, with what, and how long it was worn.

A dog without a collar has no equipment lines: leaving them out says more than "not said". Where
"no collar" was said, that stands; where a dog with a collar was called and nothing was said, "not
said" does, since those calls do not count as unaided.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable
from itertools import groupby

from voicelog.model import FrozenModel, Session
from voicelog.report.state_words import CHECK
from voicelog.report.words import NOT_SAID, at_clock, clean, clock, counted, listed, times_words

__all__ = ["Fact", "collar_off", "session_facts"]

_SHOWN_IF_SAID = {"health": "health", "place": "location", "on game": "game"}
"""Facts that many sessions have nothing of: not saying them is no gap."""


HALF_A_MINUTE_S = 30
"""Below that it would be worn for "0 min"."""


class Fact(FrozenModel):
    """A labelled value of the session."""

    label: str
    value: str


def session_facts(session: Session, date: str, to_check: Collection[str] = ()) -> tuple[Fact, ...]:
    """The facts in the order they are read; `date` as it is to be shown. `session` is the one the
    paper is of; what only its entries `to_check` (ids) say is marked."""
    session = _of_what_held(session)
    sure = {fact.label: fact.value for fact in _facts(_without(session, to_check), date)}
    return tuple(_marked(fact, sure.get(fact.label, "")) for fact in _facts(session, date))


def _of_what_held(session: Session) -> Session:
    """The session with those marks alone that facts rest on: a long one has many more."""
    held = [mark for mark in session.marks if mark.kind in ("condition", "equipment", "press")]
    return session.model_copy(update={"marks": tuple(held)})


def _without(session: Session, to_check: Collection[str]) -> Session:
    """The session as if these entries had told nothing of what holds."""
    told = [m for m in session.marks if m.kind in ("condition", "equipment")]
    sure = {(m.at_s, m.name, str(m.value)) for m in told if m.entry not in to_check}
    doubted = {(m.at_s, m.name, str(m.value)) for m in told if m.entry in to_check} - sure
    return session.model_copy(
        update={
            "marks": tuple(mark for mark in session.marks if mark.entry not in to_check),
            "conditions": tuple(
                one for one in session.conditions if (one.at_s, one.name, one.value) not in doubted
            ),
        }
    )


def _marked(fact: Fact, sure: str) -> Fact:
    """The fact with the state of each part of it that stands on entries to check alone."""
    known = sure.split(", ")
    if fact.value in (NOT_SAID, sure):
        return fact
    parts = (part if part in known else f"{part} ({CHECK})" for part in fact.value.split(", "))
    return Fact(label=fact.label, value=", ".join(parts))


def _facts(session: Session, date: str) -> tuple[Fact, ...]:
    collar = _collar_used(session)
    facts = [
        ("dog", session.dog.name),
        ("date", date),
        ("drill", _through(session, "drill", (rep.drill for rep in session.reps))),
        ("line", _said(session, "line")),
        ("distraction", _distraction(session)),
        ("weather", _weather(session)),
        ("health", _through(session, "health")),
        ("handler", _said(session, "handler")),
        ("place", _said(session, "location")),
        ("collar", _collar(session)),
        ("on game", _game(session)),
        ("minutes", _minutes(session)),
        ("worn", _worn(session)),
    ]
    hidden = set()
    if not collar:
        hidden.add("worn")
        if not _without_from(session) and all(rep.mode != "unknown" for rep in session.reps):
            hidden.add("collar")
    if not collar and not _said(session, "line"):
        hidden.add("line")
    hidden |= {label for label, name in _SHOWN_IF_SAID.items() if not _said(session, name)}
    return tuple(
        Fact(label=label, value=clean(value) or NOT_SAID)
        for label, value in facts
        if label not in hidden
    )


def _at(session: Session, at_s: float) -> str:
    """When it was said, within a sentence; empty where nothing has a time (typed without any)."""
    return at_clock(at_s, session.end_s)


def _minutes(session: Session) -> str:
    """How long it was; empty where nothing has a time (typed without any)."""
    lasted_s = session.end_s - session.start_s
    return f"{lasted_s / 60:.0f}" if lasted_s else ""


def _said(session: Session, name: str) -> str:
    """The last value said for a condition or a piece of equipment; empty when never."""
    value = session.condition(name)
    if value is not None:
        return value
    return next((str(value) for _, value in reversed(_equipment(session, name))), "")


def _equipment(session: Session, name: str) -> list[tuple[float, str]]:
    return [
        (mark.at_s, str(mark.value))
        for mark in session.marks
        if mark.kind == "equipment" and mark.name == name
    ]


def _through(session: Session, name: str, else_: Iterable[str | None] = ()) -> str:
    """Every value a condition took, in order, with each return: "recall, then place, then
    recall"."""
    values = [c.value for c in session.conditions if c.name == name] or [v for v in else_ if v]
    return ", then ".join(value for value, _ in groupby(values))


def _distraction(session: Session) -> str:
    value = _through(session, "distraction", (rep.distraction for rep in session.reps))
    sources = _through(session, "distraction_source").replace(", then ", ", ")
    return f"{value} ({sources})" if value and sources else value or sources


def _game(session: Session) -> str:
    """What the dog did on game and at retrieves, with how often: "pointed 3 times, chased
    once"."""
    told = Counter(said.value for said in session.conditions if said.name == "game")
    return ", ".join(f"{what} {times_words(count)}" for what, count in told.items())


def _weather(session: Session) -> str:
    parts = []
    for name, unit in (("temperature", "C"), ("humidity", "%")):
        said = [c for c in session.conditions if c.name == name]
        if said:
            shown_unit = said[-1].unit or unit
            degree = f"°{shown_unit}" if shown_unit in ("C", "F") else shown_unit
            value = f"{said[-1].value} {degree}"
            parts.append(value if name == "temperature" else f"humidity {value}")
    return ", ".join(parts)


def _collar_used(session: Session) -> bool:
    buttons = ("vibrate", "tone", "momentary", "continuous")
    return any(rep.mode in buttons for rep in session.reps) or any(
        mark.kind == "press"
        or (
            mark.kind == "equipment"
            and mark.name != "line"
            and (mark.name, mark.value) != ("collar", "none")
        )
        for mark in session.marks
    )


def _without_from(session: Session) -> list[float]:
    return [at_s for at_s, how in _equipment(session, "collar") if how == "none"]


def _collar(session: Session) -> str:
    without = _without_from(session)
    if not _collar_used(session):
        return "none" if without else ""
    number = _said(session, "collar_number") or session.dog.collar_number
    contact = _worn_as(session, "contact")
    test, coat = _said(session, "test"), _worn_as(session, "coat")
    fit = _worn_as(session, "fit", lambda one: counted(int(one), "finger"))
    parts = (
        f"number {number}" if number not in (None, "") else "",
        fit and f"fit {fit}",
        contact and ("no contact" if contact == "none" else f"contact {contact}"),
        coat and f"coat {coat}",
        test and f"test {test}",
        *(
            f"slipped{_at(session, at)}"
            for at, how in _equipment(session, "collar")
            if how == "slipped"
        ),
        *(_none_from(session, at) for at in without),
    )
    return ", ".join(filter(None, parts))


def _worn_as(session: Session, name: str, counts: Callable[[str], str] = str) -> str:
    """Every value that was said of how the collar sits, in order, each later one with its time: "2
    fingers, then 1 finger at 1:28". `counts` words a number."""
    parts: list[str] = []
    before = None
    for at_s, value in _equipment(session, name):
        if value != before:
            words = counts(value) if value.isdecimal() else value
            parts.append(f"{words}{_at(session, at_s)}" if parts else words)
        before = value
    return ", then ".join(parts)


def _none_from(session: Session, at_s: float) -> str:
    return f"none from {clock(at_s)}" if session.end_s > 0 else "none"


def _worn(session: Session) -> str:
    """Minutes between "collar fitted" and "stripped"; empty unless both were said, and not known
    where the two have one and the same time (typed without any)."""
    total, fitted, spans = 0.0, None, 0
    for at_s, value in _equipment(session, "collar"):
        if value == "fitted" and fitted is None:
            fitted = at_s
        elif value in ("stripped", "none") and fitted is not None:
            total, fitted, spans = total + at_s - fitted, None, spans + 1
    if fitted is not None:
        return f"{NOT_SAID} (fitted{_at(session, fitted)}, nothing said of taking it off)"
    if spans and not total:
        return "not known"
    if spans and total < HALF_A_MINUTE_S:
        return "less than 1 min"
    return f"{total / 60:.0f} min" if spans else ""


def collar_off(session: Session, to_check: Collection[str] = ()) -> tuple[Fact, ...]:
    """Skin, and when the collar came off; nothing for a dog that wore none. `session` is the one
    that was worked; what only its entries `to_check` (ids) say is marked."""
    sure = {fact.label: fact.value for fact in _off(_without(session, to_check))}
    return tuple(_marked(fact, sure.get(fact.label, "")) for fact in _off(session))


def _off(session: Session) -> tuple[Fact, ...]:
    if not _collar_used(session):
        return ()
    skin = [f"{value}{_at(session, at_s)}" for at_s, value in _equipment(session, "skin")]
    off = [clock(at) for at, value in _equipment(session, "collar") if value == "stripped"]
    when = f"at {listed(off)}" if session.end_s > 0 else "said"
    return (
        Fact(label="skin", value=clean(", then ".join(skin)) or NOT_SAID),
        Fact(label="collar off", value=when if off else NOT_SAID),
    )
