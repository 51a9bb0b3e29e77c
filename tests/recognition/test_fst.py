"""The acceptor says what the network says, and what is written reads back elsewhere."""

from __future__ import annotations

import json
import math
import struct
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.grammar.automaton import Arc, EpsilonFreeGraph, GrammarNetwork, PhraseStart
from voicelog.grammar.grammar import Grammar, RecognitionContext
from voicelog.model import Dog, Roster
from voicelog.recognition import fst

WORDS = ("a", "b", "c")
LONGEST = 4
IDS = {"a": 30, "b": 7, "c": 11}

arcs = st.builds(
    Arc,
    st.integers(0, 4),
    st.integers(0, 4),
    st.none() | st.sampled_from(WORDS),
    st.none() | st.just(PhraseStart("cue")),
    st.sampled_from([1.0, 0.5, 0.25]),
)
networks = st.builds(
    GrammarNetwork, st.just(5), st.just(0), st.just(4), st.lists(arcs, max_size=12)
)


def sentences(network: GrammarNetwork) -> set[tuple[str, ...]]:
    """Every sentence of up to LONGEST words, by the word graph that readers follow."""
    graph = EpsilonFreeGraph(network)
    found: set[tuple[str, ...]] = set()
    ways: set[tuple[tuple[str, ...], int]] = {((), graph.start)}
    for _ in range(LONGEST + 1):
        found |= {words for words, state in ways if graph.stops(state)}
        ways = {
            ((*words, word), step.state)
            for words, state in ways
            for word, steps in graph.onward(state).items()
            for step in steps
        }
    return {words for words in found if len(words) <= LONGEST}


def paths(acceptor: fst.Acceptor) -> Iterator[tuple[tuple[str, ...], float]]:
    """Every path of up to LONGEST words that may stop, with its cost."""
    ways: list[tuple[tuple[str, ...], int, float]] = [((), 0, 0.0)]
    for _ in range(LONGEST + 1):
        for words, state, cost in ways:
            if acceptor.final[state] < math.inf:
                yield words, cost + acceptor.final[state]
        ways = [
            ((*words, arc.word), arc.end, cost + arc.cost)
            for words, state, cost in ways
            for arc in acceptor.arcs[state]
        ]


def cheapest(network: GrammarNetwork, phrase_cost: float) -> dict[tuple[str, ...], float]:
    """Each sentence's least cost, by relaxing every arc of the network until nothing changes."""
    least: dict[tuple[int, tuple[str, ...]], float] = {(network.start, ()): 0.0}
    changed = True
    while changed:
        changed = False
        for arc in network.arcs:
            price = -math.log(arc.weight) + (phrase_cost if arc.op else 0.0)
            for (state, words), cost in list(least.items()):
                said = words if arc.word is None else (*words, arc.word)
                if state == arc.start and len(said) <= LONGEST:
                    place = (arc.end, said)
                    if cost + price < least.get(place, math.inf) - 1e-9:
                        least[place] = cost + price
                        changed = True
    return {words: cost for (state, words), cost in least.items() if state == network.final}


@given(networks)
def test_it_accepts_the_sentences_of_the_network_and_silence(network: GrammarNetwork) -> None:
    accepted = {words for words, _ in paths(fst.acceptor(network)) if len(words) <= LONGEST}
    assert accepted == sentences(network) | {()}


@given(networks, st.sampled_from([0.0, 2.0]))
def test_a_sentence_costs_its_cheapest_way(network: GrammarNetwork, phrase_cost: float) -> None:
    found: dict[tuple[str, ...], float] = {}
    for words, cost in paths(fst.acceptor(network, phrase_cost=phrase_cost)):
        found[words] = min(cost, found.get(words, math.inf))
    wanted = cheapest(network, phrase_cost) | {(): 0.0}
    assert {words: cost for words, cost in found.items() if words} == pytest.approx(
        {words: cost for words, cost in wanted.items() if words}, abs=1e-5
    )
    assert found[()] == 0.0


@given(networks, st.sets(st.sampled_from(WORDS)))
def test_sentences_with_an_unknown_word_are_left_out(
    network: GrammarNetwork, known: set[str]
) -> None:
    acceptor = fst.acceptor(network, known)
    accepted = {words for words, _ in paths(acceptor) if len(words) <= LONGEST}
    assert accepted == {s for s in sentences(network) if set(s) <= known} | {()}
    assert acceptor.words() <= known


