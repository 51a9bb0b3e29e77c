"""Write a grammar as a weighted acceptor in OpenFst's binary form, and read its word lists.

A Vosk model hears what its graph/Gr.fst allows. `acceptor` turns a network of words into
one without empty arcs, and `write` saves it as OpenFst's "vector" type with arcs of type
"standard", little-endian, which is what Kaldi reads. `read_symbols` reads the word ids
that any OpenFst file carries, whatever its type.

Costs are negative natural logarithms of weights; lower is likelier.
"""

from __future__ import annotations

import math
import mmap
import struct
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from voicelog.grammar.automaton import GrammarNetwork, PhraseStart
from voicelog.model import VoicelogError

__all__ = ["EPSILON", "Acceptor", "FstError", "WordArc", "acceptor", "read_symbols", "write"]

EPSILON = "<eps>"
INFINITE_COST = math.inf

_FST_MAGIC = 2125659606
_SYMBOLS_MAGIC = 2125658996
_VECTOR_VERSION = 2
_HAS_INPUT_SYMBOLS, _HAS_OUTPUT_SYMBOLS = 1, 2
# expanded, mutable, acceptor, no empty arcs, sorted by input and by output label
_PROPERTIES = 0x1 | 0x2 | 0x10000 | 0x800000 | 0x2000000 | 0x8000000 | 0x10000000 | 0x40000000


class FstError(VoicelogError):
    """A file that is not an OpenFst file with a word list."""


class WordArc(NamedTuple):
    """A word, its cost, and the state it leads to."""

    word: str
    cost: float
    end: int


@dataclass(frozen=True, slots=True)
class Acceptor:
    """`arcs[state]` are the words that may follow; `final[state]` is the cost to stop there.

    A state where one may not stop has the final cost infinity. State 0 is the start.
    """

    arcs: tuple[tuple[WordArc, ...], ...]
    final: tuple[float, ...]

    def words(self) -> frozenset[str]:
        """Every word on an arc."""
        return frozenset(arc.word for leaving in self.arcs for arc in leaving)


def acceptor(
    network: GrammarNetwork, known: Container[str] | None = None, *, phrase_cost: float = 0.0
) -> Acceptor:
    """The sentences of `network`, and saying nothing, without empty arcs.

    Each way costs what its cheapest path costs, and `phrase_cost` for every phrase in it.
    With `known`, sentences that need any other word are left out, and so is every state
    that then leads nowhere. States from which all goes on alike are one.
    """
    onward, stop = _without_epsilon(network, known, phrase_cost)
    onward.row_of[_START], stop[_START] = onward.row_of[network.start], 0.0
    alive = _coaccessible(onward, stop)
    return _merged(
        _Onward(
            {state: row for state, row in onward.row_of.items() if state in alive},
            [
                {arc: cost for arc, cost in leaving.items() if arc[1] in alive}
                for leaving in onward.rows
            ],
        ),
        stop,
    )


_START = -1
"""A start of our own: one may stop there, which the network's start need not allow."""


class _Onward(NamedTuple):
    """What follows each state: the place of its row, and the rows, (word, next state) -> cost.

    After any phrase the same words may follow, so a thousand states share a hundred rows.
    """

    row_of: dict[int, int]
    rows: list[dict[tuple[str, int], float]]


