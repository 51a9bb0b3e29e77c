"""Tags that no phrase carries are refused when the grammar is loaded, with one sentence."""

from __future__ import annotations

import pytest

from voicelog.grammar.grammar import Grammar
from voicelog.grammar.jsgf import parse
from voicelog.grammar.tag_check import UnknownTagError
from voicelog.model.phrases import make_phrase, phrase_slots


def load(kind: str, rule: str) -> Grammar:
    return Grammar([parse(f"#JSGF V1.0; grammar {kind}; public <a> = {rule};", "mine")], name="g")


def test_the_sentence_says_what_was_found_what_may_stand_and_what_to_do() -> None:
    with pytest.raises(UnknownTagError) as error:
        load("turned", "away {turned=away} {how=fast}")
    assert str(error.value) == (
        "Found the tags {how=fast} on a phrase in 'mine', wanted {turned=...}; correct the tags, "
        "or move the rule to condition.jsgf, where any tag may stand."
    )


@pytest.mark.parametrize(
    ("kind", "rule"),
    [
        ("cue", "here"),
        ("cue", "here {cue=here}"),
        ("cue", "here {cue=here} {cue_by=drum}"),
        ("cue", "here {cue=here} {cue_by=voice} {cues=2}"),
        ("stimulus", "jump {do=jump}"),
        ("stimulus", "level {do=level}"),
        ("stimulus", "level [ nine {level=9} ] {do=level}"),
        ("stimulus", "level nine {level=nine} {do=level}"),
        ("stimulus", "buzz {do=vibrate} {level=9}"),
        ("outcome", "won {outcome=won}"),
        ("sign", "yelped {sign=yelped}"),
        ("reward", "liver ( {reward=liver} | treat )".replace("( {", "( <NULL> {")),
        ("edit", "strike rep {do=strike rep}"),
        ("session", "next dog {do=next}"),
        ("ask", "say time {say=time}"),
        ("condition", "hot {temperature=hot}"),
    ],
)
def test_tags_that_make_no_phrase_are_refused(kind: str, rule: str) -> None:
    with pytest.raises(UnknownTagError, match=r"^Found (the tags \{|no tags).* in 'mine', wanted "):
        load(kind, rule)


def test_conditions_and_equipment_carry_what_the_grammar_names() -> None:
    for kind in ("condition", "equipment"):
        (phrase,) = load(kind, "bell on {bell=on} {words=3}").interpret("bell on") or ()
        assert phrase.kind == kind
        assert phrase_slots(phrase) == {"bell": "on", "words": 3}


def test_a_later_tag_stands_for_an_earlier_one() -> None:
    (phrase,) = load("turned", "off {turned=off} {turned=away}").interpret("off") or ()
    assert phrase_slots(phrase) == {"turned": "away"}


def test_tags_that_are_of_no_class_make_no_phrase() -> None:
    with pytest.raises(ValueError, match="no phrase of cue carries"):
        make_phrase("cue", {"cue": "here"}, "here")
