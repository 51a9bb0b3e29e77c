"""What a session's reps come to: counts in words, and the levels seen by drill and mode.

Only sure reps count: one that is to check or void is named as left out. Taps in drill "find
level" say what the body showed, not whether the dog came, so they are never pooled with
other reps.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Literal

from voicelog.analysis.unaided import asked, came_at_once, unaided
from voicelog.model import FrozenModel, Mode, Outcome, Rep, Session, SignClass
from voicelog.model.domain import FIND_LEVEL, STIMULATION
from voicelog.report.state_words import CHECK, SURE, VOID, counted_reps, rep_word
from voicelog.report.words import NOT_SAID, clean, counted, first_call_words, listed, numbers

__all__ = [
    "LevelCells",
    "LevelRow",
    "Reaction",
    "answered_at",
    "came",
    "count_lines",
    "is_tap",
    "level_rows",
    "shown",
    "sure",
]


Reaction = Literal["strong", "noticed", "weak", "nothing", "not said"]
"""What the body showed in a rep, the weightiest first."""

_NOUNS = {
    "recall": "recall",
    "stop": "stop",
    "place": "place",
    "heel": "heel rep",
    "steady": "steady rep",
    "bird": "bird rep",
    "gun": "gun rep",
    FIND_LEVEL: "find-level tap",
}
_OTHER_OUTCOMES = {
    "partial": "partway",
    "helped": "line help",
    "ignored": "ignored",
    "left": "peeled off",
    "broke": "broke",
}

_FAILED_FIRST: Mapping[Outcome, str] = {
    "ignored": "ignored the call",
    "left": "peeled off",
    "broke": "broke",
}


class LevelCells(FrozenModel):
    """The levels of one drill and mode in words: first noticed, answered, too much."""

    noticed: str = NOT_SAID
    answered: str = NOT_SAID
    too_much: str = NOT_SAID


class LevelRow(FrozenModel):
    """One drill and mode: this session's levels beside last time's (None: no comparison)."""

    label: str
    now: LevelCells
    last: LevelCells | None = None


def sure(rep: Rep) -> bool:
    """Whether the rep counts: neither to check nor void."""
    return rep_word(rep) == SURE


def is_tap(rep: Rep) -> bool:
    """Whether the rep belongs to drill "find level"."""
    return rep.drill == FIND_LEVEL


def came(rep: Rep) -> bool:
    """Whether the dog did it by itself, promptly or slowly."""
    return rep.outcome in ("complied", "slow")


def answered_at(rep: Rep) -> int | None:
    """The level it took: the highest in the rep, since a trainer rolls back on the answer."""
    if not came(rep) or rep.mode not in ("momentary", "continuous"):
        return None
    if rep.peak_level is not None:
        return rep.peak_level
    return max((mark.level for mark in rep.levels), default=None)


def shown(rep: Rep) -> Reaction:
    """The weightiest thing the body showed in the rep."""
    classes: set[SignClass] = {mark.class_ for mark in rep.sign_marks}
    for class_ in ("strong", "noticed", "weak"):
        if class_ in classes:
            return class_
    return "nothing" if "none" in classes else "not said"


# --- counts ----------------------------------------------------------------------------


def count_lines(session: Session) -> tuple[str, ...]:
    """The counts in words: how many reps there are, where some do not count; a line per drill;
    then what was left out.

    In each line the parts add up to the whole. Of the reps with a call that was heard and an
    outcome that was said, it is given how many came after one call in any way, and how many of
    them unaided (`analysis.unaided`).
    """
    if not session.reps:
        return ("No reps in this session.",)
    counting = [rep for rep in session.reps if sure(rep)]
    lines: list[str] = []
    if len(counting) < len(session.reps):
        which = "only the sure ones count" if counting else "none is sure, so none counts"
        lines.append(f"{counted_reps(map(rep_word, session.reps))}; {which}")
    drills = dict.fromkeys(rep.drill for rep in counting)
    for drill in sorted(drills, key=lambda drill: drill == FIND_LEVEL):
        reps = [rep for rep in counting if rep.drill == drill]
        noun = _NOUNS.get(drill, f"{drill} rep") if drill else "rep"
        if drill == FIND_LEVEL:
            parts = _tap_parts(reps)
            lines.append(f"{counted(len(reps), noun)}, counted apart: {', '.join(parts)}")
        else:
            head = f"{counted(len(reps), noun)}: {', '.join(_outcome_parts(reps))}"
            lines.append(head + _first_call(reps))
    left_out = [
        f"{numbers('rep', group)} ({word})"
        for word in (CHECK, VOID)
        if (group := [rep.number for rep in session.reps if rep_word(rep) == word])
    ]
    if left_out:
        lines.append(f"Not counted: {listed(left_out)}")
    return tuple(lines)


def _outcome_parts(reps: Sequence[Rep]) -> list[str]:
    counts = Counter(_bucket(rep) for rep in reps)
    return [f"{count} {words}" for (_, _, words), count in sorted(counts.items())]


def _bucket(rep: Rep) -> tuple[int, int, str]:
    """Where a rep is counted: (order, level, words). What it did before, and a strong sign of
    stress, stand in the same words, so that no count of answers hides them."""
    order, level, words = _by_outcome(rep)
    if rep.failed_first is not None:
        words = f"{words} after it {_FAILED_FIRST[rep.failed_first]}"
    strong = dict.fromkeys(mark.sign for mark in rep.sign_marks if mark.class_ == "strong")
    return order, level, f"{words} ({clean(' and '.join(strong))})" if strong else words


def _by_outcome(rep: Rep) -> tuple[int, int, str]:
    if rep.outcome in ("complied", "slow"):
        slow = rep.outcome == "slow"
        order = 10 if slow else 0
        level = answered_at(rep)
        if rep.mode == "none":
            words = "slow with no button" if slow else "no button"
            if rep.cues > 1:
                return order + 1, 0, f"{words} at a later call"
            return order, 0, words
        if rep.mode in ("vibrate", "tone"):
            return order + 2, 0, f"{'slow' if slow else 'answered'} on {rep.mode}"
        if level is not None:
            return order + 3, level, f"{'slow' if slow else 'answered'} at {level}"
        what = "button" if rep.mode == "unknown" else "level"
        return order + 4, 0, f"{'slow' if slow else 'came'} ({what} not said)"
    outcomes = list(_OTHER_OUTCOMES)
    if rep.outcome in _OTHER_OUTCOMES:
        return 20 + outcomes.index(rep.outcome), 0, _OTHER_OUTCOMES[rep.outcome]
    return 30, 0, "outcome not said"


def _first_call(reps: Sequence[Rep]) -> str:
    calls = [rep for rep in reps if asked(rep)]
    if not calls:
        return ""
    words = first_call_words(sum(map(unaided, calls)), sum(map(came_at_once, calls)), len(calls))
    return f"; {words}"


def _tap_parts(reps: Sequence[Rep]) -> list[str]:
    order: tuple[Reaction, ...] = ("nothing", "weak", "noticed", "strong", "not said")
    words = {"weak": "weak sign", "strong": "strong sign", "not said": "sign not said"}
    parts = []
    for what in order:
        group = [rep for rep in reps if shown(rep) == what]
        if group:
            levels = sorted({rep.peak_level for rep in group if rep.peak_level is not None})
            at = f" at {listed(str(level) for level in levels)}" if levels else ""
            parts.append(f"{len(group)} {words.get(what, what)}{at}")
    return parts


# --- levels ----------------------------------------------------------------------------


def level_rows(session: Session, previous: Session | None = None) -> tuple[LevelRow, ...]:
    """Noticed, answered and too much, by drill and mode, beside the previous session's. A level
    with a strong sign is in a row too where no mode was said.

    A previous session worked with another transmitter is left out: its levels mean
    something else.
    """
    if previous is not None and previous.dog.transmitter != session.dog.transmitter:
        previous = None
    keys = _keys(session) | (_keys(previous) if previous else set())
    rows = []
    for drill, mode in sorted(keys, key=lambda key: (key[0] == FIND_LEVEL, key[0] or "", key[1])):
        rows.append(
            LevelRow(
                label=", ".join(
                    filter(None, (drill, "mode not said" if mode == "unknown" else mode))
                ),
                now=_cells(session, drill, mode),
                last=_cells(previous, drill, mode) if previous else None,
            )
        )
    return tuple(rows)


def _keys(session: Session) -> set[tuple[str | None, Mode]]:
    return {
        (rep.drill, rep.mode)
        for rep in session.reps
        if not rep.void and (rep.mode in STIMULATION or _strong_levels(rep))
    }


def _cells(session: Session, drill: str | None, mode: Mode) -> LevelCells:
    reps = [rep for rep in session.reps if (rep.drill, rep.mode) == (drill, mode) and not rep.void]
    if not reps:
        return LevelCells(noticed="not worked", answered="-", too_much="-")
    counting = [rep for rep in reps if sure(rep)]
    noticed = _lowest(counting, "noticed")
    answers = Counter(level for rep in counting if (level := answered_at(rep)) is not None)
    too_much = _too_much(counting)
    # Doubt is one-sided: an unsure strong sign is shown, an unsure answer is not.
    unsure = _too_much([rep for rep in reps if rep.doubtful])
    words = NOT_SAID if too_much is None else str(too_much)
    if unsure is not None and (too_much is None or unsure < too_much):
        perhaps = f"{unsure}? ({CHECK})"
        words = perhaps if too_much is None else f"{words}, or {perhaps}"
    return LevelCells(
        noticed=NOT_SAID if noticed is None else str(noticed),
        answered=", ".join(
            f"{level} ({counted(count, 'rep')})" for level, count in sorted(answers.items())
        )
        or ("-" if drill == FIND_LEVEL else NOT_SAID),
        too_much=words,
    )


def _too_much(reps: Sequence[Rep]) -> int | None:
    return min((level for rep in reps for level in _strong_levels(rep)), default=None)


def _strong_levels(rep: Rep) -> list[int]:
    """The levels at which a strong sign showed; the rep's highest where the sign has none."""
    peak = rep.peak_level
    if peak is None:
        peak = max((mark.level for mark in rep.levels), default=None)
    levels = [
        peak if mark.level is None else mark.level
        for mark in rep.sign_marks
        if mark.class_ == "strong"
    ]
    return [level for level in levels if level is not None]


def _lowest(reps: Sequence[Rep], class_: SignClass) -> int | None:
    return min(
        (
            mark.level
            for rep in reps
            for mark in rep.sign_marks
            if mark.class_ == class_ and mark.level is not None
        ),
        default=None,
    )