def _without_epsilon(
    network: GrammarNetwork, known: Container[str] | None, phrase_cost: float
) -> tuple[_Onward, dict[int, float]]:
    """The words that may follow each state, and the cost to stop in it where one may."""
    silent: dict[int, list[tuple[int, float]]] = {}
    spoken: dict[int, list[tuple[str, int, float]]] = {}
    for arc in network.arcs:
        cost = -math.log(arc.weight) + (phrase_cost if isinstance(arc.op, PhraseStart) else 0.0)
        if arc.word is None:
            silent.setdefault(arc.start, []).append((arc.end, cost))
        elif known is None or arc.word in known:
            spoken.setdefault(arc.start, []).append((arc.word, arc.end, cost))
    onward = _Onward({}, [])
    stop: dict[int, float] = {}
    ends: list[list[int]] = []
    known_rows: dict[tuple[tuple[int, float], ...], int] = {}
    waiting = [network.start]
    while waiting:
        state = waiting.pop()
        if state in onward.row_of:
            continue
        reached = _epsilon_closure(state, silent)
        if network.final in reached:
            stop[state] = reached[network.final]
        speaking = tuple((passed, cost) for passed, cost in reached.items() if passed in spoken)
        row = known_rows.setdefault(speaking, len(onward.rows))
        if row == len(onward.rows):
            onward.rows.append(_cheapest_arcs(speaking, spoken))
            ends.append([end for passed, _ in speaking for _, end, _ in spoken[passed]])
        onward.row_of[state] = row
        waiting.extend(end for end in ends[row] if end not in onward.row_of)
    return onward, stop


def _cheapest_arcs(
    speaking: Iterable[tuple[int, float]], spoken: Mapping[int, list[tuple[str, int, float]]]
) -> dict[tuple[str, int], float]:
    """The words that may follow where these states are reached at these costs."""
    leaving: dict[tuple[str, int], float] = {}
    for passed, so_far in speaking:
        for word, end, cost in spoken[passed]:
            leaving[word, end] = min(leaving.get((word, end), INFINITE_COST), so_far + cost)
    return leaving


def _epsilon_closure(state: int, silent: Mapping[int, list[tuple[int, float]]]) -> dict[int, float]:
    """The states reached from `state` without a word, each at its least cost."""
    least = {state: 0.0}
    waiting = [state]
    while waiting:
        passed = waiting.pop()
        for end, cost in silent.get(passed, ()):
            total = least[passed] + cost
            if total < least.get(end, INFINITE_COST):
                least[end] = total
                waiting.append(end)
    return least


def _coaccessible(onward: _Onward, stop: Mapping[int, float]) -> frozenset[int]:
    before: dict[int, list[int]] = {}
    states: list[list[int]] = [[] for _ in onward.rows]
    for state, row in onward.row_of.items():
        states[row].append(state)
    for row, leaving in enumerate(onward.rows):
        for end in {end for _, end in leaving}:
            before.setdefault(end, []).append(row)
    alive: set[int] = set()
    waiting = list(stop)
    while waiting:
        state = waiting.pop()
        if state not in alive:
            alive.add(state)
            waiting.extend(one for row in before.get(state, ()) for one in states[row])
    return frozenset(alive)


def _merged(onward: _Onward, stop: Mapping[int, float]) -> Acceptor:
    """States are split until those together stop and go on alike, at the same costs (the
    refinement of partitions; E. F. Moore, Automata Studies, 1956)."""
    final = {state: round(stop.get(state, INFINITE_COST), _DECIMALS) for state in onward.row_of}
    rounded = [
        [(word, round(cost, _DECIMALS), end) for (word, end), cost in leaving.items()]
        for leaving in onward.rows
    ]
    group = dict.fromkeys(onward.row_of, 0)
    used = sorted(set(onward.row_of.values()))
    count = 0
    while True:
        ways: dict[frozenset[tuple[str, float, int]], int] = {}
        way = {
            row: ways.setdefault(
                frozenset([(word, cost, group[end]) for word, cost, end in rounded[row]]),
                len(ways),
            )
            for row in used
        }
        looks = {
            state: (group[state], final[state], way[row]) for state, row in onward.row_of.items()
        }
        numbers = {look: number for number, look in enumerate(dict.fromkeys(looks.values()))}
        group = {state: numbers[look] for state, look in looks.items()}
        if len(numbers) == count:
            break
        count = len(numbers)
    # The last split changed nothing but perhaps the numbering: go by one state of each.
    one_of = {number: state for state, number in group.items()}
    order = [group[_START], *(n for n in range(count) if n != group[_START])]
    place = {number: index for index, number in enumerate(order)}
    arcs = tuple(
        tuple(
            sorted(
                {
                    WordArc(word, cost, place[group[end]])
                    for (word, end), cost in onward.rows[onward.row_of[one_of[number]]].items()
                }
            )
        )
        for number in order
    )
    return Acceptor(arcs, tuple(stop.get(one_of[number], INFINITE_COST) for number in order))


