"""Good work is left in peace: forty sessions of forty people, and a month of one."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from voicelog.model import Finding, Session
from voicelog.safety import Settings, check, history_of

from .good import AT, GRAMMAR, Narration, narrations
from .month import month

TOLD = tuple(narrations())
SETTINGS = Settings()


def test_there_are_forty_and_each_is_another() -> None:
    assert len({one.name for one in TOLD}) == len({one.lines for one in TOLD}) == 40


@pytest.mark.parametrize("told", TOLD, ids=lambda told: told.name)
def test_a_good_session_is_silent(told: Narration) -> None:
    for _, words in told.lines:
        assert words.startswith("x ") or GRAMMAR.interpret(words) is not None, words
    assert [(one.rule, one.message) for one in told.findings(SETTINGS)] == []


def test_a_month_of_good_work_has_at_most_a_remark_a_session() -> None:
    """Twenty sessions after one another, each with the history of those before."""
    past: list[tuple[datetime, Session]] = []
    found = 0
    for at, field in month():
        session = field.session()
        if len(past) < 20:
            found += len(check(session, history_of(past, at), SETTINGS))
        past.append((at, session))
    assert found <= 20


def test_twenty_ways_to_narrate_are_a_good_month_of_one_dog_too() -> None:
    """A day apart, of those with a dog that knows the collar; the second dog's work left out."""
    past: list[tuple[datetime, Session]] = []
    found: list[Finding] = []
    grown = [one for one in TOLD if "new" not in one.dog and "age 4" not in one.dog]
    for day, told in enumerate(grown[:20]):
        one = replace(told, dog="age 30 top 18")
        at = AT + timedelta(days=day)
        session = one.sessions()[0]
        found += check(session, history_of(past, at), SETTINGS)
        past.append((at, session))
    assert len(past) == 20
    assert len(found) <= 20
    assert not [finding for finding in found if finding.severity == "stop"]
