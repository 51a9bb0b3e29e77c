"""The summary as Markdown, for notes and mail.

Everything that a person said or typed is escaped: a name must not become a heading, a
link, a table cell or HTML in the reader's viewer.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from voicelog.report.rep_plot_text import draw
from voicelog.report.summary import Summary
from voicelog.report.summary_rows import EntryNote

__all__ = ["escape", "render"]

_SPECIAL = re.compile(r"[\\`*_{}\[\]<>#|~&]")
_SEVERITY = {"stop": "STOP", "caution": "CAUTION", "remark": "remark"}
_PLOT_WIDTH = 72


def render(summary: Summary) -> str:
    """The summary as CommonMark with pipe tables, ending in a newline."""
    blocks = ["# Session summary", _notices(summary)]
    blocks.append(
        _table(("Session", "As said"), [(fact.label, fact.value) for fact in summary.facts])
    )
    blocks += ["## Counts", _list(map(escape, summary.counts))]
    if summary.levels:
        blocks += ["## Levels", _levels(summary)]
        if summary.levels_note:
            blocks.append(escape(summary.levels_note))
    plot = draw(summary.reps, _PLOT_WIDTH)
    if plot:
        blocks += ["## Plot: level over rep", "\n".join(("```text", *plot, "```"))]
    blocks.append("## Reps")
    if summary.reps:
        blocks.append(_reps(summary))
    blocks.append(escape(summary.reps_note))
    if summary.off:
        blocks += [
            "## Skin and collar off",
            _list(f"{escape(fact.label)}: {escape(fact.value)}" for fact in summary.off),
        ]
    blocks += ["## To check", escape(summary.check_note)]
    notes = [_note(note) for note in summary.to_check]
    notes += [f"flagged, {_note(note)}" for note in summary.flagged]
    if notes:
        blocks.append(_list(notes))
    blocks += ["## Next session", escape(summary.next_session)]
    blocks += ["## Remember", "\\\n".join(map(escape, summary.cautions.splitlines()))]
    blocks.append(f"*{escape(summary.footer)}*")
    return "\n\n".join(blocks) + "\n"


def _note(note: EntryNote) -> str:
    return f"{', '.join(filter(None, (note.word, note.at)))}: {escape(note.words)}"


def escape(text: str) -> str:
    """The text as it stands, with no meaning to Markdown, on one line."""
    return _SPECIAL.sub(r"\\\g<0>", " ".join(text.split()))


def _list(items: Iterable[str]) -> str:
    return "\n".join(f"- {item}" for item in items)


def _notices(summary: Summary) -> str:
    lines = [f"**Not counted**: {escape(summary.unread)}"] if summary.unread else []
    if summary.safety:
        lines.append(escape(summary.safety))
    for notice in summary.notices:
        lines.append(
            f"**{_SEVERITY[notice.severity]}**: {escape(notice.message)}\\\n"
            f"Next time: {escape(notice.advice)}\\\n"
            f"({escape(notice.tail)})"
        )
    lines += [f"**Matters**: {escape(line)}" for line in summary.matters]
    if summary.changed:
        lines.append(f"Changed: {escape('; '.join(summary.changed))}.")
    return "\n\n".join(lines)


def _levels(summary: Summary) -> str:
    rows = []
    for row in summary.levels:
        rows.append((row.label, row.now.noticed, row.now.answered, row.now.too_much))
        if row.last:
            rows.append(("last time", row.last.noticed, row.last.answered, row.last.too_much))
    return _table(("Drill and mode", "Noticed", "Answered", "Too much"), rows)


def _reps(summary: Summary) -> str:
    head = ("Mark", "Rep", "At", "Call", "Button", "Outcome", "Seen, given", "Turn", "Come")
    return _table(
        head,
        [
            (
                rep.word,
                str(rep.number),
                rep.at or "-",
                rep.call,
                rep.button,
                rep.outcome,
                rep.seen or "-",
                rep.turned or "-",
                rep.came or "-",
            )
            for rep in summary.reps
        ],
    )


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [" | ".join(head), " | ".join("---" for _ in head)]
    lines += [" | ".join(map(escape, row)) for row in rows]
    return "\n".join(f"| {line} |" for line in lines)
