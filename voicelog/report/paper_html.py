"""A paper over weeks as one HTML file: no script, nothing fetched; plots drawn in its ink.

Every line opens to the reps it rests on, newest first, each with a link to its sound where
the caller knows one. Few reps are set small and marked "few".
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from itertools import groupby

from voicelog.report.html import document, section, user
from voicelog.report.paper import (
    CourseFigure,
    Figure,
    Paper,
    PaperLine,
    PaperSection,
    SoundReference,
    StripFigure,
)
from voicelog.report.session_plots_svg import plot_html
from voicelog.report.words import counted

__all__ = ["STYLE", "Link", "article", "render"]

Link = Callable[[SoundReference], str | None]
"""Where a rep is to be heard: a URL, or None where its sound is not kept."""

MOST_LISTED = 60
"""Reps listed under a line; older ones are counted."""

MOST_ROWS = 200
"""Sessions in the table under a picture; older ones are counted."""

_MARKS = {
    "stop": "Stop",
    "caution": "Caution",
    "ready": "Ready",
    "nearly": "Nearly",
    "not yet": "Not yet",
    "at the top": "Top",
    "yes": "met",
    "no": "not met",
}

STYLE = """
.paper li { padding: .28rem 0; border-bottom: 1px solid var(--rule); }
.paper li.in1 { margin-left: 1.6rem; }
.paper li.in2 { margin-left: 3.2rem; }
.paper > .title { font: 700 1.7rem/1.2 Georgia, "DejaVu Serif", serif; margin: 0 0 .6rem;
  padding-left: 8.6rem; }
.paper li.more > details { display: block; }
.paper li.more li { border-bottom-style: dotted; }
.paper b { font-weight: 600; margin-right: .5rem; }
.paper .mark { display: inline-block; min-width: 4.6rem; font-weight: 700; }
.paper .stop .mark { color: var(--stop); text-transform: uppercase; }
.paper .caution .mark { color: var(--caution); }
.paper .ready .mark, .paper .yes .mark { color: var(--moss); }
.paper .few { color: var(--soft); font-size: .92rem; border-bottom-style: dotted; }
.paper .few .mark { font-weight: 400; font-style: italic; }
.paper details { display: inline; font-size: .87rem; color: var(--soft); }
.paper summary { display: inline; cursor: pointer; text-decoration: underline dotted; }
.paper details p { padding: .25rem 0 .25rem 1rem; }
.paper details a { color: inherit; margin-right: .5rem; white-space: nowrap; }
.paper a { color: var(--ink); }
.picture svg { display: block; max-width: 100%; height: auto; margin: .2rem 0 .8rem; }
.picture.narrow { display: none; }
.picture a:focus-visible { outline: 3px solid var(--moss); outline-offset: 1px; }
.picture a:hover .band, .picture a:focus .band { fill-opacity: .12; }
.paper .caption { color: var(--soft); font-size: .9rem; margin-top: .7rem;
  break-after: avoid; }
.paper .numbers { display: block; }
.paper .numbers td, .paper .numbers th { font-size: .87rem; }
@media screen and (max-width: 56rem) {
  .picture.wide { display: none; } .picture.narrow { display: block; } }
@media (max-width: 40rem) { .paper > .title { padding-left: .9rem; }
  .paper li.in1, .paper li.in2 { margin-left: .7rem; } }
@media print { .paper details:not([open]) { display: none; } .picture a { display: none; }
  .picture svg { max-height: none; } }
