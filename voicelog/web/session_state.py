"""A session as the page holds it: rows and reps as data, the rest as parts; and what a change made
different.

The page has the whole once. After a change it is sent only the rows, reps and parts that are other
than they were, so a correction costs the same in a session of thousands of entries. A state has a
stamp; who says which one is on the screen is answered with the difference to that, and with the
whole where it is no longer known.
"""

from __future__ import annotations

import secrets
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zlib import crc32

from voicelog.app.review.evening import Evening
from voicelog.app.review.review_queue import MOST_WEIGHT
from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.model import Rep
from voicelog.report.review_words import condition_words, entry_facts
from voicelog.report.state_words import CHECK, NOT_UNDERSTOOD, SURE, VOID
from voicelog.report.summary_rows import SummaryRow
from voicelog.report.words import clean, clock_if_timed

__all__ = ["SessionState", "SessionStates", "session_state"]

Data = dict[str, Any]


@dataclass(frozen=True)
class SessionState:
    """All that the page holds of a session. `rows` are in order of time, `check` the ids of those
    to check in the order to take them, `findings` and `conditions` those of the timeline, `parts`
    HTML by name, `tonight` how many of `check` are for
    this evening."""

    rows: Mapping[str, Data]
    check: Sequence[str]
    reps: Mapping[str, Data]
    findings: Mapping[str, Data]
    conditions: Sequence[Data]
    parts: Mapping[str, str]
    tonight: int
    made: Mapping[str, tuple[EntryRow, str, tuple[str, ...]]]
    """What each row was made of."""
    stamp: str = field(default_factory=lambda: secrets.token_urlsafe(9))

    def whole(self) -> Data:
        """All that is data."""
        return {
            "stamp": self.stamp,
            "rows": list(self.rows.values()),
            "check": list(self.check),
            "reps": list(self.reps.values()),
            "findings": list(self.findings.values()),
            "conditions": list(self.conditions),
            "tonight": self.tonight,
        }

    def since(self, before: SessionState) -> Data:
        """What is other than in a state before."""
        return {
            "stamp": self.stamp,
            "rows": _changes(before.rows, self.rows),
            "check": _order(before.check, self.check),
            "reps": _changes(before.reps, self.reps),
            "findings": _changes(before.findings, self.findings),
            "conditions": None if before.conditions == self.conditions else self.conditions,
            "tonight": self.tonight,
            "parts": {n: html for n, html in self.parts.items() if before.parts.get(n) != html},
        }


