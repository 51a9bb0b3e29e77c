"""A paper over weeks for a terminal: 80 columns, one margin, legible without colour.

Few reps look like few: such a line says "few" in its margin. With `reps` every line is
followed by the reps it rests on, by session.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from voicelog.report.paper import Paper, PaperLine, PaperSection, SoundReference
from voicelog.report.terminal_page import TerminalPage
from voicelog.report.words import listed

__all__ = ["pieces", "render", "rep_words"]

_MARKS = {
    "stop": "STOP",
    "caution": "CAUTION",
    "ready": "ready",
    "nearly": "nearly",
    "not yet": "not yet",
    "at the top": "top",
    "yes": "met",
    "no": "not met",
}
_PLAIN = str.maketrans({"°": "", "×": "x", "±": "+-"})


def render(
    paper: Paper,
    *,
    colour: bool = False,
    plain: bool = False,
    reps: bool = False,
    every: bool = False,
) -> str:
    """The paper as lines of at most 80 cells, ending in a newline.

    Args:
        colour: adds ANSI colour to the margin; nothing is said by colour alone.
        plain: for a screen reader: no indents, marks in ASCII.
        reps: names the reps behind each line.
        every: prints the details and the notes too.
    """
    return "".join(
        pieces(paper, paper.sections, colour=colour, plain=plain, reps=reps, every=every)
    )


def pieces(
    paper: Paper,
    sections: Iterable[PaperSection],
    *,
    colour: bool = False,
    plain: bool = False,
    reps: bool = False,
    every: bool = False,
) -> Iterator[str]:
    """The same in pieces, with these `sections` in place of the paper's own: each is laid out when
    the pieces before it were taken, and none is held. Other arguments as of `render`."""
    page = TerminalPage(colour)
    page.put("", f"{paper.title}{f', {paper.day}' if paper.day else ''}")
    hidden = 0
    for section in sections:
        hidden += sum(line.detail for line in section.lines)
        shown = [line for line in section.lines if every or not line.detail]
        if section.lines and not shown:
            continue  # all of it is for --all, and a heading alone says nothing
        page.gap()
        page.put("", section.title.upper())
        for line in shown:
            lane = _MARKS.get(line.mark, "few" if line.few else "")
            indent = "" if plain else "  " * line.level
            label = f"{line.label}: " if line.label else ""
            page.put_hanging(lane, indent, f"{label}{line.words}")
            if reps and line.reps:
                page.put_hanging("", f"{indent}  ", f"reps: {rep_words(line, paper.refs)}")
        if section.note and every:
            page.put("", f"({section.note})")
        yield _piece(page.taken(but=1), plain=plain)  # the last tells whether a gap is due
    page.gap()
    if hidden and not every:
        page.put("", f"{hidden} more lines, and what the words mean: --all.")
    for number, changed in enumerate(paper.changed):
        page.put("" if number else "changed", changed)
    for number, words in enumerate(paper.cautions.splitlines()):
        page.put("" if number else "remember", words)
    page.put("", paper.footer)
    yield _piece(page.taken(), plain=plain)


def _piece(lines: Sequence[str], *, plain: bool) -> str:
    text = "".join(f"{line}\n" for line in lines)
    return text.translate(_PLAIN) if plain else text


def rep_words(line: PaperLine, refs: Mapping[str, SoundReference]) -> str:
    """The reps behind a line by day: "3 May 2031: 1, 2 and 5; 4 May 2031: 3"."""
    by_day: dict[tuple[str, str], list[str]] = {}
    for rep in line.reps:
        ref = refs.get(rep)
        if ref is not None:
            by_day.setdefault((ref.day, ref.session), []).append(str(ref.number))
    return "; ".join(f"{day}: {listed(numbers)}" for (day, _), numbers in by_day.items())
