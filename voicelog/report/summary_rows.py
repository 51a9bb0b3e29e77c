"""The rows of a summary: a rep or an entry in words, and the mark that stands on the plot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import Literal

from voicelog.analysis.rep_questions import WAITS_FOR_ENTRY
from voicelog.analysis.session_digest import failed_s
from voicelog.model import EntryOutput, FrozenModel, Outcome, Rep, Session
from voicelog.model.domain import NOT_COMING
from voicelog.model.same_object import once_per_object
from voicelog.report.rep_counts import Reaction, is_tap, shown
from voicelog.report.state_words import (
    CHECK,
    NOT_UNDERSTOOD,
    TO_CHECK,
    StateWord,
    entry_word,
    rep_word,
    void_reps_words,
)
from voicelog.report.words import (
    NOT_SAID,
    Face,
    clean,
    clock_if_timed,
    counted,
    listed,
    numbers,
    sentence,
)

__all__ = [
    "EntryNote",
    "PlotRow",
    "PlotShape",
    "SummaryRow",
    "check_note",
    "entries_to_check",
    "flagged_entries",
    "other_dog_words",
    "reps_note",
    "says_whose",
    "summary_row",
    "summary_rows",
    "whose_session_words",
]

PlotRow = Literal["level", "vibrate", "tone", "no button", "not said"]
"""Where a rep stands on the plot: on a level, or on a row of its own."""

PlotShape = Literal[
    "complied", "part", "ignored", "helped", "left", "broke", "noticed", "nothing", "unsaid"
]
"""The mark of a rep on the plot; noticed and nothing are for drill "find level"."""

_OUTCOMES: Mapping[Outcome | None, tuple[PlotShape, str]] = {
    "complied": ("complied", "came"),
    "slow": ("part", "slow"),
    "partial": ("part", "partway"),
    "ignored": ("ignored", "ignored"),
    "helped": ("helped", "line help"),
    "left": ("left", "peeled off"),
    "broke": ("broke", "broke"),
    "unknown": ("unsaid", NOT_SAID),
    None: ("unsaid", NOT_SAID),
}
_TAPS: Mapping[Reaction, tuple[PlotShape, str]] = {
    "strong": ("noticed", "strong sign"),
    "noticed": ("noticed", "noticed"),
    "weak": ("noticed", "weak sign"),
    "nothing": ("nothing", "nothing"),
    "not said": ("unsaid", NOT_SAID),
}
_FAILED: Mapping[Outcome, str] = {"ignored": "ignored", "left": "peeled off", "broke": "broke"}
"""What a dog may have done before it came or was helped, as codes, and in words."""
_DONE = "done"
_STANDING_DRILLS = ("stop", "place", "heel", "steady", "bird", "gun")


class SummaryRow(FrozenModel):
    """A row of the summary's table: text to lay out, and the mark on the plot; nothing is worked
    out of it. `at` is minutes:seconds in the recording, "" where it has no time."""

    number: int
    at: str
    word: StateWord
    drill: str
    call: str
    button: str
    outcome: str
    seen: str
    turned: str
    came: str
    """Seconds (s) from the call to the turn, and to arriving; empty when not timed."""
    lane: PlotRow
    levels: tuple[int, ...]
    shape: PlotShape
    stress: bool

    @property
    def peak(self) -> int | None:
        """The highest level of the trace, where the mark is drawn."""
        return max(self.levels, default=None)


class EntryNote(FrozenModel):
    """An entry to check, or one that was flagged."""

    at: str
    word: StateWord
    words: str


@once_per_object
def summary_row(rep: Rep) -> SummaryRow:
    """A rep as a row."""
    levels = tuple(mark.level for mark in rep.levels)
    if not levels and rep.peak_level is not None:
        levels = (rep.peak_level,)
    shape, outcome = _OUTCOMES[rep.outcome]
    if is_tap(rep) and shape == "unsaid":
        shape, outcome = _TAPS[shown(rep)]
    elif shape == "complied" and rep.drill in _STANDING_DRILLS:
        outcome = _DONE
    if rep.failed_first is not None:
        outcome = f"{_FAILED[rep.failed_first]}, {outcome}"
    return SummaryRow(
        number=rep.number,
        at=clock_if_timed(rep.start_s, rep.end_s),
        word=rep_word(rep),
        drill=clean(rep.drill or NOT_SAID),
        call=_call(rep),
        button=_button(rep, levels),
        outcome=outcome,
        seen=clean(", ".join((*dict.fromkeys(rep.signs), *rep.rewards))),
        turned="" if rep.turned_s is None else f"{rep.turned_s:.1f}",
        came="" if rep.latency_s is None else f"{rep.latency_s:.1f}",
        lane=_lane(rep, levels),
        levels=levels,
        shape=shape,
        stress=rep.stress,
    )


def summary_rows(session: Session) -> tuple[SummaryRow, ...]:
    """The reps of a session as rows. Where a dog that did not come did something else, as "sat to
    whistle", that is the outcome as it was said."""
    rows = tuple(map(summary_row, session.reps))
    said = {mark.rep: str(mark.value) for mark in session.marks if mark.kind == "outcome"}
    return tuple(
        row.model_copy(update={"outcome": f"{row.outcome.removesuffix(_DONE)}{said[row.number]}"})
        if row.outcome.endswith(_DONE) and said.get(row.number) in NOT_COMING
        else row
        for row in rows
    )


