"""How much is said in a calm, a busy and a dreadful session, counted."""

from __future__ import annotations

from tests.live.scripted import Told, busy, calm, dreadful, play


def check_budget(told: Told) -> None:
    """Six in any minute, and none begins in an open rep."""
    said = told.words(budgeted=True)
    assert most_in_a_minute(said) <= 6
    assert told.in_rep.isdisjoint(at_s for at_s, _ in said)


def most_in_a_minute(said: list[tuple[float, str]]) -> int:
    times = [at_s for at_s, _ in said]
    return max(sum(at_s <= other < at_s + 60.0 for other in times) for at_s in times)


def test_a_calm_session_hears_its_start_and_its_end() -> None:
    told = play(calm(1, 5.0))
    words = [words for _, words in told.words()]
    assert len(words) == 2
    assert words[0].startswith("Bracken.")
    assert words[1].endswith("unaided.")
    assert not told.warned


def test_a_busy_session_keeps_to_the_budget_and_still_tells_each_rule() -> None:
    told = play(busy())
    check_budget(told)
    assert len(told.words(budgeted=True)) == 24, "in four minutes"
    assert {"stress-weak", "step-big", "warmup-missing", "start-high"} <= told.warned.keys()
    advised = [words for _, words in told.words() if words == "Weak signs. Ease off"]
    assert len(advised) == 1, "advice is not repeated"
    assert told.warned["stress-weak"] > 1, "the next incident is told, without it"


def test_a_dreadful_session_hears_every_stop_and_little_else() -> None:
    told = play(dreadful())
    assert told.warned["stress-strong"] == 12, "yelped, screamed, cowered, four times"
    assert told.warned["over-ceiling"] >= 8, "nine and eight, four times"
    assert told.warned["stress-twice"] >= 11
    check_budget(told)
    assert len(told.words(budgeted=True)) <= 15
