"""Whatever a sentence shows to be typed or said works as it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from tests.test_docs import parsed
from tests.test_plain_words import told
from voicelog.app.grammars import grammar_with
from voicelog.grammar.typed_note import read_typed_note
from voicelog.model import Dog, Roster

GRAMMAR = grammar_with(Roster(dogs=(Dog(name="Bracken"),), handlers=("Anna",)), ())


@cache
def sentences() -> tuple[tuple[str, str], ...]:
    """What every face says, read once, and not before a test asks."""
    return tuple((where, " ".join(text.split())) for where, text in told())


def commands() -> Iterator[str]:
    """The commands that sentences of every face show, where nothing is put in by the program."""
    for where, text in sentences():
        if where.endswith((".html", ".md", ".typ")):
            continue  # those of the chapters are read in test_docs
        for shown in re.findall(r"'(voicelog [a-z][^']*)'", text):
            if "_" not in shown:
                yield shown
        yield from re.findall(r"Example: (voicelog [a-z].*?)$", text)


def notes() -> Iterator[str]:
    """What sentences give as an example of a note: "a note such as '...'", "(l9 c)"."""
    for _, text in sentences():
        yield from re.findall(r"\bnote such as '([^'_]+)'", text)
        yield from re.findall(r"what was said \(([^)_]+)\)", text)
        yield from re.findall(r"--words ['\"]([^'\"_]+)['\"]", text)
        yield from re.findall(r"--answer \"([^\"_]+)\"", text)


def refused(line: str) -> str | None:
    """What is wrong with a command, as the program would say it."""
    try:
        parsed(re.sub(r" (\[[^]]*\]|\|.*|>.*)$", "", line))
    except Exception as error:
        return f"{line}: {error!r}"
    return None


def test_every_command_that_a_sentence_shows_can_be_called() -> None:
    found = set(commands())
    assert len(found) > 60
    assert [said for line in sorted(found) if (said := refused(line))] == []
    assert refused("voicelog summary --no-such")


def test_every_note_that_a_sentence_gives_as_an_example_is_one() -> None:
    found = set(notes())
    assert {"level three came", "l9 c", "line help"} <= found
    assert [words for words in sorted(found) if not read_typed_note(GRAMMAR, words).sure] == []
