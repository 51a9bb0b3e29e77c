"""The summary for a terminal: 80 columns, legible without colour.

Everything hangs off one margin on the left: it says what a line is about, and for reps
and entries whether they are sure, are to check or not understood, or are void.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from voicelog.report.notices import told
from voicelog.report.rep_plot_text import draw
from voicelog.report.state_words import TO_CHECK
from voicelog.report.summary import Summary
from voicelog.report.terminal_page import WIDTH, TerminalPage, pad
from voicelog.report.unread_lines import NOT_COUNTED
from voicelog.report.words import NOT_SAID

__all__ = ["WIDTH", "render"]

_SEVERITY = {"stop": "STOP", "caution": "CAUTION", "remark": "remark"}
_PLAIN = str.maketrans({"°": "", "×": "x"})


def render(summary: Summary, *, colour: bool = False, plain: bool = False) -> str:
    """The summary as lines of at most 80 cells, ending in a newline.

    Args:
        colour: adds ANSI colour to the margin; nothing is said by colour alone.
        plain: for a screen reader, or a terminal with few characters: no columns and no
            plot, one thing after the other, our own marks in ASCII.
    """
    page = TerminalPage(colour)
    _notices(page, summary)
    page.gap()
    if plain:
        for fact in summary.facts:
            page.put(fact.label, fact.value)
    else:
        _facts(page, summary)
    page.gap()
    for number, line in enumerate(summary.counts):
        page.put("" if number else "counts", line)
    if summary.levels:
        page.gap()
        (_levels_in_words if plain else _levels)(page, summary)
    page.gap()
    if not plain:
        for number, line in enumerate(draw(summary.reps, page.room)):
            page.raw("plot" if not number else "", line)
        page.gap()
    (_reps_in_words if plain else _reps)(page, summary)
    page.gap()
    for fact in summary.off:
        page.put(fact.label, fact.value)
    page.put(TO_CHECK, summary.check_note)
    for note in summary.to_check:
        page.put(note.word, "  ".join(filter(None, (note.at, note.words))))
    for number, note in enumerate(summary.flagged):
        said = "  ".join(filter(None, (note.at, note.words, note.word)))
        page.put("" if number else "flagged", said)
    page.gap()
    page.put("next", summary.next_session)
    page.gap()
    for number, line in enumerate(summary.cautions.splitlines()):
        page.put("" if number else "remember", line)
    page.put("", summary.footer)
    text = "\n".join(page.lines) + "\n"
    return text.translate(_PLAIN) if plain else text


def _notices(page: TerminalPage, summary: Summary) -> None:
    page.put(NOT_COUNTED, summary.unread)
    if summary.safety:
        page.put("safety", summary.safety)
    for one in told(summary.notices):
        page.put(_SEVERITY[one.severity], one.message)
        page.put("next time", one.advice)
    for number, line in enumerate(summary.matters):
        page.put("" if number else "matters", line)
    for number, line in enumerate(summary.changed):
        page.put("" if number else "changed", line)


def _facts(page: TerminalPage, summary: Summary) -> None:
    """Two to a line where both fit."""
    half = page.room // 2 - 3
    facts = list(summary.facts)
    while facts:
        left = facts.pop(0)
        if facts and cell_len(left.value) <= half - 8:
            right = facts[0]
            second = f"{right.label:>11}  {right.value}"
            if cell_len(second) <= page.room - half + 8 - 2:
                facts.pop(0)
                page.raw(left.label, f"{pad(left.value, half - 8)}{second}")
                continue
        page.put(left.label, left.value)


def _levels(page: TerminalPage, summary: Summary) -> None:
    rows: list[tuple[str, Sequence[str]]] = [("levels", ("", "noticed", "answered", "too much"))]
    for row in summary.levels:
        rows.append(("", (row.label, row.now.noticed, row.now.answered, row.now.too_much)))
        if row.last:
            last = (row.last.noticed, row.last.answered, row.last.too_much)
            rows.append(("", ("last time", *last)))
    page.table(rows)
    page.put("", summary.levels_note)


def _levels_in_words(page: TerminalPage, summary: Summary) -> None:
    for row in summary.levels:
        for when, cells in (("", row.now), (", last time", row.last)):
            if cells is not None:
                words = (
                    f"noticed {cells.noticed}; answered {cells.answered}; "
                    f"too much {cells.too_much}."
                )
                page.put(
                    "" if when or row != summary.levels[0] else "levels",
                    f"{row.label}{when}: {words}",
                )
    page.put("", summary.levels_note)


def _reps(page: TerminalPage, summary: Summary) -> None:
    """A row a rep; a column of times only where there are any."""
    timed = [
        (name, times)
        for name, times in (
            ("turn", [rep.turned for rep in summary.reps]),
            ("come", [rep.came for rep in summary.reps]),
        )
        if any(times)
    ]
    if summary.reps:
        at = any(rep.at for rep in summary.reps)
        head = ["#", *(["at"] if at else []), "call", "button", "outcome", "seen, given"]
        rows: list[tuple[str, Sequence[str]]] = [("reps", [*head, *(name for name, _ in timed)])]
        for number, rep in enumerate(summary.reps):
            call = rep.call.replace(" (whistle)", "")
            cells = [str(rep.number), *([rep.at or "-"] if at else []), call, rep.button]
            cells += [rep.outcome, rep.seen or "-"]
            rows.append((rep.word, [*cells, *(times[number] or "-" for _, times in timed)]))
        page.table(rows)
    page.put("" if summary.reps else "reps", summary.reps_note)


def _reps_in_words(page: TerminalPage, summary: Summary) -> None:
    for rep in summary.reps:
        parts = (
            f"call {rep.call}" if rep.call != "-" else "",
            rep.button.replace("cont.", "continuous")
            if rep.button != NOT_SAID
            else f"button {NOT_SAID}",
            f"outcome {NOT_SAID}" if rep.outcome == NOT_SAID else rep.outcome,
            rep.seen if rep.seen != rep.outcome else "",
            f"{rep.turned} s to turn" if rep.turned else "",
            f"{rep.came} s to come" if rep.came else "",
            "stress" if rep.stress else "",
        )
        at = f" at {rep.at}" if rep.at else ""
        page.put(rep.word, f"Rep {rep.number}{at}: {'; '.join(filter(None, parts))}.")
    page.put("" if summary.reps else "reps", summary.reps_note)
