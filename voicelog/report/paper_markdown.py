"""A paper over weeks as Markdown, for notes and mail; every name and word escaped."""

from __future__ import annotations

from collections.abc import Iterator

from voicelog.report.markdown import escape
from voicelog.report.paper import Paper, PaperLine, PaperSection
from voicelog.report.paper_text import rep_words

__all__ = ["render"]


def render(paper: Paper, *, reps: bool = False, every: bool = True) -> str:
    """The paper as CommonMark, ending in a newline.

    Args:
        paper: what is laid out; its plots are left out, their numbers are in the lines.
        reps: names the reps behind each line.
        every: prints the details and the notes too.
    """
    day = f", {paper.day}" if paper.day else ""
    blocks = [f"# {escape(paper.title + day)}"]
    for section in paper.sections:
        blocks += _section(paper, section, reps=reps, every=every)
    if paper.changed:
        blocks += ["## Changed settings", "\n".join(f"- {escape(one)}" for one in paper.changed)]
    blocks += ["## Remember", "\\\n".join(map(escape, paper.cautions.splitlines()))]
    blocks.append(f"*{escape(paper.footer)}*")
    return "\n\n".join(blocks) + "\n"


def _section(paper: Paper, section: PaperSection, *, reps: bool, every: bool) -> Iterator[str]:
    shown = [line for line in section.lines if every or not line.detail]
    if section.lines and not shown:
        return  # all of it is for --all
    yield f"## {escape(section.title)}"
    if shown:
        yield "\n".join(_line(paper, line, reps=reps) for line in shown)
    if section.note and every:
        yield escape(section.note)


def _line(paper: Paper, line: PaperLine, *, reps: bool) -> str:
    marks: list[str] = [line.mark] if line.mark else []
    marks += ["few"] if line.few else []
    mark = f" ({', '.join(marks)})" if marks else ""
    label = f"**{escape(line.label)}**{mark}: " if line.label else f"{mark.strip()} ".lstrip()
    behind = f" Reps: {escape(rep_words(line, paper.refs))}." if reps and line.reps else ""
    return f"{'  ' * line.level}- {label}{escape(line.words)}{behind}"