def _call(rep: Rep) -> str:
    if rep.cue is None and rep.cues == 0:
        return "-" if is_tap(rep) else NOT_SAID
    by = "" if rep.cue_by in (None, "voice") else f" ({rep.cue_by})"
    times = f" ×{rep.cues}" if rep.cues > 1 else ""
    return clean(f"{rep.cue or 'called'}{by}{times}")


def _button(rep: Rep, levels: Sequence[int]) -> str:
    if rep.mode == "none":
        return "no button"
    if rep.mode == "unknown":
        return " ".join((NOT_SAID, ", ".join(map(str, levels)))).strip()
    if rep.mode in ("vibrate", "tone"):
        return rep.mode
    mode = "tap" if rep.mode == "momentary" else "cont."
    return f"{mode} {', '.join(map(str, levels)) or NOT_SAID}"


def _lane(rep: Rep, levels: Sequence[int]) -> PlotRow:
    if levels:
        return "level"
    if rep.mode == "none":
        return "no button"
    if rep.mode == "vibrate":
        return "vibrate"
    return "tone" if rep.mode == "tone" else "not said"


def reps_note(session: Session, to_check: Collection[str] = ()) -> str:
    """What the table and the plot cannot say by themselves. `to_check` are the ids of the entries
    of the `session` that are to check: a rep that is to check for one beside it waits."""
    reps = session.reps
    if not reps:
        return "No reps were heard in this session, so there is nothing to draw or to count."
    live = [rep for rep in reps if not rep.void and not is_tap(rep)]
    timed = sum(1 for rep in live if rep.latency_s is not None)
    watched = failed_s(session)
    failed = sum(1 for rep in live if rep.latency_s is None and rep.number in watched)
    void = [rep.number for rep in reps if rep.void]
    notes = ["No rep was timed: that needs the call and the outcome said apart."]
    if timed:
        notes = [f"Times in seconds, by ear (about 1 s either way); {timed} of {len(live)} timed."]
    if failed:
        were = "was timed, and did" if failed == 1 else "were timed, and did"
        more = "more" if timed else "rep" if failed == 1 else "reps"
        said = (
            f"{failed} {more} {were} not end with the dog coming: progress counts such times too."
        )
        notes = [*(notes if timed else []), said]
    if void:
        notes.append(sentence(f"{void_reps_words(void)} (taken back, or no contact), not drawn"))
    waiting = [
        rep.number
        for rep in reps
        if not rep.void
        and not WAITS_FOR_ENTRY.isdisjoint(rep.doubts)
        and not set(rep.entries) & set(to_check)
    ]
    if waiting:
        waits, them = ("waits", "it") if len(waiting) == 1 else ("wait", "them")
        notes.append(f"{numbers('Rep', waiting)} {waits} for an entry {TO_CHECK} beside {them}.")
    return " ".join(notes)


_QUESTIONS_AT: Mapping[Face, str] = {
    "terminal": ": voicelog questions",
    "page": ", asked above the entries",
}
_LINES_AT: Mapping[Face, str] = {"terminal": ": voicelog correct", "page": " among the entries"}
"""Where reps are answered for, and typed lines read, in the terminal and on the page."""