_DECIMALS = 6
"""Costs that differ by less than this many decimals are the same: they are summed floats."""


def write(acceptor: Acceptor, ids: Mapping[str, int], path: Path) -> None:
    """Save `acceptor` as a binary OpenFst file whose labels are the `ids` of its words.

    The file carries the words it uses as its input and output symbols. Every word must be
    in `ids` (KeyError), with an id above 0, which is the empty label.
    """
    used = {word: ids[word] for word in sorted(acceptor.words())}
    symbols = _symbols({EPSILON: 0} | used)
    states = len(acceptor.arcs)
    count = sum(map(len, acceptor.arcs))
    parts = [
        struct.pack("<i", _FST_MAGIC),
        _string("vector"),
        _string("standard"),
        struct.pack(
            "<iiQqqq",
            _VECTOR_VERSION,
            _HAS_INPUT_SYMBOLS | _HAS_OUTPUT_SYMBOLS,
            _PROPERTIES,
            0,
            states,
            count,
        ),
        symbols,
        symbols,
    ]
    for leaving, final in zip(acceptor.arcs, acceptor.final, strict=True):
        parts.append(struct.pack("<fq", final, len(leaving)))
        for arc in sorted(leaving, key=lambda arc: used[arc.word]):
            parts.append(struct.pack("<iifi", used[arc.word], used[arc.word], arc.cost, arc.end))
    path.write_bytes(b"".join(parts))


def _string(text: str) -> bytes:
    raw = text.encode()
    return struct.pack("<i", len(raw)) + raw


def _symbols(ids: Mapping[str, int]) -> bytes:
    return b"".join(
        [
            struct.pack("<i", _SYMBOLS_MAGIC),
            _string("words"),
            struct.pack("<qq", max(ids.values()) + 1, len(ids)),
            *(_string(word) + struct.pack("<q", number) for word, number in ids.items()),
        ]
    )


def read_symbols(path: Path) -> dict[str, int] | None:
    """The words of an OpenFst file and their ids; None when the file carries none.

    Raises FstError when the file is not a complete OpenFst file.
    """
    try:
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as raw:
            return _read_symbols(raw)
    except (OSError, ValueError, struct.error, _NotAnFstError) as problem:
        raise FstError(
            f"Found in '{path}' no readable OpenFst data ({problem}), wanted a whole graph of "
            "a Vosk model; install the model again."
        ) from problem


class _NotAnFstError(Exception):
    pass


def _read_symbols(raw: mmap.mmap) -> dict[str, int] | None:
    (magic,) = struct.unpack_from("<i", raw, 0)
    if magic != _FST_MAGIC:
        raise _NotAnFstError(f"it starts with {magic}")
    at = 4
    for _ in ("type", "arc type"):
        at += 4 + struct.unpack_from("<i", raw, at)[0]
    _, flags, *_ = struct.unpack_from("<iiQqqq", raw, at)
    at += struct.calcsize("<iiQqqq")
    if not flags & (_HAS_INPUT_SYMBOLS | _HAS_OUTPUT_SYMBOLS):
        return None
    (magic, name_length) = struct.unpack_from("<ii", raw, at)
    if magic != _SYMBOLS_MAGIC:
        raise _NotAnFstError(f"its word list starts with {magic}")
    at += 8 + name_length
    _, count = struct.unpack_from("<qq", raw, at)
    at += 16
    length_of, number_of = struct.Struct("<i").unpack_from, struct.Struct("<q").unpack_from
    ids: dict[str, int] = {}
    for _ in range(count):
        end = at + 4 + length_of(raw, at)[0]
        word = raw[at + 4 : end].decode()
        ids[word] = number_of(raw, end)[0]
        at = end + 8
    return ids
