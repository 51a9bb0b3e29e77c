"""Words that stand nowhere a user reads: each has a plainer one, and that is the one in use.

All strings of the rooms that make what a user sees or hears are read (docstrings only where they
are a command's help), the page's templates and script, the owner's report, the README and the
chapters of the manual.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

import voicelog
from voicelog.analysis.reason import ReasonCode

PACKAGE = Path(voicelog.__file__).parent
README = PACKAGE.parent / "README.md"
CHAPTERS = (
    *("cautions.md", "getting-started.md", "hearing.md", "manual.md", "papers.md"),
    *("phrase-card.md", "privacy.md", "settings.md", "rules.md", "signs.md", "log.md"),
    *("accessibility.md", "for-programmers.md", "phone.md", "sharing.md"),
    *("board.md", "contract.md", "live.md", "decisions.md", "glossary.md", "measurements.md"),
)
ROOMS = ("report", "safety", "cli", "web", "live", "app", "store", "grammar")

PLAIN = {
    r"not for the log": "not understood",
    r"\bunheard\b": "not understood",
    r"\bparted\b": "separated",
    r"\bthe contract\b": "the data format",
    r"\bto be had with\b": "install with",
    r"\bgoes? on over weeks": "progress over weeks",
    r"\b(not|n't) there yet": "has not come yet",
    r"\bthin evidence": "too few reps",
    r"\brests? on\b": "based on",
    r"\bheard for sure\b": "an uncertain note",
    r"\bwhom\b.{0,20}\bring": "contact",
    r"\band ring\b": "call",
    r"\bheard right\b": "accuracy",
    r"\blooks a session": "checks of a session",
    r"\bread by\b": "reviewed by",
    r"\bstops? stands?\b": "is open",
    r"\blook at it (again|in the evening)": "check it",
    r"\bload the page again": "open the session again",
    r"(?<![.\d])\b1 (times|sessions|reps|entries)\b": "the singular",
    r"(?<!other )(?<!of )\b_ (recordings|notes)\b": "counted(...), which knows the singular",
    r"\bthat a person\b": "a person",
    r"\bwhoever\b": "who, anyone, the trainer",
    r"\bbe much\b|\bis much\b": "too much",
}
"""What must not stand, as a regular expression, and what to write."""
FOR_USERS = {
    r"\banew\b": "again",
    r"\bderiv(ed?|ing) (it |all )?again\b": "work out again",
    r"\bthe extra '": "the optional part",
    r"\bhash(es)?\b(?! -r)": "checksum",
}
"""The same, where a user reads: on every screen, and in chapters that are not for programmers."""
SCREENS = ("report/", "safety/", "cli/", "web/", "live/", "README.md")
FOR_PROGRAMMERS = frozenset(
    {"decisions.md", "glossary.md", "contract.md", "for-programmers.md", "log.md"}
    | {"measurements.md"}
)

CODES = frozenset(get_args(ReasonCode))
"""What the program says to itself."""

NOT_READ = {"web/app.py: load the page again", "web/dogs.py: load the page again",
    "web/matters.py: load the page again"}  # fmt: skip
"""Where it is said on the page alone, by a handler."""


def strings(path: Path, *, help_too: bool) -> Iterator[str]:
    """The strings of a module, what is put into them left out; its docstrings where asked."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documented = {id(node.body[0]) for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    bare = {
        id(child)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and not (help_too and id(node) in documented)
        for child in ast.walk(node)
    }
    parts: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts |= {id(part) for part in node.values}
            words = [part.value if isinstance(part, ast.Constant) else "_" for part in node.values]
            yield "".join(map(str, words))
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or id(node) in bare | parts:
            continue
        if isinstance(node.value, str):
            yield node.value


def told() -> Iterator[tuple[str, str]]:
    """Where it stands, and what a user reads."""
    for room in ROOMS:
        for path in sorted((PACKAGE / room).rglob("*")):
            where = path.relative_to(PACKAGE).as_posix()
            if path.suffix == ".py":
                for text in strings(path, help_too=room == "cli"):
                    if " " in text and text not in CODES:
                        yield where, text
            elif path.suffix in (".html", ".typ"):
                yield where, re.sub(r"//.*|<[^>]*>|\{[%#].*?[%#]\}", "\n", path.read_text())
            elif path.suffix == ".js":
                yield from ((where, text) for text in re.findall(r'"([^"\n]*)"', path.read_text()))
    yield "README.md", README.read_text(encoding="utf-8")
    for chapter in CHAPTERS:
        yield chapter, (README.parent / "docs" / chapter).read_text(encoding="utf-8")


def is_for_users(where: str) -> bool:
    return where.startswith(SCREENS) or (where in CHAPTERS and where not in FOR_PROGRAMMERS)


@pytest.fixture(scope="module")
def everything() -> list[tuple[str, str]]:
    return [(where, " ".join(text.split())) for where, text in told()]


def test_no_sentence_says_it_in_words_that_make_a_reader_stumble(
    everything: list[tuple[str, str]],
) -> None:
    found = [
        f"{where}: {match[0]!r} in {text[max(0, match.start() - 60) : match.end() + 30]!r}; "
        f"write {plain!r}"
        for pattern, plain in (PLAIN | FOR_USERS).items()
        for where, text in everything
        if pattern in PLAIN or is_for_users(where)
        for match in re.finditer(pattern, text, re.I)
        if f"{where}: {match[0].lower()}" not in NOT_READ
    ]
    assert found == []


def test_the_sentences_of_every_face_are_read(everything: list[tuple[str, str]]) -> None:
    said = dict(everything)
    assert {"web/templates/base.html", "web/static/talk.js", "report/owner.typ"} <= said.keys()
    assert any("voicelog correct Bracken" in words for _, words in everything)
    assert any(words.startswith("Level _ was used") for _, words in everything)
    assert not any("Where it stands, and what" in words for _, words in everything)