class SessionStates:
    """The states that pages were sent last, by their stamps. May be used from several threads."""

    MOST = 12
    """States that are kept."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[str, SessionState] = OrderedDict()

    def keep(self, state: SessionState) -> None:
        """A page holds this state from now on."""
        with self._lock:
            self._known[state.stamp] = state
            while len(self._known) > self.MOST:
                self._known.popitem(last=False)

    def of(self, stamp: str | None) -> SessionState | None:
        """The state of a stamp, None where it is not known."""
        with self._lock:
            return self._known.get(stamp or "")


def session_state(
    view: SessionView,
    evening: Evening,
    parts: Mapping[str, str],
    known: SessionState | None = None,
) -> SessionState:
    """The state of a view. `parts` are its parts as HTML; `known` is an earlier state, whose rows
    are taken over where nothing about them changed."""
    reps_of: dict[str, tuple[str, ...]] = {}
    reps = view.session.reps if view.session else ()
    for rep in reps:
        for entry in rep.entries:
            reps_of[entry] = (*reps_of.get(entry, ()), rep.id)
    to_check = {row.entry.id for row in evening.first}
    rows: dict[str, Data] = {}
    made: dict[str, tuple[EntryRow, str, tuple[str, ...]]] = {}
    for row in view.rows:
        name = row.entry.id
        around = evening.around.get(name, "") if name in to_check else ""
        of = (row, around, reps_of.get(name, ()))
        was = None if known is None else known.made.get(name)
        if known is not None and was == of:
            made[name], rows[name] = was, known.rows[name]
        else:
            made[name], rows[name] = of, _row(*of)
    lines = view.summary.reps if view.summary else ()
    return SessionState(
        rows=rows,
        check=[row.entry.id for row in evening.first],
        reps={rep.id: _rep(rep, line) for rep, line in zip(reps, lines, strict=True)},
        findings=_findings(view, rows),
        conditions=_conditions(view),
        parts=parts,
        tonight=evening.tonight,
        made=made,
    )


def _row(row: EntryRow, around: str, reps: tuple[str, ...]) -> Data:
    entry = row.entry
    unread = entry.by != "person" and bool(entry.phrases) and not row.guessed
    if row.word == NOT_UNDERSTOOD:
        confirm = "take" if entry.phrases else ""
    else:
        confirm = "confirm" if unread and row.word != VOID else ""
    unplaced = not row.placed and row.word == SURE
    facts = entry_facts(
        guessed=row.guessed,
        talk=row.word == NOT_UNDERSTOOD and bool(entry.phrases),
        unplaced=unplaced,
        corrects=row.corrects,
        moved_to=entry.dog,
        by=entry.who if entry.by == "person" else None,
        edits=row.edits,
    )
    found: Data = {
        "id": entry.id,
        "version": row.version,
        "word": row.word,
        "at": clock_if_timed(entry.start_s, entry.end_s),
        "from": round(entry.start_s, 2),
        "to": round(entry.end_s, 2),
        "said": clean(row.said) or "no words",
        "facts": [*facts, *([clean(around)] if around else [])],
        "confirm": confirm,
        "reps": reps,
    }
    if row.check is not None or row.is_unread:
        found |= {"why": row.why, "offers": row.offers[:9], "weighs": row.rank <= MOST_WEIGHT}
    if not row.said:
        found["wordless"] = True
    if row.guessed:
        found["guessed"] = True
    if unplaced:
        found["loose"] = True
    return found


def _rep(rep: Rep, line: SummaryRow) -> Data:
    return {
        "id": rep.id,
        "from": round(rep.start_s, 2),
        "to": round(rep.end_s, 2),
        "word": line.word,
        "at": line.at,
        "cells": [line.call, line.button, line.outcome, _seen(line)],
        "levels": line.levels,
        "shape": line.shape,
        "stress": line.stress,
    }


def _seen(line: SummaryRow) -> str:
    """What was seen and given, and how long it took: the page has no columns for times."""
    turned = line.turned and f"{line.turned} s to turn"
    came = line.came and f"{line.came} s to come"
    return ", ".join(filter(None, (line.seen, turned, came))) or "-"


def _findings(view: SessionView, rows: Mapping[str, Data]) -> dict[str, Data]:
    """The findings by what they rest on, each at the moment of the last of it."""
    found: dict[str, Data] = {}
    for one in view.page.findings if view.page else ():
        at = [rows[name]["from"] for name in one.evidence if name in rows]
        rests_on = " ".join((one.rule, *one.evidence))
        name = f"{crc32(rests_on.encode()):x}"
        found[name] = {
            "id": name,
            "at": max(at, default=0.0),
            "severity": one.severity,
            "state": VOID if one.struck else CHECK if one.on_doubt else SURE,
            "rule": one.rule,
        }
    return found


def _conditions(view: SessionView) -> list[Data]:
    held = view.session.conditions if view.session else ()
    return [{"at": round(one.at_s, 2), "text": condition_words(one)} for one in held]


def _changes(before: Mapping[str, Data], after: Mapping[str, Data]) -> Data:
    """`gone` ids, and `changed` items, those that are new with the id that they come `after`."""
    changed = []
    last = ""
    for name, item in after.items():
        if name not in before:
            changed.append(item | {"after": last})
        elif before[name] is not item and before[name] != item:
            changed.append(item)
        last = name
    gone = [name for name in before if name not in after]
    moved = [name for name in before if name in after] != [name for name in after if name in before]
    return {"changed": changed, "gone": gone} | ({"order": list(after)} if moved else {})


def _order(before: Sequence[str], after: Sequence[str]) -> Data | list[str]:
    """An order as a change of another, or as it is where more than a few changed places."""
    old, new = set(before), set(after)
    if [one for one in before if one in new] != [one for one in after if one in old]:
        return list(after)
    added = []
    for place, name in enumerate(after):
        if name not in old:
            added.append([name, after[place - 1] if place else ""])
    return {"gone": [one for one in before if one not in new], "added": added}
