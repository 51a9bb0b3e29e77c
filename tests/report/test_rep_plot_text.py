"""The plot in characters."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings

from voicelog.model import Rep, Session
from voicelog.report.plot_marks import drawn, legend
from voicelog.report.rep_plot_text import draw

from .build import rep, session, summary
from .strategies import sessions


def lines(*reps: Rep, width: int = 67) -> list[str]:
    return draw(summary(session(reps)).reps, width)


def test_a_mark_stands_at_its_highest_level_with_stress_beside() -> None:
    assert lines(
        rep(1, "continuous", (1, 3), "ignored", signs=(("yelped", "strong"),)),
        rep(2, "continuous", (2,), doubtful=True),
        rep(3, outcome="helped"),
    ) == [
        "level   3  ○!",
        "        2  | (●)",
        "        1  |",
        "no button  .  .  ■",
        "      rep  1  2  3",
        "",
        "● came or done   ○ ignored   ■ line help   ! stress",
        "( ) to check, not counted   | levels passed in the rep",
    ]


def test_high_levels_show_only_the_rows_used() -> None:
    shown = lines(rep(1, "continuous", (20,)), rep(2, "continuous", (95,)))
    assert shown[:3] == ["level  95     ●", "       20  ●", "      rep  1  2"]


def test_stress_without_a_level_stands_beside_its_own_mark() -> None:
    shown = lines(rep(1, "vibrate", signs=(("yelped", "strong"),)), rep(2))
    assert shown[:2] == ["  vibrate  ●! .", "no button  .  ●"]


@pytest.mark.parametrize("number", [7, 107])
def test_a_strong_sign_stands_on_the_row_of_its_press_at_neighbouring_levels(number: int) -> None:
    yelp = (("yelped", "strong"),)
    shown = lines(
        rep(number, "continuous", (22,)),
        rep(number + 1, "continuous", (7,), signs=yelp),
        rep(number + 2, "continuous", (6,), signs=yelp, doubtful=True),
        rep(number + 3, "continuous", (3,)),
        rep(number + 4, "continuous", (2,), signs=yelp),
    )
    marked = [line.split()[-2 if line.startswith("level") else 0] for line in shown if "!" in line]
    rows = {line.split()[0]: line for line in shown if line.strip()[:1].isdigit()}
    assert marked[:3] == ["7", "6", "2"]
    assert [rows[level].count("!") for level in ("7", "6", "3", "2")] == [1, 1, 0, 1]
    assert "(●)!" in rows["6"]
    at = [row.index("●") for row in (shown[0], rows["7"], rows["6"], rows["3"], rows["2"])]
    assert len({later - one for one, later in pairwise(at)}) == 1


def test_void_reps_are_not_drawn_and_nothing_left_draws_nothing() -> None:
    assert lines(rep(1, void=True)) == []
    assert "      rep  2" in lines(rep(1, void=True), rep(2))


def test_many_reps_go_on_below() -> None:
    shown = lines(*(rep(n) for n in range(1, 31)), width=40)
    assert [line for line in shown if line.startswith("      rep")] == [
        "      rep  1  2  3  4  5  6  7  8  9 10",
        "      rep 11 12 13 14 15 16 17 18 19 20",
        "      rep 21 22 23 24 25 26 27 28 29 30",
    ]


@settings(max_examples=60, deadline=None)
@given(sessions())
def test_every_plot_has_a_legend_in_words(work: Session) -> None:
    made = summary(work)
    shown = draw(made.reps, 67)
    assert bool(shown) == bool(drawn(made.reps))
    if shown:
        assert legend(made.reps)
        assert all(words in " ".join(shown) for _, words in legend(made.reps))
