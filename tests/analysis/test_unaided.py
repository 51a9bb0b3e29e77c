"""The one definition of a first call, for a rep in full and in short alike."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.analysis.dogs import rep as short
from tests.report.build import rep as full
from tests.session.said import session_of
from voicelog.analysis.session_digest import RepDigest, digest_session
from voicelog.analysis.unaided import (
    asked,
    came_at_once,
    kept_still,
    stimulated,
    surely_unaided,
    unaided,
)
from voicelog.model import Mode, Outcome, Rep
from voicelog.report.rep_counts import count_lines

CASES = [
    ({}, (True, True, True, False)),
    ({"outcome": "slow"}, (True, True, True, False)),
    ({"outcome": "partial"}, (False, False, True, False)),
    ({"outcome": "ignored"}, (False, False, True, False)),
    ({"outcome": None}, (False, False, False, False)),
    ({"outcome": "unknown"}, (False, False, False, False)),
    ({"outcome": "helped"}, (False, False, True, False)),
    ({"cues": 2}, (False, False, True, False)),
    ({"cues": 0}, (False, False, False, False)),
    ({"cues": 0, "drill": "steady"}, (True, False, False, False)),
    ({"mode": "unknown"}, (False, True, True, False)),
    ({"mode": "vibrate"}, (False, True, True, True)),
    ({"mode": "tone"}, (False, True, True, True)),
    ({"mode": "momentary", "levels": (2,)}, (False, True, True, True)),
    ({"mode": "continuous", "levels": (2,)}, (False, True, True, True)),
    ({"mode": "continuous"}, (False, True, True, True)),
    ({"mode": "none", "levels": (2,)}, (False, True, True, True)),
]


@pytest.mark.parametrize(("said", "is_"), CASES)
@pytest.mark.parametrize("make", [short, full], ids=["short", "full"])
def test_asked_once_with_no_stimulus_it_came(
    make: Callable[..., RepDigest | Rep], said: dict[str, Any], is_: tuple[bool, bool, bool, bool]
) -> None:
    one = make(1, **said)
    assert (unaided(one), came_at_once(one), asked(one), stimulated(one)) == is_


def test_only_a_sure_rep_passes_and_a_dog_that_was_not_called_only_where_it_has_to_stay() -> None:
    assert surely_unaided(short(1))
    assert not surely_unaided(short(1, state="check"))
    assert not surely_unaided(short(1, state="void"))
    stayed = short(1, drill="gun", cue=None, cues=0)
    assert kept_still(stayed)
    assert not unaided(stayed)
    assert not kept_still(stayed._replace(mode="unknown"))
    assert not kept_still(short(1))


@given(
    st.sampled_from(get_args(Mode)),
    st.sampled_from([*get_args(Outcome), None]),
    st.integers(0, 3),
    st.sampled_from([(), (2,)]),
)
def test_unaided_is_never_more_than_came_and_never_with_a_stimulus(
    mode: Mode, outcome: Outcome | None, cues: int, levels: tuple[int, ...]
) -> None:
    one = short(1, mode, levels, outcome, cues=cues)
    if unaided(one):
        assert came_at_once(one)
        assert not stimulated(one)
        assert (one.mode, one.cues) == ("none", 1)


@given(
    st.sampled_from(["", "level 6 ", "tap 2 ", "vibrate ", "tone "]),
    st.sampled_from(["", "no button ", "level 3 ", "vibrate ", "tone "]),
    st.sampled_from(["", "ignored ", "level 6 ignored ", "ignored tone "]),
    st.sampled_from(["came", "came slow", "level 4 came", "came level 4", "came tone"]),
)
def test_whatever_the_order_of_what_was_said_no_pressed_or_ignored_call_is_a_first_call(
    before: str, press: str, ignored: str, came: str
) -> None:
    session = session_of("collar fitted drill recall", f"here {before}{press}{ignored}{came}")
    in_short = digest_session(session).reps
    for rep, digest in zip(session.reps, in_short, strict=True):
        passes = unaided(rep), unaided(digest), surely_unaided(digest)
        assert len({*passes[:2]}) == 1
        if rep.times.presses or rep.failed_first:
            assert passes == (False, False, False)
        if rep.failed_first:
            assert not came_at_once(rep)
            assert not came_at_once(digest)
    first = sum(unaided(rep) for rep in session.reps if not rep.doubtful)
    counts = " ".join(count_lines(session))
    if "at the first call" in counts:
        assert f"at the first call {first} of" in counts


def test_a_call_that_was_ignored_before_the_dog_came_is_no_first_call() -> None:
    for one in (short(1, failed_first="ignored"), full(1, failed_first="ignored")):
        assert (unaided(one), came_at_once(one), asked(one)) == (False, False, True)