_COUNTED_ONCE = "counted only once confirmed or corrected"
_NOTHING = f"Nothing {TO_CHECK}"


def check_note(
    entries: Sequence[EntryOutput],
    questions: Sequence[int] = (),
    *,
    typed: bool = False,
    face: Face = "terminal",
) -> str:
    """How many entries are to check, which reps (`questions`, their numbers) have a question, and
    what counts in nothing. `typed`: they are lines that somebody typed; `face` is where it is
    read."""
    live = [entry for entry in entries if not entry.voided]
    words = Counter(map(entry_word, live))
    of_entries = counted(words[CHECK], "entry", "entries")
    asked = f"{'each ' if len(questions) > 1 else ''}with a question{_QUESTIONS_AT[face]}"
    if words[CHECK] and questions:
        notes = [
            f"{of_entries} {TO_CHECK}, {_COUNTED_ONCE}, and {numbers('rep', questions)}, {asked}"
        ]
    elif questions:
        notes = [f"{numbers('Rep', questions)} {TO_CHECK}, {asked}"]
    else:
        notes = [f"{of_entries} {TO_CHECK}, {_COUNTED_ONCE}"] if words[CHECK] else []
    if not notes and not (typed and words[NOT_UNDERSTOOD]):
        notes = [_NOTHING]
    if words[NOT_UNDERSTOOD]:
        strange = counted(words[NOT_UNDERSTOOD], "line" if typed else "sound")
        kept_at = f" and in no count{_LINES_AT[face]}" if typed else ""
        notes.append(f"{strange} {NOT_UNDERSTOOD}, kept{kept_at}")
    loose = sum(1 for entry in live if entry.status == "accepted" and not entry.placed)
    if loose:
        notes.append(f"{counted(loose, 'entry', 'entries')} heard but belonging to no rep")
    return "; ".join(notes) + "."


def _doubt(entry: EntryOutput) -> str:
    readings = dict.fromkeys(filter(None, map(clean, (entry.reading, *entry.alternatives))))
    offered = listed((f'"{reading}"' for reading in readings), last="or")
    return offered or f'heard "{clean(entry.heard)}"'


def other_dog_words(session: Session, entry: str) -> str:
    """Why it is not sure whose an entry is; empty where it is. `session` is the one it fell in."""
    others = session.others.get(entry, ())
    if not others:
        return ""
    named = listed(map(clean, others), last="or")
    return f"said in one breath with a call of {named}, in {clean(session.dog.name)}'s session"


def whose_session_words(session: Session) -> str:
    """That an entry to check says whose this `session` is, and what hangs on it."""
    nothing = "; no rep after it counts until then" if all(r.doubtful for r in session.reps) else ""
    return f"whether this session is {clean(session.dog.name)}'s{nothing}"


def says_whose(session: Session, entry: EntryOutput) -> bool:
    """Whether an `entry` is to check and says whose this `session` is."""
    named = entry.slots.get("dog") if "session" in entry.kind.split("+") else None
    return entry_word(entry) == CHECK and entry.placed and named == session.dog.name


def entries_to_check(session: Session, entries: Sequence[EntryOutput]) -> tuple[EntryNote, ...]:
    """The entries to check, with every reading on offer, or why a person must say. `session` is the
    one they fell in."""
    return tuple(
        EntryNote(
            at=clock_if_timed(entry.start_s, entry.end_s),
            word=CHECK,
            words=": ".join(filter(None, (_doubt(entry), _whose(session, entry)))),
        )
        for entry in entries
        if entry_word(entry) == CHECK
    )


def _whose(session: Session, entry: EntryOutput) -> str:
    if says_whose(session, entry):
        return whose_session_words(session)
    return other_dog_words(session, entry.id)


def flagged_entries(session: Session, entries: Sequence[EntryOutput]) -> tuple[EntryNote, ...]:
    """The entries that the trainer flagged. `session` is the one they fell in."""
    return tuple(
        EntryNote(
            at=clock_if_timed(entry.start_s, entry.end_s),
            word=entry_word(entry),
            words=f'"{clean(entry.reading or entry.heard)}"',
        )
        for entry in entries
        if entry.id in session.flagged
    )
