"""The HTML page: self-contained, escaped, in order, and sound as a document."""

from __future__ import annotations

import re
from html.parser import HTMLParser

from hypothesis import given, settings

from voicelog.model import EntryOutput, Finding, Session
from voicelog.report.html import render
from voicelog.report.summary import FOOTER

from .build import entry, finding, full, rep, session, summary
from .strategies import entry_lists, finding_lists, sessions

VOID = {"meta", "br"}
EVIL = "<script>alert('x')</script>\"'&"


class Reader(HTMLParser):
    """Checks that tags close in order, and keeps tags and text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


@settings(max_examples=40, deadline=None)
@given(sessions(most=8), finding_lists(), entry_lists())
def test_any_session_makes_a_sound_page(
    work: Session, findings: list[Finding], entries: list[EntryOutput]
) -> None:
    reader = read(render(summary(work, findings, entries)))
    allowed = {
        "html", "head", "meta", "title", "style", "body", "h1", "h2", "article", "section", "div",
        "p", "b", "br", "bdi", "ul", "li", "dl", "dt", "dd", "table", "caption", "thead", "tbody",
        "tr", "th", "td", "footer", "svg", "desc", "line", "circle", "rect", "path", "text",
    }  # fmt: skip
    assert {tag for tag, _ in reader.tags} <= allowed
    assert not any(name.startswith("on") for _, attrs in reader.tags for name in attrs)


def test_what_was_said_is_escaped_everywhere() -> None:
    work = session([rep(1, cue=EVIL, rewards=(EVIL,))], name=EVIL)
    page = render(
        summary(
            work,
            [finding("skin", "stop", EVIL, EVIL)],
            [entry("e1", 3, EVIL, "doubtful", alternatives=(EVIL,))],
        )
    )
    assert "<script" not in page
    assert page.count("&lt;script&gt;alert(&#x27;x&#x27;)&lt;/script&gt;&quot;&#x27;&amp;") >= 8


def test_a_right_to_left_name_stays_in_its_own_box() -> None:
    page = render(summary(session([rep(1)], name="כלב")))
    assert "<bdi>כלב</bdi>" in page


def test_nothing_is_fetched_and_nothing_runs() -> None:
    reader = read(render(full()))
    for _, attrs in reader.tags:
        assert not {"src", "href", "action", "data"} & set(attrs)
    assert "url(" not in render(full())
    assert "@import" not in render(full())


def test_headings_go_down_one_step_at_a_time_and_in_order() -> None:
    page = render(full())
    assert re.findall(r"<h(\d)>(.*?)</h", page) == [
        ("1", "Session summary"),
        *(
            ("2", title)
            for title in (
                "Safety", "Session", "Counts", "Levels", "Plot", "Reps", "Skin, collar off",
                "To check", "Next session", "Remember",
            )
        ),
    ]  # fmt: skip


def test_tables_have_captions_and_scopes() -> None:
    reader = read(render(full()))
    tags = [tag for tag, _ in reader.tags]
    assert tags.count("table") == tags.count("caption") == 3
    assert all(attrs.get("scope") in ("row", "col") for tag, attrs in reader.tags if tag == "th")


def test_ids_are_unique_with_several_sessions_on_a_page() -> None:
    reader = read(render(full(), full()))
    ids = [attrs["id"] for _, attrs in reader.tags if "id" in attrs]
    assert len(ids) == len(set(ids)) == 4


def test_it_follows_the_readers_light_and_has_a_print_style() -> None:
    page = render(full())
    assert "@media (prefers-color-scheme: dark)" in page
    assert "@media print" in page


def test_no_session_is_said() -> None:
    words = "".join(read(render()).words)
    assert "No session was found, so there is nothing to sum up." in words
    assert FOOTER in words
