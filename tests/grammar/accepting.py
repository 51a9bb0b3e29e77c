"""Follow one rule of one JSGF grammar, as the compiler does for listeners."""

from __future__ import annotations

from voicelog.grammar.automaton import EpsilonFreeGraph, NetworkBuilder
from voicelog.grammar.jsgf import Expansion, RuleRef, parse


def graph_of(text: str, rule: str) -> EpsilonFreeGraph:
    """The word graph of one rule; references are looked up in the same grammar."""
    grammar = parse(text)
    rules = {f"{grammar.name}.{found.name}": found.expansion for found in grammar.rules}

    def resolve(ref: RuleRef, home: str) -> tuple[str, Expansion]:
        name = ref.name if "." in ref.name else f"{home}.{ref.name}"
        return name, rules[name]

    builder = NetworkBuilder(resolve, lambda home: f"{home}.jsgf")
    start = builder.state()
    final = builder.add(RuleRef(rule), start, grammar.name)
    return EpsilonFreeGraph(builder.network(start, final))


def accepts(graph: EpsilonFreeGraph, words: str) -> bool:
    """Whether the words are wholly one sentence of the graph."""
    states = {graph.start}
    for word in words.split():
        states = {step.state for state in states for step in graph.onward(state).get(word, ())}
    return any(graph.stops(state) for state in states)


def sentences(graph: EpsilonFreeGraph, longest: int) -> set[str]:
    """Every sentence of at most `longest` words."""
    found: set[str] = set()
    ways: set[tuple[int, tuple[str, ...]]] = {(graph.start, ())}
    for _ in range(longest + 1):
        found |= {" ".join(words) for state, words in ways if graph.stops(state)}
        ways = {
            (step.state, (*words, word))
            for state, words in ways
            for word, steps in graph.onward(state).items()
            for step in steps
        }
    return found
