"""Summaries as one HTML file: no script, nothing fetched, light or dark as the reader has it.

The page hangs off one margin, like the text: what a line is about stands left, the line
right of it; on a narrow screen it stands above. Words carry every meaning, then weight
and shape, and colour last, so that a grey print says the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from voicelog.report.rep_plot_svg import plot_svg
from voicelog.report.state_words import VOID, state_class
from voicelog.report.summary import FOOTER, Summary

__all__ = ["STYLE", "article", "document", "render", "section", "user"]

_SEVERITY = {"stop": "Stop", "caution": "Caution", "remark": "Remark"}

STYLE = """
:root { color-scheme: light dark; --paper: #fcfbf7; --ink: #1c211e; --soft: #5a625c;
  --rule: #b9beb2; --wash: #f1f0e8; --stop: #9a1b1b; --caution: #7d5200; --moss: #33583a; }
@media (prefers-color-scheme: dark) {
  :root { --paper: #171a18; --ink: #e8e9e2; --soft: #a6ada5; --rule: #4a524b;
    --wash: #212622; --stop: #ff9488; --caution: #efc063; --moss: #a5cfa9; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 60rem; padding: 1.5rem 1.25rem 3rem; background: var(--paper);
  color: var(--ink); font: 1rem/1.45 system-ui, sans-serif; }
h1 { font: 600 1.05rem/1.3 system-ui, sans-serif; color: var(--soft); margin: 0 0 1rem;
  padding-left: 8.6rem; }
section { display: grid; grid-template-columns: 7.6rem minmax(0, 1fr); }
section > h2 { font: 600 .95rem/1.45 system-ui, sans-serif; color: var(--moss); margin: 0;
  padding: .75rem 1rem 0 0; text-align: right; }
section > div { border-left: 2px solid var(--rule); padding: .7rem 0 .7rem 1rem; }
article + article { margin-top: 3rem; border-top: 4px double var(--rule); padding-top: 1.5rem; }
p, ul, dl { margin: 0; padding: 0; }
li { list-style: none; }
.notices li { padding: .55rem .8rem; margin-bottom: .5rem; border: 1px solid var(--rule);
  border-left-width: 8px; }
.notices .stop { border: 3px solid var(--stop); border-left-width: 14px; }
.notices .caution { border-color: var(--caution); border-left-style: double; }
.notices .void { border-style: dashed; border-width: 2px; }
.notices b { display: inline-block; min-width: 5rem; }
.stop b { color: var(--stop); text-transform: uppercase; }
.caution b { color: var(--caution); }
.tail, .note { color: var(--soft); font-size: .9rem; }
dl { display: grid; grid-template-columns: repeat(auto-fill, minmax(16rem, 1fr));
  gap: .15rem 1.5rem; }
dl div { display: flex; gap: .6rem; }
dt { color: var(--soft); min-width: 5.6rem; }
dd { margin: 0; overflow-wrap: anywhere; }
.dog { grid-column: 1 / -1; font: 700 1.7rem/1.2 Georgia, "DejaVu Serif", serif; }
.dog dt { position: absolute; left: -999rem; }
.counts li:first-child { font-size: 1.1rem; }
.scroll { overflow-x: auto; }
.scroll svg { display: block; max-width: 100%; height: auto; }
.stress { fill: var(--stop); }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; white-space: nowrap; color: var(--soft); font-size: .9rem;
  padding-bottom: .3rem; }
th, td { text-align: left; vertical-align: top; padding: .22rem .9rem .22rem 0;
  border-bottom: 1px solid var(--rule); }
thead th { color: var(--soft); font-weight: 600; border-bottom-width: 2px; }
tbody th { font-weight: 600; }
.last th, .last td { color: var(--soft); font-weight: 400; font-style: italic; }
.check { background: var(--wash); }
.check .word { font-weight: 700; color: var(--caution); }
tr.void td { text-decoration: line-through; color: var(--soft); }
tr.void td.word { text-decoration: none; }
.next { font-size: 1.1rem; }
footer { margin-top: 1.5rem; padding-left: 8.6rem; color: var(--soft); font-size: .85rem; }
@media (max-width: 40rem) {
  body { padding: 1rem .8rem 2rem; }
  h1, footer { padding-left: .9rem; }
  section { display: block; border-left: 2px solid var(--rule); padding-left: .8rem; }
  section > h2 { text-align: left; padding: .6rem 0 0; }
  section > div { border-left: 0; padding: .2rem 0 .7rem; }
  dl { grid-template-columns: 1fr; }
  table { font-size: .87rem; }
  caption { white-space: normal; }
  th, td { padding-right: .55rem; }
  .reps thead { position: absolute; left: -999rem; }
  .reps tr { display: flex; flex-wrap: wrap; gap: 0 .7rem; padding: .3rem 0;
    border-bottom: 1px solid var(--rule); }
  .reps th, .reps td { border: 0; padding: 0; }
  .reps .word { min-width: 3.2rem; }
  .reps .none { display: none; }
  .reps [title]::before { content: attr(title) " "; color: var(--soft); }
}
@media print {
  :root { --paper: #fff; --ink: #000; --soft: #333; --rule: #888; --wash: #eee;
    --stop: #000; --caution: #000; --moss: #000; }
  html { font-size: 9pt; }
  body { max-width: none; padding: 0; }
  article + article { break-before: page; border: 0; margin: 0; padding: 0; }
  li, tr, svg { break-inside: avoid; }
  .scroll { overflow: visible; }
  .scroll svg { max-height: 9cm; }
}
""".strip()


def render(*summaries: Summary) -> str:
    """A whole page with one article a session, in the order given."""
    dogs = ", ".join(dict.fromkeys(summary.dog for summary in summaries)) or "no session"
    body = "\n".join(article(summary, f"s{n}") for n, summary in enumerate(summaries, 1))
    if not summaries:
        body = "<p>No session was found, so there is nothing to sum up.</p>"
    return document(f"Session summary: {dogs}", "Session summary", body)


def document(title: str, heading: str, body: str, style: str = "") -> str:
    """A whole page around a body that is HTML already; title and heading are plain text."""
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(title)}</title>",
            f"<style>\n{STYLE}{style}\n</style>",
            "</head>",
            "<body>",
            f"<h1>{escape(heading)}</h1>",
            body,
            f"<footer>{escape(FOOTER)}</footer>",
            "</body>",
            "</html>",
            "",
        )
    )


def article(summary: Summary, ident: str) -> str:
    """One session as a part of a page; `ident` tells its drawing from those of others."""
    parts = [
        section("Safety", _notices(summary)),
        section("Session", _facts(summary)),
        section("Counts", f'<ul class="counts">{_items(summary.counts)}</ul>'),
    ]
    if summary.levels:
        parts.append(section("Levels", _levels(summary)))
    svg = plot_svg(summary, ident)
    if svg:
        parts.append(section("Plot", f'<div class="scroll" tabindex="0">{svg}</div>'))
    parts.append(section("Reps", _reps(summary)))
    if summary.off:
        off = (f"{fact.label}: {fact.value}" for fact in summary.off)
        parts.append(section("Skin, collar off", f"<ul>{_items(off)}</ul>"))
    parts.append(section("To check", _to_check(summary)))
    parts.append(section("Next session", f'<p class="next">{escape(summary.next_session)}</p>'))
    cautions = "<br>".join(map(escape, summary.cautions.splitlines()))
    parts.append(section("Remember", f"<p>{cautions}</p>"))
    return f'<article aria-label="{escape(summary.dog)}">\n' + "\n".join(parts) + "\n</article>"


def section(title: str, inner: str) -> str:
    return f"<section><h2>{title}</h2>\n<div>{inner}</div></section>"


def user(text: str) -> str:
    """Something a person said: escaped, and kept from turning the line around it. `text` is plain,
    whatever is in it."""
    return f"<bdi>{escape(text)}</bdi>"


def _items(lines: Iterable[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _notices(summary: Summary) -> str:
    lines = []
    if summary.unread:
        lines.append(f'<p class="open"><b>Not counted</b> {escape(summary.unread)}</p>')
    if summary.safety:
        lines.append(f"<p>{escape(summary.safety)}</p>")
    if summary.notices:
        lines.append('<ul class="notices">')
        for notice in summary.notices:
            void = f" {VOID}" if notice.struck else ""
            lines.append(
                f'<li class="{notice.severity}{void}"><p><b>{_SEVERITY[notice.severity]}</b> '
                f"{escape(notice.message)}</p><p>Next time: {escape(notice.advice)}</p>"
                f'<p class="tail">{escape(notice.tail)}</p></li>'
            )
        lines.append("</ul>")
    lines += [f'<p class="open">Matters: {escape(line)}</p>' for line in summary.matters]
    if summary.changed:
        lines.append(f"<p>Changed: {escape('; '.join(summary.changed))}.</p>")
    return "\n".join(lines)


def _facts(summary: Summary) -> str:
    rows = (
        f"<div{' class=dog' if fact.label == 'dog' else ''}><dt>{escape(fact.label)}</dt>"
        f"<dd>{user(fact.value)}</dd></div>"
        for fact in summary.facts
    )
    return f"<dl>{''.join(rows)}</dl>"


def _levels(summary: Summary) -> str:
    rows = []
    for row in summary.levels:
        rows.append(("", row.label, row.now))
        if row.last:
            rows.append(("last", "last time", row.last))
    body = "".join(
        f'<tr class="{kind}"><th scope="row">{escape(label)}</th>'
        f"{_cells((cells.noticed, cells.answered, cells.too_much))}</tr>"
        for kind, label, cells in rows
    )
    head = _head(("Drill and mode", "Noticed", "Answered", "Too much"))
    note = f'<p class="note">{escape(summary.levels_note)}</p>' if summary.levels_note else ""
    caption = "Lowest level with a sign, levels answered, lowest level with a strong sign"
    return f'<div class="scroll" tabindex="0">{_table(caption, head, body)}</div>{note}'


def _reps(summary: Summary) -> str:
    note = f'<p class="note">{escape(summary.reps_note)}</p>'
    if not summary.reps:
        return note
    titles = ("Mark", "Rep", "At", "Call", "Button", "Outcome", "Seen, given", "Turn", "Come")
    body = "".join(
        f'<tr class="{state_class(rep.word)}"><td class="word">{rep.word}</td>'
        f'<th scope="row">{rep.number}</th>'
        f"{_cells((rep.at or '-', rep.call, rep.button, rep.outcome, rep.seen or '-'))}"
        f"{_timed('turn', rep.turned)}{_timed('come', rep.came)}</tr>"
        for rep in summary.reps
    )
    table = _table("Every rep; only the sure ones are counted", _head(titles), body)
    return f'<div class="scroll reps" tabindex="0">{table}</div>{note}'


def _table(caption: str, head: str, body: str) -> str:
    return f"<table><caption>{caption}</caption><thead>{head}</thead><tbody>{body}</tbody></table>"


def _head(titles: Sequence[str]) -> str:
    cells = "".join(f'<th scope="col">{escape(title)}</th>' for title in titles)
    return f"<tr>{cells}</tr>"


def _cells(values: Iterable[str]) -> str:
    empty = ' class="none"'
    return "".join(f"<td{empty if value == '-' else ''}>{user(value)}</td>" for value in values)


def _timed(what: str, seconds: str) -> str:
    """A time; on a narrow screen, where the headings are gone, it names itself."""
    return f'<td title="{what}">{seconds}</td>' if seconds else '<td class="none">-</td>'


def _to_check(summary: Summary) -> str:
    parts = [f"<p>{escape(summary.check_note)}</p>"]
    notes = [("", note) for note in summary.to_check]
    notes += [("flagged, ", note) for note in summary.flagged]
    if notes:
        rows = "".join(
            f'<tr class="{state_class(note.word)}"><td class="word">{flag}{note.word}</td>'
            f"{_cells((note.at or '-', note.words))}</tr>"
            for flag, note in notes
        )
        head = _head(("Mark", "At", "Words"))
        table = _table("To check, and what was flagged", head, rows)
        parts.append(f'<div class="scroll" tabindex="0">{table}</div>')
    return "".join(parts)