"""


def render(*papers: Paper, link: Link | None = None) -> str:
    """A whole page with one article a paper, in the order given. `link` gives a reference its
    address, None where it has none."""
    title = ", ".join(paper.title for paper in papers)
    heading = papers[0].day if papers else ""
    body = "\n".join(article(paper, f"p{n}", link=link) for n, paper in enumerate(papers, 1))
    return document(title, heading, body, STYLE)


def article(paper: Paper, ident: str = "p", *, link: Link | None = None) -> str:
    """One paper as an <article>; `ident` makes its ids unique in a page. `link` gives a reference
    its address, None where it has none."""
    parts = [f'<h2 class="title">{user(paper.title)}</h2>']
    for number, one in enumerate(paper.sections):
        parts.append(
            section(escape(one.title), _section(one, paper.refs, f"{ident}-{number}", link))
        )
    if paper.changed:
        lines = "".join(f"<li>{escape(line)}</li>" for line in paper.changed)
        parts.append(section("Changed", f"<ul>{lines}</ul>"))
    cautions = "<br>".join(map(escape, paper.cautions.splitlines()))
    parts.append(section("Remember", f"<p>{cautions}</p>"))
    return (
        f'<article class="paper" aria-label="{escape(paper.title)}">\n'
        + "\n".join(parts)
        + ("\n</article>")
    )


SHORT_NOTE = 80
"""Characters of a note that is never folded away, such as who decides."""


def _section(
    one: PaperSection, refs: Mapping[str, SoundReference], ident: str, link: Link | None
) -> str:
    parts = []
    if one.lines:
        parts.append(f"<ul>{_lines(one.lines, refs, link)}</ul>")
    if one.note:
        note = f'<p class="note">{escape(one.note)}</p>'
        folds = any(line.detail for line in one.lines)  # who unfolds those asks what words mean
        if folds and len(one.note) > SHORT_NOTE:
            note = f"<details><summary>What the words mean</summary>{note}</details>"
        parts.append(note)
    if one.figure is not None:
        parts.append(_figure(one.figure, ident, link))
    return "\n".join(parts)


def _figure(figure: Figure, ident: str, link: Link | None) -> str:
    """The pictures, their heading, and the same sessions as a table to unfold."""
    made = f'<p class="caption">{escape(figure.title)}</p>{plot_html(figure, ident, link)}'
    match figure:
        case CourseFigure():
            rows, many = [("", one) for one in figure.points], figure.sessions
        case StripFigure():
            rows = [(row.dog, one) for row in figure.rows for one in row.points]
            many = len(rows)
        case _:
            return made
    worn = any(one.levels for _, one in rows)
    kennel = isinstance(figure, StripFigure)
    body = []
    for dog, one in list(reversed(rows))[:MOST_ROWS]:
        url = link(one.ref) if link else None
        day = f'<a href="{escape(url)}">{escape(one.ref.day)}</a>' if url else escape(one.ref.day)
        told = [user(dog)] if kennel else []
        told += [escape(one.unaided), *([one.levels] if worn else [])]
        cells = "".join(f"<td>{cell}</td>" for cell in (*told, escape(one.noted)))
        body.append(f'<tr><th scope="row">{day}</th>{cells}</tr>')
    titles = (
        "Day",
        *(("Dog",) if kennel else ()),
        "Unaided",
        *(("Levels",) if worn else ()),
        "Noted",
    )
    head = "".join(f'<th scope="col">{title}</th>' for title in titles)
    left = f"<p>and {many - MOST_ROWS} older ones.</p>" if many > MOST_ROWS else ""
    return (
        f'{made}<details class="numbers"><summary>The same in numbers: '
        f"{counted(many, 'session')}</summary>"
        f'<div class="scroll" tabindex="0"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>{left}</details>"
    )


def _lines(
    lines: Sequence[PaperLine], refs: Mapping[str, SoundReference], link: Link | None
) -> str:
    """The lines; details in a row are folded away behind a word."""
    parts = []
    for detail, some in groupby(lines, key=lambda line: line.detail):
        run = [_line(line, refs, link) for line in some]
        if detail:
            more = f"<summary>{len(run)} more</summary><ul>{''.join(run)}</ul>"
            parts.append(f'<li class="more"><details>{more}</details></li>')
        else:
            parts += run
    return "".join(parts)


def _line(line: PaperLine, refs: Mapping[str, SoundReference], link: Link | None) -> str:
    classes = " ".join(
        filter(None, (line.mark.replace(" ", "-"), "few" if line.few else "", f"in{line.level}"))
    )
    mark = _MARKS.get(line.mark, "few" if line.few else "")
    shown = f'<span class="mark">{mark}</span> ' if mark else ""
    label = f"<b>{user(line.label)}</b>" if line.label else ""
    words = (
        f'<a href="{escape(line.href)}">{user(line.words)}</a>' if line.href else user(line.words)
    )
    return f'<li class="{classes}">{shown}{label}{words}{_reps(line, refs, link)}</li>'


def _reps(line: PaperLine, refs: Mapping[str, SoundReference], link: Link | None) -> str:
    known = [refs[rep] for rep in line.reps if rep in refs]
    if not known:
        return ""
    by_session: dict[str, list[SoundReference]] = {}
    for ref in reversed(known[-MOST_LISTED:]):
        by_session.setdefault(ref.session, []).append(ref)
    rows = []
    for some in by_session.values():
        links = " ".join(_rep(ref, link) for ref in reversed(some))
        rows.append(f"<p>{escape(some[0].day)}: {links}</p>")
    if len(known) > MOST_LISTED:
        rows.append(f"<p>and {len(known) - MOST_LISTED} older ones.</p>")
    many = f"{len(known)} rep{'s' if len(known) != 1 else ''}"
    return f" <details><summary>{many}</summary>{''.join(rows)}</details>"


def _rep(ref: SoundReference, link: Link | None) -> str:
    url = link(ref) if link else None
    words = f"rep {ref.number}{ref.at and f' at {ref.at}'}"
    return f'<a href="{escape(url)}">{words}</a>' if url else f"<span>{words}</span>"
