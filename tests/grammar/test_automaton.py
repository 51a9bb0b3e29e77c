"""The compiled network says exactly what the grammar says, and carries its tags."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given

from tests.grammar.accepting import accepts, graph_of, sentences
from tests.strategies import expansions, written
from voicelog.grammar.automaton import Arc, EpsilonFreeGraph, GrammarNetwork, NetworkBuilder
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.jsgf import (
    Alternatives,
    Expansion,
    OptionalItem,
    Repeat,
    RuleRef,
    SequenceItem,
    Token,
    parse,
)
from voicelog.model import Dog, Roster
from voicelog.model.phrases import phrase_slots

LONGEST = 4
Said = frozenset[tuple[str, ...]]
SILENCE: Said = frozenset({()})


def says(expansion: Expansion) -> Said:
    """Every sentence of at most LONGEST words, straight from the meaning of the operators."""
    match expansion:
        case Token(word):
            return frozenset({(word,)})
        case SequenceItem(items):
            said = SILENCE
            for item in items:
                said = then(said, says(item))
            return said
        case Alternatives(options, _):
            return frozenset().union(*map(says, options))
        case OptionalItem(item):
            return SILENCE | says(item)
        case Repeat(item, least):
            once = says(item)
            said, longer = once, then(once, once) | once
            while longer != said:
                said, longer = longer, longer | then(longer, once)
            return said if least else said | SILENCE
        case _:
            raise AssertionError(expansion)


def then(first: Said, second: Said) -> Said:
    return frozenset(a + b for a in first for b in second if len(a + b) <= LONGEST)


def said_by(rule: str) -> set[str]:
    return sentences(graph_of(f"#JSGF V1.0; grammar g; <a> = {rule};", "a"), LONGEST)


@given(expansions())
def test_a_compiled_expansion_says_what_its_operators_mean(expansion: Expansion) -> None:
    assert said_by(written(expansion)) == {" ".join(words) for words in says(expansion)}


@given(expansions())
def test_what_is_written_is_read_back(expansion: Expansion) -> None:
    assert said_by(written(expansion)) == said_by(f"({written(expansion)})")


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("a b | c d", {"a b", "c d"}),
        ("a (b | c) d", {"a b d", "a c d"}),
        ("[a] <NULL> b", {"a b", "b"}),
        ("a <VOID>", set()),
        ("a | <VOID>", {"a"}),
        ("<VOID>", set()),
        ("<NULL>", {""}),
        ("/0/ a | /1/ b", {"b"}),
        ("/0/ a | /0/ b", set()),
        ("a+ b", {"a b", "a a b", "a a a b"}),
        ("a* b", {"b", "a b", "a a b", "a a a b"}),
        ("(a*)*", {"", "a", "a a", "a a a", "a a a a"}),
        ("([a] [b])+", {" ".join(w) for n in range(5) for w in product("ab", repeat=n)}),
        ('"a b" c', {"a b c"}),
    ],
    ids=lambda given: given if isinstance(given, str) else "",
)
def test_operators_say_what_they_say(rule: str, said: set[str]) -> None:
    assert said_by(rule) == said


def test_weights_are_shares_and_change_nothing_that_may_be_said() -> None:
    network = _network("/3/ a | /1/ b | /0/ c")
    entering = {arc.weight for arc in network.arcs if arc.weight != 1.0}
    assert entering == {0.75, 0.25}
    assert network.words() == ("a", "b")


def test_a_network_has_one_start_one_end_and_states_in_range() -> None:
    network = Grammar.load().network()
    for arc in network.arcs:
        assert 0 <= arc.start < network.states
        assert 0 <= arc.end < network.states
        assert arc.word is None or arc.op is None
    assert not [arc for arc in network.arcs if arc.start == network.final]
    assert not [arc for arc in network.arcs if arc.end == network.start]


def test_every_state_leads_on_or_is_the_end() -> None:
    """Where somebody is on the roster: without, "start session" leads nowhere."""
    roster = Roster(dogs=(Dog(name="Bracken"),), handlers=("Anna",))
    network = Grammar.load(roster=roster).network()
    leading = {arc.start for arc in network.arcs} | {network.final}
    entered = {arc.end for arc in network.arcs}
    assert entered - leading == set()


def test_tags_are_passed_after_their_words() -> None:
    grammar = Grammar(
        [
            parse(
                "#JSGF V1.0; grammar condition; public <a> = (one {1} | ten {10}) (two {2}) {n=#};"
            )
        ],
        name="g",
    )
    assert [phrase_slots(p) for p in grammar.interpret("ten two") or ()] == [{"n": 12}]


def test_tags_in_silence_are_carried_and_loops_of_silence_end() -> None:
    grammar = Grammar(
        [parse("#JSGF V1.0; grammar condition; public <a> = (<NULL> {s=1} | [<NULL>] {s=2})* go;")],
        name="g",
    )
    meanings = [phrase_slots(phrases[0]) for phrases in grammar.meanings("go")]
    assert {} in meanings
    assert {"s": 1} in meanings
    assert {"s": 2} in meanings


def test_a_graph_of_nothing_but_silence_stops_at_once() -> None:
    graph = EpsilonFreeGraph(
        GrammarNetwork(2, 0, 1, (Arc(0, 0, None, None, 1.0), Arc(0, 1, None, None, 1.0)))
    )
    assert dict(graph.onward(0)) == {}
    assert graph.stops(0) == ((),)


def test_equal_ways_are_one_way() -> None:
    graph = graph_of("#JSGF V1.0; grammar g; <a> = ([b] | [c]) ([b] | [c]) d;", "a")
    assert len(graph.onward(graph.start)["d"]) == 1
    assert accepts(graph, "c b d")


def _network(rule: str) -> GrammarNetwork:
    expansion = parse(f"#JSGF V1.0; grammar g; <a> = {rule};").rules[0].expansion
    builder = NetworkBuilder(lambda ref, home: (f"g.{ref.name}", expansion), str)
    start = builder.state()
    return builder.network(start, builder.add(RuleRef("a"), start, "g"))
