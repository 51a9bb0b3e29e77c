"""Whatever a sentence shows to be typed or said works as it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from tests.test_docs import parsed
from tests.test_plain_words import told
from voicelog.app.grammars import grammar_with
from voicelog.grammar.typed_note import read_typed_note
from voicelog.model import Dog, Roster

GRAMMAR = grammar_with(Roster(dogs=(Dog(name="Bracken"),), handlers=("Anna",)), ())


def commands() -> Iterator[str]:
    """The commands that sentences of every face show, where nothing is put in by the program."""
    for where, text in told():
        if where.endswith((".html", ".md", ".typ")):
            continue  # those of the chapters are read in test_docs
        joined = " ".join(text.split())
        for shown in re.findall(r"'(voicelog [a-z][^']*)'", joined):
            if "_" not in shown:
                yield shown
        yield from re.findall(r"Example: (voicelog [a-z].*?)$", joined)


def notes() -> Iterator[str]:
    """What sentences give as an example of a note: "a note such as '...'", "(l9 c)"."""
    for _, text in told():
        joined = " ".join(text.split())
        yield from re.findall(r"\bnote such as '([^'_]+)'", joined)
        yield from re.findall(r"what was said \(([^)_]+)\)", joined)
        yield from re.findall(r"--words ['\"]([^'\"_]+)['\"]", joined)
        yield from re.findall(r"--answer \"([^\"_]+)\"", joined)


@pytest.mark.parametrize("line", sorted(set(commands())))
def test_a_command_that_a_sentence_shows_can_be_called(line: str) -> None:
    parsed(re.sub(r" (\[[^]]*\]|\|.*|>.*)$", "", line))


@pytest.mark.parametrize("words", sorted(set(notes())))
def test_a_note_that_a_sentence_gives_as_an_example_is_one(words: str) -> None:
    assert read_typed_note(GRAMMAR, words).sure


def test_both_are_found() -> None:
    assert len(set(commands())) > 60
    assert {"level three came", "l9 c", "line help"} <= set(notes())
