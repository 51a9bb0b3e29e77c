"""Papers over weeks as Markdown: all that the text says, and no word read as markup."""

from __future__ import annotations

from datetime import date

from markdown_it import MarkdownIt

from tests.analysis.dogs import UNIT, good, rep, session_digest
from voicelog.model import Dog
from voicelog.report import paper_markdown, plan_paper, progress_paper
from voicelog.safety.settings import Settings

TODAY = date(2031, 3, 5)


def test_every_line_of_a_paper_is_there_with_its_mark() -> None:
    sessions = [good(0), good(1, button=2)]
    made = progress_paper.build(sessions, Dog(name="Juno", transmitter=UNIT), Settings(), TODAY)
    text = paper_markdown.render(made)
    plain = " ".join(text.replace("\\", "").split())
    for section in made.sections:
        assert f"## {section.title}" in plain
        for line in section.lines:
            assert " ".join(line.words.split()) in plain
    assert "**open**: Nothing is open." in text
    assert "Remember" in text
    short = paper_markdown.render(made, every=False)
    assert len(short) < len(text)
    assert "Reps: 1 Mar 2031: 1, 2" in paper_markdown.render(made, reps=True)


def test_a_name_is_never_read_as_markup() -> None:
    dog = Dog(name="# <b>*Juno*</b> [x](y)", transmitter=UNIT)
    made = plan_paper.build([session_digest([rep(1)])], dog, Settings(), TODAY)
    html = MarkdownIt().render(paper_markdown.render(made))
    assert "<b>" not in html
    assert "<a " not in html
    assert html.count("<h1>") == 1
