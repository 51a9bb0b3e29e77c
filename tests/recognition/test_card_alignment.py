"""Lines of a card are found in order, past false starts and what is missing."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from tests.recognition.speaking import laid, say
from voicelog.audio.resampling import RATE
from voicelog.grammar.grammar import Grammar
from voicelog.recognition.card_alignment import align_card, order
from voicelog.recognition.segmenter import segments
from voicelog.recognition.sphinx import SphinxRecognizer

LOW, HIGH = 0.1, 0.9


def likeness(lines: list[int], segments: list[int]) -> list[list[float]]:
    """HIGH where a segment holds the line, LOW elsewhere."""
    return [[HIGH if line == one else LOW for one in segments] for line in lines]


def never(lines: list[int], segments: list[int]) -> list[list[bool]]:
    return [[False] * len(segments) for _ in lines]


@given(st.data())
def test_lines_are_found_past_false_starts_and_missing_ones(data: st.DataObject) -> None:
    count = data.draw(st.integers(1, 8))
    lines = list(range(count))
    read: list[int] = []
    for line in lines:
        read += [-1] * data.draw(st.integers(0, 2))
        read += [line] * data.draw(st.integers(0, 1))
    found = order(likeness(lines, read), never(lines, read))
    assert found == tuple((line, read.index(line)) for line in lines if line in read)


@given(st.lists(st.lists(st.floats(0, 1), min_size=4, max_size=4), max_size=6))
def test_the_order_holds_whatever_is_heard(alike: list[list[float]]) -> None:
    found = order(alike, [[True] * 4 for _ in alike])
    assert all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(found))


def test_a_line_read_twice_is_the_last_reading() -> None:
    assert order(likeness([0, 1], [0, 0, 1]), never([0, 1], [0, 0, 1])) == ((0, 1), (1, 2))


def test_lines_heard_badly_between_two_found_are_found_by_their_place() -> None:
    alike = likeness([0, 1, 2], [0, -1, 2])
    assert order(alike, [[True] * 3] * 3) == ((0, 0), (1, 1), (2, 2))
    assert order(alike, never([0, 1, 2], [0, -1, 2])) == ((0, 0), (2, 2))


def test_nothing_read_is_nothing_found() -> None:
    assert order([[], []], [[], []]) == ()
    assert order([], []) == ()


def test_a_recording_is_followed_past_a_false_start() -> None:
    card = ("level three came", "no button ignored", "yelped")
    spoken = [say(words, edge_s=0.0) for words in card]
    start = spoken[1][: round(0.45 * RATE)]
    sound = laid([(0.8, spoken[0]), (0.8, start), (0.8, spoken[1]), (0.8, spoken[2])])
    found = tuple(segments([sound]))
    grammar = Grammar.load()
    read = align_card(card, found, SphinxRecognizer(grammar), grammar)
    assert [line for line, _ in read] == list(card)
    assert read[1][1].start > (0.8 + len(spoken[0]) / RATE + 0.8) * RATE
