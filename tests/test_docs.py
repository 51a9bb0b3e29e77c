"""The documents: short where they promise it, whole, and true as far as a program can tell."""

from __future__ import annotations

import re
import runpy
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.app.grammars import grammar_with
from voicelog.cli.app import COMMANDS, load_command
from voicelog.model import Dog, Roster
from voicelog.report.phrase_card import phrase_card, shortened
from voicelog.report.settings_page import settings_table
from voicelog.safety.settings_file import default_toml

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
CHAPTERS = {path.name: path.read_text(encoding="utf-8") for path in (ROOT / "docs").glob("*.md")}
ORDER = CHAPTERS.pop("index.md")  # of the site: it holds the README and the list of chapters
PAGES = {"README.md": README} | {f"docs/{name}": text for name, text in CHAPTERS.items()}
FOR_USERS = PAGES.keys() - {"docs/glossary.md", "docs/decisions.md"}


def test_the_readme_is_read_in_ten_minutes_and_the_developers_page_in_an_evening() -> None:
    assert len(README.split()) <= 900
    assert len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()) <= 250


def test_what_is_made_from_the_code_is_current() -> None:
    made = runpy.run_path(str(ROOT / "docs" / "make_pages.py"))["made"]()
    assert len(made) == 2
    for path, text in made.items():
        assert path.read_text(encoding="utf-8") == text, "run: python docs/make_pages.py"


def test_the_table_of_settings_has_each_once_with_its_default() -> None:
    rows = re.findall(r"^\| `(\w+)` \| (.+?) \|", settings_table(), re.M)
    assert rows == re.findall(r"^(\w+) = (.+)$", default_toml(), re.M)


def test_every_chapter_can_be_reached_from_the_readme_and_every_link_leads_somewhere() -> None:
    assert {name for name in CHAPTERS if f"(docs/{name})" not in README} <= {"cautions.md"}
    assert "(docs/cautions.md)" in README
    for name, text in PAGES.items():
        for link in re.findall(r"\]\(([^)#\s]*(?:#[^)\s]*)?)\)", text):
            place = link.partition("#")[0]  # tests/test_wheel.py follows it to the heading
            assert ((ROOT / name).parent / place).exists(), f"{name}: {link}"


def test_the_site_lists_every_chapter_once() -> None:
    listed = [line for line in ORDER.splitlines() if re.fullmatch(r"[a-z-]+", line)]
    assert sorted(f"{name}.md" for name in listed) == sorted(CHAPTERS)


def commands(text: str) -> Iterator[str]:
    """The commands of ours that a page shows, each as it would be typed."""
    blocks = re.findall(r"^    (.+)$", text, re.M)
    inline = [" ".join(found.split()) for found in re.findall(r"`([^`]+)`", text)]
    for line in (*blocks, *inline):
        for part in re.split(r" && | > | {3,}#", line):
            if re.match(r"(\S+/)?voicelog [a-z]", part.strip()):
                yield part.strip()


SHOWN = sorted({line for name in FOR_USERS for line in commands(PAGES[name])})


def parsed(line: str) -> None:
    """Parse it as the program would, without doing it; raises where it would be refused."""
    _, name, *arguments = shlex.split(line.replace(" ... ", " DOG ").replace("...", ""))
    command: Any = load_command(name)
    while hasattr(command, "commands") and arguments:
        command = command.commands[arguments.pop(0)]
    if not arguments:
        return  # a command that is named, whatever it takes
    command.make_context(name, arguments)


@pytest.mark.parametrize("line", SHOWN)
def test_a_command_that_is_shown_can_be_called(line: str) -> None:
    parsed(line)


def test_every_command_is_shown() -> None:
    assert {line.split()[1] for line in SHOWN} >= COMMANDS.keys()


def test_a_command_that_there_is_not_is_refused() -> None:
    with pytest.raises(KeyError):
        parsed("voicelog sumary")
    with pytest.raises(Exception, match="No such option"):
        parsed("voicelog summary --no-such")


def test_the_twelve_phrases_are_notes() -> None:
    told = re.search(r"Twelve phrases are enough to start: \*(.+?)\.\*", README, re.S)
    assert told is not None
    phrases = " ".join(told[1].split()).split(", ")
    assert len(phrases) == 12
    grammar = grammar_with(Roster(dogs=(Dog(name="Bracken"),)), ())
    for phrase in phrases:
        assert grammar.interpret(phrase.replace("DOG", "bracken").replace("N", "three")), phrase


def meant(told: str) -> set[str]:
    """All that an expression of the card lets one say."""
    tokens = re.findall(r"[\[\]()|]|[^\s\[\]()|]+", told)

    def either() -> set[str]:
        found = row()
        while tokens and tokens[0] == "|":
            tokens.pop(0)
            found |= row()
        return found

    def row() -> set[str]:
        found = {""}
        while tokens and tokens[0] not in "])|":
            token = tokens.pop(0)
            if token in "[(":
                after = either() | ({""} if token == "[" else set())
                tokens.pop(0)
            else:
                after = set(token.split("/"))
            found = {f"{one} {other}".strip() for one in found for other in after}
        return found

    return either()


@given(st.sets(st.lists(st.sampled_from("abcd"), min_size=1, max_size=4).map(tuple), min_size=1))
def test_what_is_put_together_means_just_the_phrases(phrases: set[tuple[str, ...]]) -> None:
    told = [meant(one) for one in shortened(sorted(phrases))]
    assert set().union(*told) == {" ".join(words) for words in phrases}
    assert sum(map(len, told)) == len(phrases)


def test_the_card_has_the_dogs_own_words_on_one_page() -> None:
    roster = Roster(dogs=(Dog(name="Wren", cues=("come by",)),), handlers=("Ruth",))
    card = phrase_card(grammar_with(roster, ()))
    for words in ("start session wren", "come by", "handler ruth"):
        assert words in card
    assert len(card.split()) < 600
