"""The Markdown: same parts, same order, and nothing said can break out of its place."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings
from markdown_it import MarkdownIt

from voicelog.model import EntryOutput, Finding, Session
from voicelog.report.markdown import escape, render

from .build import entry, finding, full, rep, session, summary, unversioned
from .strategies import entry_lists, finding_lists, sessions, words

MARKDOWN = MarkdownIt("commonmark").enable(["table", "strikethrough"])


def test_a_whole_session_reads_as_agreed() -> None:
    wanted = (Path(__file__).parent / "full.md").read_text(encoding="utf-8")
    assert unversioned(render(full())) == wanted


def test_a_pipe_stays_in_its_cell() -> None:
    made = summary(session([rep(1, cue="a | b", rewards=("c|d",))]))
    row = next(line for line in render(made).splitlines() if line.startswith("| sure"))
    assert row == "| sure | 1 | 0:30 | a \\| b | no button | came | c\\|d | - | - |"


@given(words)
def test_escaped_text_reads_back_as_itself(text: str) -> None:
    line = " ".join(text.replace("\x00", "").split())
    tokens = MARKDOWN.parseInline(escape(line))[0].children or []
    assert {token.type for token in tokens} <= {"text", "text_special"}
    assert "".join(token.content for token in tokens) == line


@settings(max_examples=40, deadline=None)
@given(sessions(most=8), finding_lists(), entry_lists())
def test_a_session_makes_only_the_headings_and_tables_of_a_summary(
    work: Session, findings: list[Finding], entries: list[EntryOutput]
) -> None:
    made = summary(work, findings, entries)
    tokens = MARKDOWN.parse(render(made))
    types = [token.type for token in tokens]
    assert "html_block" not in types
    titles = [tokens[n + 1].content for n, kind in enumerate(types) if kind == "heading_open"]
    wanted = ["Session summary", "Counts", "Levels", "Plot: level over rep", "Reps"]
    wanted += ["Skin and collar off", "To check", "Next session", "Remember"]
    assert titles == [title for title in wanted if title in titles]
    assert types.count("table_open") == 1 + bool(made.levels) + bool(made.reps)
    assert types.count("fence") == any(rep.word != "void" for rep in made.reps)


def test_html_and_links_do_not_come_alive() -> None:
    made = summary(
        session([rep(1)], name="<b>[x](http://y.invalid)</b>"),
        [finding("skin", "stop", "# not a heading", "`code`")],
        [entry("e1", 1, "*loud*", "doubtful")],
    )
    html = MARKDOWN.render(render(made))
    assert not any(tag in html for tag in ("<b>", "<a ", "<code>", "<em>*", "<em>loud"))
