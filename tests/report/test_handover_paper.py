"""What another handler reads before work: one limit, and not two that she has to choose from."""

from __future__ import annotations

from datetime import date

from tests.analysis.dogs import UNIT, good, rep, session_digest
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.open_matters import as_left
from voicelog.analysis.plan import plan
from voicelog.model import Dog
from voicelog.report.handover_paper import LOWER, build
from voicelog.report.progress_levels import ceiling_line

DAY = date(2031, 3, 12)


def test_beside_a_ceiling_it_is_said_that_lower_limits_hold() -> None:
    dog = Dog(name="Juno", transmitter=UNIT)
    yelped = session_digest([rep(1, "continuous", [11], "complied", [("yelped", "strong", 11)])])
    for more in (good(2, button=4, level=2), good(2)):
        digests = (yelped, good(1), more)
        matters = as_left(digests)
        ceiling = dog_ceiling(digests, dog, Criteria(), matters=matters)
        planned = plan(digests, dog, Criteria(), DAY, matters=matters)
        assert planned.most is not None
        assert ceiling.level is not None
        assert planned.most < ceiling.level
        text = " ".join(
            line.words
            for section in build(dog, matters, ceiling, None, planned, DAY).sections
            for line in section.lines
        )
        assert f"never above {planned.start}" in text
        assert LOWER in text
        alone = build(dog, matters, ceiling, None, planned, DAY, collar=False)
        assert LOWER not in str(alone)


def test_where_there_is_no_button_no_limit_of_a_level_is_named() -> None:
    yelped = session_digest([rep(1, "continuous", [11], "complied", [("yelped", "strong", 11)])])
    dog = Dog(name="Juno", transmitter=UNIT)
    matters = as_left((yelped,))
    limit = dog_ceiling((yelped,), dog, Criteria(), matters=matters)
    planned = plan((yelped,), dog, Criteria(), DAY, matters=matters)
    assert limit.level == 9
    assert not planned.button
    assert "9" not in str(build(dog, matters, limit, None, planned, DAY).sections)
    line = ceiling_line(limit, button=planned.names_levels)
    assert line.words == (
        "No level is named while there is no button. Too much was level 11 (yelped, 1 Mar 2031)."
    )
