"""Compile expansions into one automaton that every listener and reader shares.

Two views of the same language: `GrammarNetwork` still has its empty arcs, as grammar decoders
like it; `EpsilonFreeGraph` has none, so words can be followed one by one, carrying the tags they
pass as operations.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from voicelog.grammar.jsgf import (
    Alternatives,
    Expansion,
    GrammarSyntaxError,
    OptionalItem,
    Repeat,
    RuleRef,
    SequenceItem,
    Tag,
    Tagged,
    Token,
)
from voicelog.model import PhraseKind

__all__ = [
    "Arc",
    "EpsilonFreeGraph",
    "GrammarNetwork",
    "NetworkBuilder",
    "Operation",
    "PhraseEnd",
    "PhraseStart",
    "WordTransition",
]


class PhraseStart(NamedTuple):
    """A phrase of this kind starts here."""

    kind: PhraseKind


class PhraseEnd(NamedTuple):
    """The phrase ends here."""


Operation = PhraseStart | PhraseEnd | Tag


class Arc(NamedTuple):
    """From state to state; no word means that it is passed in silence."""

    start: int
    end: int
    word: str | None
    op: Operation | None
    weight: float


@dataclass(frozen=True, slots=True)
class GrammarNetwork:
    """States 0..`states`-1, entered at `start`, complete at `final`."""

    states: int
    start: int
    final: int
    arcs: tuple[Arc, ...]

    def words(self) -> tuple[str, ...]:
        """Every word that may be spoken, sorted."""
        return tuple(sorted({arc.word for arc in self.arcs if arc.word is not None}))


class WordTransition(NamedTuple):
    """Where a word leads, and the operations passed just before it is spoken."""

    state: int
    ops: tuple[Operation, ...]


Successors = Mapping[str, tuple[WordTransition, ...]]
FinalOperations = tuple[tuple[Operation, ...], ...]


class EpsilonFreeGraph:
    """The same language without empty arcs, worked out state by state as it is walked."""

    def __init__(self, network: GrammarNetwork) -> None:
        self.start = network.start
        self._final = network.final
        self._leaving: dict[int, list[Arc]] = {}
        for arc in network.arcs:
            self._leaving.setdefault(arc.start, []).append(arc)
        self._known: dict[int, tuple[Successors, FinalOperations]] = {}

    def onward(self, state: int) -> Successors:
        """The ways on from a state: for each word, where it leads (equal ways once)."""
        return self._look(state)[0]

    def stops(self, state: int) -> FinalOperations:
        """The ways to stop in a state: each the operations passed in stopping."""
        return self._look(state)[1]

    def _look(self, state: int) -> tuple[Successors, FinalOperations]:
        if state not in self._known:
            onward: dict[str, dict[WordTransition, None]] = {}
            stops: dict[tuple[Operation, ...], None] = {}
            for word, end, ops in self._ways(state):
                if word is None:
                    stops.setdefault(ops)
                else:
                    onward.setdefault(word, {}).setdefault(WordTransition(end, ops))
            self._known[state] = (
                {word: tuple(steps) for word, steps in onward.items()},
                tuple(stops),
            )
        return self._known[state]

    def _ways(self, start: int) -> Iterator[tuple[str | None, int, tuple[Operation, ...]]]:
        """What can be spoken next, or None for stopping, in the order of the arcs.

        A state is passed in silence once on each way, and once with the same operations; with
        no more than MAX_EPSILON_ARCS different ones, lest tags that need no words multiply.
        """
        ahead: list[tuple[str | None, int, tuple[Operation, ...], _EpsilonPath | None]] = [
            (None, start, (), None)
        ]
        seen: set[tuple[int, tuple[Operation, ...]]] = set()
        visited: Counter[int] = Counter()
        while ahead:
            word, state, ops, way = ahead.pop()
            if word is not None:
                yield word, state, ops
                continue
            if (state, ops) in seen or (state in visited and _passes(way, state)):
                continue
            if visited[state] == MAX_EPSILON_ARCS:
                continue
            seen.add((state, ops))
            visited[state] += 1
            if state == self._final:
                yield None, state, ops
            way = _EpsilonPath(state, way)
            for arc in reversed(self._leaving.get(state, ())):
                carried = ops if arc.op is None else (*ops, arc.op)
                ahead.append((arc.word, arc.end, carried, way))


MAX_EPSILON_ARCS = 16
"""Different meanings of saying nothing that are followed; no honest grammar has more than two."""


class _EpsilonPath(NamedTuple):
    """A way on which nothing was spoken, newest state first."""

    state: int
    before: _EpsilonPath | None


def _passes(way: _EpsilonPath | None, state: int) -> bool:
    while way is not None and way.state != state:
        way = way.before
    return way is not None


MAX_DEPTH = 200
"""Expansions and rules inside each other; deeper ones no person wrote."""
MAX_STATES = 500_000

RuleResolver = Callable[[RuleRef, str], tuple[str, Expansion]]
"""(reference, name of the grammar it stands in) -> (full rule name, its expansion)."""


@dataclass(slots=True)
class NetworkBuilder:
    """Builds a network from expansions; rule references are looked up by `resolve`.

    Raises GrammarSyntaxError for a rule that refers to itself elsewhere than at its end, and
    for grammars deeper than MAX_DEPTH or larger than MAX_STATES.
    """

    resolve: RuleResolver
    source_of: Callable[[str], str]
    states: int = 0
    arcs: list[Arc] = field(default_factory=list)
    _open: dict[str, int] = field(default_factory=dict)
    _depth: int = 0

    def state(self) -> int:
        self.states += 1
        return self.states - 1

    def arc(
        self,
        start: int,
        end: int,
        word: str | None = None,
        op: Operation | None = None,
        weight: float = 1.0,
    ) -> None:
        self.arcs.append(Arc(start, end, word, op, weight))

    def add(
        self, expansion: Expansion, start: int, home: str, tail: frozenset[str] = frozenset()
    ) -> int:
        """Add `expansion` from `start`; returns the state in which it is complete.

        `home` is the grammar that its references are seen from. `tail` names the open rules
        that would end with this expansion: only those may be referred to again.
        """
        self._depth += 1
        end = self._add(expansion, start, home, tail)
        self._depth -= 1
        return end

    def _add(self, expansion: Expansion, start: int, home: str, tail: frozenset[str]) -> int:
        match expansion:
            case Token(word):
                end = self.state()
                self.arc(start, end, word)
                return end
            case SequenceItem(items):
                for index, item in enumerate(items):
                    start = self.add(
                        item, start, home, tail if index == len(items) - 1 else frozenset()
                    )
                return start
            case Alternatives(options, weights):
                end = self.state()
                total = sum(weights) or 1.0
                for option, weight in zip(options, weights, strict=True):
                    if weight == 0:
                        continue  # the Note: a weight of zero can never be spoken
                    entry = self.state()
                    self.arc(start, entry, weight=weight / total)
                    self.arc(self.add(option, entry, home, tail), end)
                return end
            case OptionalItem(item):
                end = self.state()
                self.arc(start, end)
                entry = self.state()
                self.arc(start, entry)
                self.arc(self.add(item, entry, home, tail), end)
                return end
            case Repeat(item, least):
                entry, end = self.state(), self.state()
                self.arc(start, entry)
                finish = self.add(item, entry, home)
                self.arc(finish, end)
                self.arc(finish, entry)
                if least == 0:
                    self.arc(start, end)
                return end
            case Tagged(item, tag):
                finish = self.add(item, start, home)
                end = self.state()
                self.arc(finish, end, op=tag)
                return end
            case RuleRef():
                return self._add_rule(expansion, start, home, tail)

    def _add_rule(self, ref: RuleRef, start: int, home: str, tail: frozenset[str]) -> int:
        name, expansion = self.resolve(ref, home)
        if name in self._open:
            if name not in tail:
                raise self._refused(
                    ref,
                    home,
                    f"<{name}> inside itself",
                    "a rule that refers to itself only at its very end",
                )
            self.arc(start, self._open[name])
            return self.state()  # nothing follows a rule's end but the end itself
        if self._depth > MAX_DEPTH:
            raise self._refused(ref, home, f"<{name}>", f"at most {MAX_DEPTH} rules in a row")
        if self.states > MAX_STATES:
            raise self._refused(
                ref, home, f"more than {MAX_STATES} states before <{name}>", "a smaller grammar"
            )
        entry = self.state()
        self.arc(start, entry)
        self._open[name] = entry
        end = self.add(expansion, entry, name.rpartition(".")[0], tail | {name})
        del self._open[name]
        return end

    def _refused(self, ref: RuleRef, home: str, found: str, wanted: str) -> GrammarSyntaxError:
        return GrammarSyntaxError(self.source_of(home), ref.line, ref.column, found, wanted)

    def network(self, start: int, final: int) -> GrammarNetwork:
        return GrammarNetwork(self.states, start, final, tuple(self.arcs))
