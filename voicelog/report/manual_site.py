"""The manual as HTML: each document a page, the README first. No script, nothing fetched."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape
from itertools import pairwise

from markdown_it import MarkdownIt

__all__ = ["anchor", "manual_site"]

_FIRST = "README.md"

_STYLE = """
:root { color-scheme: light dark; }
body { margin: 0 auto; max-width: 46rem; padding: 1rem 1.25rem 3rem;
  font: 1rem/1.55 system-ui, sans-serif; }
table { border-collapse: collapse; display: block; overflow-x: auto; }
th, td { border: 1px solid #8888; padding: .25rem .5rem; text-align: left; vertical-align: top; }
img { max-width: 100%; }
pre { overflow-x: auto; padding: .6rem .8rem; border: 1px solid #8888; }
@media print { body { max-width: none; } nav { display: none; } }
""".strip()


def manual_site(pages: Mapping[str, str]) -> dict[str, str]:
    """The pages as HTML, by file name.

    Args:
        pages: Markdown by file name; README.md becomes index.html, and its links to `docs/` lead
            to the pages beside it.
    """
    return {_html_name(name): _page(text, first=name == _FIRST) for name, text in pages.items()}


def anchor(heading: str) -> str:
    """What a link to a heading calls it after the "#", as the usual viewers of Markdown do."""
    return re.sub(r"[^\w -]", "", heading).lower().replace(" ", "-")


def _html_name(name: str) -> str:
    return "index.html" if name == _FIRST else re.sub(r"\.md$", ".html", name)


def _page(text: str, *, first: bool) -> str:
    markdown = MarkdownIt("commonmark").enable("table")
    tokens = markdown.parse(text)
    title = "voicelog"
    for token, inside in pairwise(tokens):
        if token.type == "heading_open":
            token.attrSet("id", anchor(inside.content))
            title = inside.content if token.tag == "h1" else title
    for token in tokens:
        for child in token.children or ():
            if child.type == "image":
                child.attrSet("src", str(child.attrGet("src")).removeprefix("docs/"))
            link = child.attrGet("href") if child.type == "link_open" else None
            if isinstance(link, str):
                place, mark, part = link.removeprefix("docs/").partition("#")
                child.attrSet("href", f"{_html_name(place)}{mark}{part}" if place else link)
    body = markdown.renderer.render(tokens, markdown.options, {})
    back = "" if first else '<nav><a href="index.html">voicelog: all chapters</a></nav>\n'
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{_STYLE}\n</style>\n</head>\n<body>\n"
        f"{back}{body}</body>\n</html>\n"
    )
