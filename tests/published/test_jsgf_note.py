"""The JSGF reader agrees with the Note's own examples and with two other readers.

Source: JSpeech Grammar Format, W3C Note, 5 June 2000 (https://www.w3.org/TR/jsgf/), its
examples of weights, unary operators, precedence, <NULL> and <VOID>. The other readers are
the one inside PocketSphinx and the package pyjsgf; pyjsgf is kept away from right recursion
and from a star over an option, which it does not finish.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import cache
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pocketsphinx import Jsgf, LogMath

from tests.grammar.accepting import accepts, graph_of, sentences
from tests.strategies import expansions, written
from voicelog.grammar.jsgf import Expansion

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # pyjsgf calls pyparsing by old names
    import jsgf as pyjsgf

pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:jsgf")
COMMANDS = """\
#JSGF V1.0;
grammar commands;
public <basicCmd> = <startPolite> <command> <endPolite>;
public <plainCmd> = <command> <endPolite>;
<command> = <action> <object>;
<action> = /10/ open |/2/ close |/1/ delete |/1/ move;
<object> = [the | a] (window | file | menu);
<startPolite> = (please | kindly | could you | oh mighty computer) *;
<endPolite> = [ please | thanks | thank you ];
"""

Reader = Callable[[str], bool]


def ours(text: str, rule: str) -> Reader:
    graph = graph_of(text, rule)
    return lambda words: accepts(graph, words)


def sphinx(text: str, rule: str) -> Reader:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "note.gram"
        path.write_text(text, encoding="utf-8")
        grammar = Jsgf(str(path))
    network = grammar.build_fsg(grammar.get_rule(f"{grammar.get_name()}.{rule}"), LogMath(), 1.0)
    return lambda words: bool(network.accept(words))


def python(text: str, rule: str) -> Reader:
    grammar = pyjsgf.parse_grammar_string(text)
    return lambda words: any(found.name == rule for found in grammar.find_matching_rules(words))


READERS = [ours, sphinx, python]


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize(
    "words",
    [
        "open window",
        "close the file",
        "please open the window thanks",
        "could you please kindly move a menu thank you",
        "oh mighty computer close the file",
        "please please delete menu please",
    ],
)
def test_commands_of_the_note_are_accepted(
    reader: Callable[[str, str], Reader], words: str
) -> None:
    assert reader(COMMANDS, "basicCmd")(words)


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize(
    "words",
    [
        "open",
        "window",
        "please",
        "the open window",
        "open the a window",
        "delete file please please",
        "could open window",
        "open window oh mighty computer",
    ],
)
def test_what_is_no_command_of_the_note_is_refused(
    reader: Callable[[str, str], Reader], words: str
) -> None:
    assert not reader(COMMANDS, "basicCmd")(words)


def test_without_the_polite_start_there_are_144_commands() -> None:
    """4 actions, 3 articles (or none), 3 objects, 4 endings (or none)."""
    said = sentences(graph_of(COMMANDS, "plainCmd"), longest=6)
    assert len(said) == 4 * 3 * 3 * 4 == 144
    assert all(sphinx(COMMANDS, "plainCmd")(words) for words in said)


NOTE_WORDS = ["please", "could", "you", "open", "move", "the", "a", "window", "menu", "thank"]


@cache
def note_readers() -> tuple[Reader, ...]:
    return tuple(reader(COMMANDS, "basicCmd") for reader in READERS)


@settings(max_examples=200)
@given(st.lists(st.sampled_from(NOTE_WORDS), min_size=1, max_size=7).map(" ".join))
def test_all_readers_agree_on_any_row_of_the_notes_words(words: str) -> None:
    assert len({reads(words) for reads in note_readers()}) == 1


@settings(max_examples=100)
@given(st.data())
def test_all_readers_agree_on_commands_with_a_word_changed(data: st.DataObject) -> None:
    parts = [["", "please", "could you"], ["open", "move"], ["", "the", "a"], ["window", "menu"],
             ["", "please", "thank you"]]  # fmt: skip
    words = " ".join(data.draw(st.sampled_from(part)) for part in parts).split()
    assert [reads(" ".join(words)) for reads in note_readers()] == [True] * 3
    place = data.draw(st.integers(0, len(words)))
    words[place : place + data.draw(st.integers(0, 1))] = data.draw(
        st.lists(st.sampled_from(NOTE_WORDS), max_size=1)
    )
    assert len({reads(" ".join(words)) for reads in note_readers()}) == 1


OPERATORS = {
    "a b | c d": "a sequence binds tighter than an alternative",
    "a (b | c) d": "brackets group",
    "[a] <NULL> b": "null is spoken by saying nothing",
    "a* b c": "a star is zero or more",
    "a+ b": "a plus is one or more",
    "a (b | c) [d (a | b)]": "an option holds a group",
    "a {tag} (b | c) {other}": "tags change no word",
    "/5/ a | /1/ b c": "weights change no word",
    "/5.5/ a+ | /0.1/ (b c)*  d": "a unary operator binds to what it follows",
    "a /* b */ c // d\n": "comments are no words",
}


@pytest.mark.parametrize("rule", OPERATORS, ids=OPERATORS.values())
def test_all_readers_agree_on_the_operators(rule: str) -> None:
    text = f"#JSGF V1.0;\ngrammar g;\npublic <r> = {rule};\n"
    said = [reader(_our_tags(text) if reader is ours else text, "r") for reader in READERS]
    for length in (1, 2, 3, 4):
        for chosen in product("abcd", repeat=length):
            words = " ".join(chosen)
            verdicts = [reads(words) for reads in said]
            assert len(set(verdicts)) == 1, (words, verdicts)


@pytest.mark.parametrize("reader", [ours, python])
def test_void_can_never_be_spoken_and_leaves_other_choices(
    reader: Callable[[str, str], Reader],
) -> None:
    """PocketSphinx is no referee here: it gives up the whole rule for one <VOID>."""
    reads = reader("#JSGF V1.0;\ngrammar g;\npublic <r> = a | b <VOID>;\n", "r")
    assert [reads(words) for words in ("a", "b", "a b")] == [True, False, False]


def _our_tags(text: str) -> str:
    """The Note lets a tag be anything; ours is a name and a value."""
    return text.replace("{tag}", "{t=tag}").replace("{other}", "{t=other}")


@settings(max_examples=40)
@given(expansions("ab", most_leaves=6))
def test_pocketsphinx_agrees_on_any_expansion(expansion: Expansion) -> None:
    text = f"#JSGF V1.0;\ngrammar g;\npublic <r> = {written(expansion)};\n"
    referee, graph = sphinx(text, "r"), graph_of(text, "r")
    for length in (1, 2, 3, 4):
        for chosen in product("ab", repeat=length):
            words = " ".join(chosen)
            assert accepts(graph, words) is referee(words), words


@pytest.mark.parametrize("reader", [ours, sphinx])
def test_right_recursion_is_legal(reader: Callable[[str, str], Reader]) -> None:
    reads = reader("#JSGF V1.0;\ngrammar g;\npublic <r> = a | a <r>;\n", "r")
    assert [reads(words) for words in ("a", "a a", "a a a", "b", "a b")] == [True] * 3 + [False] * 2


def test_a_small_product_of_choices_has_24_sentences() -> None:
    """(call | phone) (him | her) [on | at] (home | mobile): 2 x 2 x 3 x 2, by counting."""
    graph = graph_of(
        "#JSGF V1.0; grammar g; <r> = (call | phone) (him | her) [on | at] (home | mobile);", "r"
    )
    assert len(sentences(graph, longest=4)) == 24
    assert not accepts(graph, "phone her at office")
    assert not accepts(graph, "call him")
