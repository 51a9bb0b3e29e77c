"""Words that say two things are found, across phrases too."""

from __future__ import annotations

from pathlib import Path

from voicelog.grammar.ambiguity import ambiguous_words
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster


def with_names(*dogs: str, cues: tuple[str, ...] = ("here",)) -> Grammar:
    return Grammar.load(roster=Roster(dogs=tuple(Dog(name=name, cues=cues) for name in dogs)))


def test_the_grammar_that_ships_says_one_thing_at_a_time() -> None:
    assert ambiguous_words(with_names("Bracken", "Wren", cues=("here", "come", "hup"))) == ()


def test_a_name_that_makes_two_notes_of_one_is_found() -> None:
    (one,) = ambiguous_words(with_names("Came"))
    assert one.words == "came here"
    assert [[phrase.kind for phrase in way] for way in one.meanings] == [
        ["cue"],
        ["outcome", "cue"],
    ]


def test_a_phrase_that_lies_across_two_others_is_found(tmp_path: Path) -> None:
    (tmp_path / "cue.jsgf").write_text(
        "#JSGF V1.0 UTF-8 en;\ngrammar cue;\n"
        "public <a> = ( come {cue=come} | in line {cue=in line} | come in {cue=come in}"
        " | line {cue=line} ) {cue_by=whistle};\n"
    )
    (one,) = ambiguous_words(Grammar.load(tmp_path))
    assert one.words == "come in line"
    assert len(one.meanings) == 2
