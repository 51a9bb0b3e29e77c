"""A plan is made from few sessions, the same on every paper, and what never fades is among them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import pytest

from tests.histories import history, session_digests_of
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.kennel import kennel
from voicelog.analysis.overview import overview
from voicelog.analysis.plan import plan
from voicelog.analysis.planned_sessions import lowest_strong_level, planned_sessions
from voicelog.analysis.recent_calls import LAST_SESSIONS
from voicelog.analysis.session_digest import SessionDigest
from voicelog.safety import Settings

RULES = Settings()


def again(digests: tuple[SessionDigest, ...], times: int) -> Iterator[SessionDigest]:
    """A history as often, each time some months later; strong signs in the first alone."""
    for time in range(times):
        for one in digests:
            began = one.began and one.began + timedelta(days=150 * time)
            calm = [rep._replace(signs=()) for rep in one.reps]
            reps = one.reps if time == 0 else tuple(calm)
            yield one._replace(session=f"{one.session}-{time}", began=began, reps=reps)


@pytest.mark.parametrize("seed", [7, 10, 14, 26])
def test_the_kennel_plans_what_the_plan_does_also_after_many_sessions(seed: int) -> None:
    dog, past = history(seed)
    digests = tuple(again(session_digests_of(past), 4))
    used = planned_sessions(digests)
    assert planned_sessions(used) == used
    assert set(digests[-LAST_SESSIONS:]) >= set(used[-1:])
    rules = RULES.for_dog(dog.name)
    today = max(one.began for one in digests if one.began).date()
    next_ = plan(digests, dog, rules, today, matters=())
    (row,) = kennel({dog.name: digests}, [dog], {"": rules}, today, {dog.name: ()}).dogs
    (short,) = kennel({dog.name: used}, [dog], {"": rules}, today, {dog.name: ()}).dogs
    assert row.plan == short.plan == next_ == overview(digests, dog, rules, today, ()).plan
    assert dog_ceiling(digests, dog, rules) == dog_ceiling(used, dog, rules)
    whole, part = (list(filter(None, map(lowest_strong_level, some))) for some in (digests, used))
    assert min(whole, default=None) == min(part, default=None)
