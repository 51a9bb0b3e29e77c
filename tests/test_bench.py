"""The benchmark's own counting, since every figure that is reported rests on it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.bench.judging import judge_utterances
from tests.bench.noise import Condition, mix
from voicelog.grammar.grammar import Grammar
from voicelog.model import Status, Utterance, Verdict

Entry = tuple[float, float, Status, str, tuple[str, ...]]


@pytest.fixture(scope="module")
def grammar() -> Grammar:
    return Grammar.load()


def said(*lines: tuple[float, float, str]) -> dict[str, Any]:
    return {
        "utterances": [
            {"start_s": start, "end_s": end, "words": words.removeprefix("talk: "),
             "kind": "talk" if words.startswith("talk: ") else "command"}
            for start, end, words in lines
        ]
    }  # fmt: skip


def counted(grammar: Grammar, truth: dict[str, Any], *entries: Entry) -> tuple[Any, Any]:
    events = [
        (
            Utterance(id=f"{start}", recording="r", start_s=start, end_s=end),
            (),
            Verdict(
                id=f"{start}.v",
                utterance=f"{start}",
                status=status,
                words=words,
                confidence=0.9,
                alternatives=others,
                judge="test",
            ),
        )
        for start, end, status, words, others in entries
    ]
    said_counts, entry_counts, _ = judge_utterances(grammar, truth, events, "here")
    return dict(said_counts), dict(entry_counts)


def test_a_reading_that_says_all_is_right_and_one_that_says_less_is_wrong(
    grammar: Grammar,
) -> None:
    truth = said((1, 3, "level seven came"))
    whole = counted(grammar, truth, (1, 3, "accepted", "level seven came", ()))
    assert whole == ({"right": 1}, {"right": 1})
    assert counted(grammar, truth, (1, 3, "accepted", "came", ())) == ({"wrong": 1}, {"wrong": 1})
    other = counted(grammar, truth, (1, 3, "accepted", "level eleven came", ()))
    assert other == ({"wrong": 1}, {"wrong": 1})


def test_two_entries_that_share_an_utterance_may_each_say_a_part(grammar: Grammar) -> None:
    truth = said((1, 3, "level seven came"))
    first: Entry = (1, 2.2, "accepted", "level seven", ())
    assert counted(grammar, truth, first, (2.3, 3, "accepted", "came", ())) == (
        {"right": 1},
        {"right": 2},
    )
    # With its end left out, what was said is not all there, yet no entry is wrong.
    assert counted(grammar, truth, first) == ({"missed": 1}, {"right": 1})


def test_an_entry_may_say_two_utterances_at_once(grammar: Grammar) -> None:
    truth = said((1, 2, "level seven"), (2.6, 3.2, "came"))
    found = counted(grammar, truth, (1, 3.2, "accepted", "level seven came", ()))
    assert found == ({"right": 2}, {"right": 1})


def test_a_doubtful_entry_offers_what_any_of_its_readings_says(grammar: Grammar) -> None:
    truth = said((1, 3, "level fifteen came"))
    offered: Entry = (1, 3, "doubtful", "level fifty came", ("level fifteen came",))
    assert counted(grammar, truth, offered)[0] == {"offered": 1}
    assert counted(grammar, truth, (1, 3, "doubtful", "level fifty came", ()))[0] == {"doubtful": 1}


def test_an_entry_where_no_command_was_said_is_false(grammar: Grammar) -> None:
    truth = said((1, 3, "talk: come on then"))
    assert counted(grammar, truth, (1, 3, "accepted", "came", ())) == ({}, {"false": 1})
    assert counted(grammar, truth, (7, 8, "doubtful", "came", ())) == ({}, {"doubtful talk": 1})


def test_noise_is_mixed_at_the_ratio_asked_for_over_the_speech() -> None:
    rng = np.random.default_rng(1)
    speech = np.zeros(32_000, dtype=np.float32)
    speech[8_000:16_000] = 0.05 * rng.standard_normal(8_000)
    hiss = rng.standard_normal(32_000).astype(np.float32)
    mixed, gain = mix(speech, hiss, 10, [(0.5, 1.0)])
    added = mixed / gain - speech
    ratio_db = 20 * np.log10(speech[8_000:16_000].std() / added.std())
    assert ratio_db == pytest.approx(10, abs=0.2)


@pytest.mark.parametrize(
    ("text", "kind", "snr_db", "narrow"),
    [("clean", None, 0, False), ("pink10", "pink", 10, False), ("real15-band8", "real", 15, True)],
)
def test_a_condition_says_what_it_means(
    text: str, kind: str | None, snr_db: float, narrow: bool
) -> None:
    assert Condition.parse(text) == Condition(kind, snr_db, narrow)


def test_a_condition_that_is_none_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match="clean, band8"):
        Condition.parse("rain")
