"""Word errors are counted as the definition says, and as jiwer and sclite count them.

Definition: WER = (S + D + I) / N with N = S + D + C the words of the reference; it can exceed
1. Source: the description of the metric at huggingface.co/spaces/evaluate-metric/wer, and
pythonhosted.org/asr/align.html. The table below was computed with sclite (NIST SCTK) and with
jiwer 4.0.0, which agree on every row. Edit distances of single words: textbook examples, from
memory.
"""

from __future__ import annotations

import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.bench.wer import WordErrors, pooled, word_errors

TABLE = (
    ("the cat sat on the mat", "the cat sat mat", (4, 0, 2, 0), 0.3333),
    ("level thirty two no response", "level thirty too no response", (4, 1, 0, 0), 0.2),
    ("set level twelve", "please set level twelve now", (3, 0, 0, 2), 0.6667),
    ("one two three four five", "one three four five six", (4, 0, 1, 1), 0.4),
    ("stim level nine obeyed", "stim level niner obeyed", (3, 1, 0, 0), 0.25),
    ("a b c", "x y z w", (0, 3, 0, 1), 1.3333),
    (
        "vibrate level five sit compliant two seconds",
        "vibrate level nine sit compliant seconds",
        (5, 1, 1, 0),
        0.2857,
    ),
    ("head up", "head up", (2, 0, 0, 0), 0.0),
)


@pytest.mark.parametrize(("reference", "hypothesis", "counts", "rate"), TABLE)
def test_the_table_is_counted_alike(
    reference: str, hypothesis: str, counts: tuple[int, ...], rate: float
) -> None:
    found = word_errors(reference, hypothesis)
    assert tuple(found) == counts
    assert found.rate == pytest.approx(rate, abs=5e-5)
    jiwers = jiwer.process_words(reference, hypothesis)
    assert counts == (jiwers.hits, jiwers.substitutions, jiwers.deletions, jiwers.insertions)
    assert jiwers.wer == pytest.approx(rate, abs=5e-5)


def test_counts_are_pooled_over_utterances_not_averaged() -> None:
    found = [word_errors(reference, hypothesis) for reference, hypothesis, _, _ in TABLE]
    total = pooled(found)
    assert total == WordErrors(right=25, substituted=6, deleted=4, inserted=4)
    assert total.words == 35
    assert total.rate == pytest.approx(0.400)
    assert sum(each.errors > 0 for each in found) == 7
    together = jiwer.process_words([row[0] for row in TABLE], [row[1] for row in TABLE])
    assert together.wer == pytest.approx(total.rate)
    assert sum(each.rate for each in found) / len(found) != pytest.approx(0.400, abs=0.01)


@pytest.mark.parametrize(
    ("a", "b", "distance"), [("kitten", "sitting", 3), ("intention", "execution", 5)]
)
def test_the_distance_of_the_textbooks_is_found(a: str, b: str, distance: int) -> None:
    assert word_errors(" ".join(a), " ".join(b)).errors == distance


def test_the_fewest_errors_are_counted_where_sclite_would_count_more() -> None:
    # sclite weighs an insertion or a deletion 3 and a substitution 4 (SCTK doc/sclite.htm),
    # and so finds 4 deletions and 2 insertions here.
    found = word_errors("c a a a b b", "b b c a")
    assert found.errors == 5
    assert (found.substituted, found.deleted, found.inserted) == (3, 2, 0)


def test_letter_case_counts_as_in_jiwer() -> None:
    assert word_errors("Sit Down", "sit down").rate == 1.0 == jiwer.wer("Sit Down", "sit down")


def test_of_nothing_said_there_is_no_rate() -> None:
    found = word_errors("", "level three")
    assert tuple(found) == (0, 0, 0, 2)
    with pytest.raises(ZeroDivisionError):
        _ = found.rate
    assert tuple(pooled([])) == (0, 0, 0, 0)


SENTENCE = st.lists(st.sampled_from("abc"), max_size=7)


@given(said=SENTENCE, heard=SENTENCE)
def test_no_shorter_way_exists_from_what_was_said_to_what_was_heard(
    said: list[str], heard: list[str]
) -> None:
    found = word_errors(" ".join(said), " ".join(heard))
    assert found.errors == fewest(said, heard)
    assert found.words == len(said)
    assert found.right + found.substituted + found.inserted == len(heard)
    if said:
        jiwers = jiwer.process_words(" ".join(said), " ".join(heard))
        assert found.rate == pytest.approx(jiwers.wer)


def fewest(said: list[str], heard: list[str]) -> int:
    """The edit distance straight from its definition (Wagner and Fischer 1974)."""
    row = list(range(len(heard) + 1))
    for i, word in enumerate(said, start=1):
        before, row = row, [i]
        for j, other in enumerate(heard, start=1):
            row.append(min(before[j] + 1, row[-1] + 1, before[j - 1] + (word != other)))
    return row[-1]