@given(networks)
def test_no_state_leads_nowhere(network: GrammarNetwork) -> None:
    acceptor = fst.acceptor(network)
    ending = {state for state, cost in enumerate(acceptor.final) if cost < math.inf}
    for _ in acceptor.arcs:
        ending |= {
            state
            for state, leaving in enumerate(acceptor.arcs)
            if any(arc.end in ending for arc in leaving)
        }
    assert ending == set(range(len(acceptor.arcs)))


def test_the_english_grammar_becomes_a_small_acceptor() -> None:
    roster = Roster(dogs=(Dog(name="bracken"),), handlers=("anna",))
    network = Grammar.load(roster=roster).network(RecognitionContext(top_level=20))
    acceptor = fst.acceptor(network)
    assert acceptor.words() == set(network.words())
    assert len(acceptor.arcs) < 200
    assert sum(map(len, acceptor.arcs)) < 5_000


@pytest.fixture(scope="module")
def openfst() -> Iterator[Callable[[Path], Any]]:
    """Ask OpenFst what it reads in a file."""
    script = Path(__file__).with_name("openfst.py")
    with subprocess.Popen(
        [sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as referee:
        assert referee.stdin is not None
        assert referee.stdout is not None
        to, answers = referee.stdin, referee.stdout

        def ask(path: Path) -> Any:
            to.write(f"{path}\n")
            to.flush()
            return json.loads(answers.readline())

        yield ask
        to.close()


@given(network=networks)
def test_what_is_written_reads_back_in_openfst(
    tmp_path_factory: pytest.TempPathFactory,
    openfst: Callable[[Path], Any],
    network: GrammarNetwork,
) -> None:
    acceptor = fst.acceptor(network)
    path = tmp_path_factory.mktemp("fst") / "Gr.fst"
    fst.write(acceptor, IDS, path)
    read = openfst(path)
    assert read["start"] == 0
    assert read["final"] == [pytest.approx(cost) for cost in acceptor.final]
    for found, leaving in zip(read["arcs"], acceptor.arcs, strict=True):
        assert [label for label, *_ in found] == sorted(label for label, *_ in found)
        assert sorted(found) == [
            [label, label, end, pytest.approx(cost)]
            for label, end, cost in sorted((IDS[arc.word], arc.end, arc.cost) for arc in leaving)
        ]
    assert read["properties"] & fst._PROPERTIES == fst._PROPERTIES


@given(networks)
def test_the_words_of_a_written_file_read_back(
    tmp_path_factory: pytest.TempPathFactory, network: GrammarNetwork
) -> None:
    acceptor = fst.acceptor(network)
    path = tmp_path_factory.mktemp("fst") / "Gr.fst"
    fst.write(acceptor, IDS, path)
    used = {word: number for word, number in IDS.items() if word in acceptor.words()}
    assert fst.read_symbols(path) == {fst.EPSILON: 0} | used


def test_a_file_without_words_has_none(tmp_path: Path, openfst: Callable[[Path], Any]) -> None:
    path = tmp_path / "Gr.new"
    openfst(path)
    assert fst.read_symbols(path) is None


@pytest.fixture
def written(tmp_path: Path) -> Path:
    path = tmp_path / "Gr.fst"
    fst.write(fst.acceptor(GrammarNetwork(2, 0, 1, (Arc(0, 1, "a", None, 1.0),))), IDS, path)
    return path


@pytest.mark.parametrize(
    ("raw", "problem"),
    [
        (b"", "cannot mmap an empty file"),
        (b"PK\x03\x04rest of an archive", "it starts with 67324752"),
        (struct.pack("<i", 2125659606), "unpack_from requires a buffer of at least 8 bytes"),
    ],
    ids=["empty", "something else", "only the first bytes"],
)
def test_a_file_that_is_not_openfst_is_refused(tmp_path: Path, raw: bytes, problem: str) -> None:
    path = tmp_path / "Gr.fst"
    path.write_bytes(raw)
    with pytest.raises(fst.FstError) as raised:
        fst.read_symbols(path)
    assert str(raised.value).startswith(f"Found in '{path}' no readable OpenFst data ({problem}")
    assert str(raised.value).endswith(
        "), wanted a whole graph of a Vosk model; install the model again."
    )


def test_a_file_cut_short_in_its_words_is_refused(written: Path) -> None:
    written.write_bytes(written.read_bytes()[:110])
    with pytest.raises(fst.FstError):
        fst.read_symbols(written)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(fst.FstError):
        fst.read_symbols(tmp_path / "Gr.fst")
