"""What is in doubt of an earlier session raises a finding, and never makes one sure."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from tests.safety.build import Field
from voicelog.model import Finding
from voicelog.safety import Settings
from voicelog.safety.earlier_doubt import EARLIER
from voicelog.safety.history import PastSession, history_after, past_session

DAY = datetime(2031, 5, 4, 9)
LATER = DAY + timedelta(hours=3)
NONE = ()


def left(field: Field, started: datetime | None = DAY) -> PastSession:
    seen = field.session_variants()
    return past_session(started, seen.with_doubtful, doubtful=seen.doubtful)


def after(
    *before: PastSession, at: datetime | None = LATER, field: Field | None = None
) -> dict[str, Finding]:
    """What a session with one press has, by rule, after those."""
    field = field or Field().fitted().fit().rep(2)
    return {one.rule: one for one in field.findings(history_after(before, at), Settings())}


def test_a_stop_that_rests_on_a_doubtful_note_of_an_earlier_session_is_not_sure() -> None:
    sure = after(left(Field().rep().skin("red")))["skin"]
    assert (sure.severity, sure.on_doubt, EARLIER in sure.message) == ("stop", False, False)
    perhaps = after(left(Field().rep().skin("red").doubt()))["skin"]
    assert (perhaps.severity, perhaps.on_doubt) == ("stop", True)
    assert perhaps.message == f"{sure.message} {EARLIER}"


SIGNS: dict[str, tuple[Callable[[], Field], Field]] = {
    "stress-level-again": (lambda: Field().cue().press(5).sign("yelped"), Field().rep(5)),
    "fear-went-on": (lambda: Field().cue().sign("cowered"), Field().rep(2)),
    "stress-twice": (lambda: Field().cue().sign("snapped"), Field().rep(2)),
}


@pytest.mark.parametrize("rule", SIGNS)
def test_so_is_what_rests_on_a_doubtful_sign(rule: str) -> None:
    before, now = SIGNS[rule]
    assert not after(left(before()), field=now)[rule].on_doubt
    assert after(left(before().doubt()), field=now)[rule].on_doubt


def test_a_doubtful_note_of_an_earlier_session_clears_nothing() -> None:
    red = left(Field().rep().skin("red"))
    assert "skin" in after(red, left(Field().skin("clear").doubt()))
    assert "skin" in after(red, left(Field().skin("clear")))  # on the day on which it was red
    clear = left(Field().skin("clear"), DAY + timedelta(days=1))
    assert "skin" not in after(red, clear, at=DAY + timedelta(days=2))
    turned = Field().fitted().rep(2).collar("turned")
    assert "same-site" not in after(left(turned))
    assert "same-site" in after(left(Field().fitted().rep(2).collar("turned").doubt()))


def test_the_same_finding_is_sure_where_a_sure_note_says_it_too() -> None:
    both = after(left(Field().skin("red")), left(Field().skin("sore").doubt()))["skin"]
    assert not both.on_doubt


def test_a_session_without_a_date_makes_nothing_sure_and_clears_no_day() -> None:
    assert after(left(Field().skin("red"), None))["skin"].on_doubt
    assert after(left(Field().skin("red")), at=None)["skin"].on_doubt
    again = after(left(Field().skin("red")), left(Field().skin("clear"), None))
    assert again["skin"].on_doubt  # which came first nobody knows
    assert "skin" not in after(left(Field().skin("red"), None), left(Field().skin("clear"), None))


def test_what_came_before_in_the_same_recording_is_known_to() -> None:
    here = history_after((), None, [left(Field().skin("red"), None)])
    found = Field().fitted().fit().rep(2).findings(here, Settings())
    assert [one.on_doubt for one in found if one.rule == "skin"] == [False]


def test_doubt_here_and_doubt_before_are_told_apart() -> None:
    doubtful = Field().fitted().fit().rep(2).skin("red").doubt()
    found = after(left(Field().cue().press(5).sign("yelped")), field=doubtful)
    assert found["skin"].on_doubt
    assert EARLIER not in found["skin"].message
    found = after(left(Field().cue().press(2).sign("yelped").doubt()), field=doubtful)
    assert EARLIER in found["stress-level-again"].message
    assert EARLIER not in found["skin"].message
