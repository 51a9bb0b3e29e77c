"""check as a whole: its rules, its words, when it is decided, and a month of good work."""

import re
from collections import Counter
from datetime import datetime
from typing import get_args

import pytest
from hypothesis import given

from voicelog.analysis.criteria import Criteria
from voicelog.model import Finding, Session
from voicelog.safety import RULES, Settings, Thresholds, check, history_of, rule_named
from voicelog.safety.check import rules_with
from voicelog.safety.rule import LiveManner

from .ask import KNOWN
from .build import Field
from .month import month
from .strategies import fields

SETTINGS = Settings()


def test_every_rule_is_there_once() -> None:
    names = [rule.name for rule in RULES]
    assert len(names) == len(set(names))
    assert set(names) == {
        "fit-missing", "contact-poor", "warmup-missing", "start-high", "step-big",
        "over-ceiling", "over-range", "stress-strong", "stress-not-eased", "stress-twice",
        "stress-weak", "stress-level-again", "not-rolled-back", "held-long",
        "no-reaction-rising", "three-failed", "uncued", "ended-failed", "too-many", "too-long",
        "too-young", "gun", "bird", "wear-long", "same-site", "skin", "heat",
        "kept-on", "pressed-after-turn", "no-time-to-answer", "every-call",
        "fit-wrong", "test-failed", "coat-wet", "raised-unfelt", "climbed", "no-rest",
        "fear-went-on", "unwell", "vibrate-often", "vibrate-long", "vibrate-young", "many-sessions",
        "creeping", "stress-rising", "step-skipped", "button-not-falling",
    }  # fmt: skip


def test_a_rule_is_found_by_its_name() -> None:
    assert rule_named("heat").severity == "caution"
    with pytest.raises(KeyError):
        rule_named("none")


def test_every_threshold_belongs_to_a_rule() -> None:
    used = {name for rule in RULES for name in rule.settings}
    assert used >= set(Thresholds.model_fields) - set(Criteria.model_fields)
    assert used <= set(Thresholds.model_fields)


def test_stops_come_first_and_remarks_last() -> None:
    field = Field().cue().press(9).sign("froze").out().rep(9).rep(None, "ignored").air(25)
    order = [finding.severity for finding in check(field.session(), KNOWN, SETTINGS)]
    assert order == sorted(order, key=["stop", "caution", "remark"].index)


def test_a_session_without_a_collar_has_no_findings() -> None:
    field = Field().drill("recall").say("distraction high birds shot 80 metres")
    field.rep().rep(None, "ignored").rep().wait(3600).rep()
    assert check(field.session(), KNOWN, SETTINGS) == ()


@given(fields(doubt=False))
def test_what_is_decided_at_once_stays_and_nothing_is_found_late(field: Field) -> None:
    """For every prefix: the findings of what was said so far are those of the whole about it."""
    whole = check(field.session(), KNOWN, SETTINGS)
    for entries in range(1, len(field.said) + 1):
        said = {f"e{number}" for number in range(entries + 1)}
        so_far = check(field.session(entries), KNOWN, SETTINGS)
        assert Counter(map(_about, filter(_at_once, so_far))) == Counter(
            _about(one) for one in whole if _at_once(one) and said.issuperset(one.evidence)
        )


def _at_once(finding: Finding) -> bool:
    return rule_named(finding.rule).decided == "at once"


def _about(finding: Finding) -> tuple[str, tuple[int, ...], tuple[str, ...]]:
    return finding.rule, finding.reps, finding.evidence


@given(fields())
def test_every_finding_is_worded_whole_and_asks_for_no_press(field: Field) -> None:
    for finding in field.findings(KNOWN, SETTINGS):
        for text in (finding.message, finding.advice):
            assert not text[0].islower()
            assert text.endswith(".")
        assert not re.search(
            r"\b(press|push|raise|increase|higher|harder|stronger|turn up|go up)\b", finding.advice
        )
        assert finding.basis
        assert finding.evidence
        assert finding.session == "e0.s"


def test_a_month_of_good_sessions_is_left_in_peace() -> None:
    past: list[tuple[datetime, Session]] = []
    severities: Counter[str] = Counter()
    for at, field in month():
        session = field.session()
        for finding in check(session, history_of(past, at), SETTINGS):
            severities[finding.severity] += 1
        past.append((at, session))
    assert len(past) == 40
    assert severities["stop"] == 0
    assert severities["caution"] <= 4


def test_how_a_live_session_treats_which_rule() -> None:
    """What is said into an open rep, by time alone or of every press is chosen, never a side
    effect: a new rule with such a manner is named here."""
    manners = {manner: set(rules_with(manner)) for manner in get_args(LiveManner)}
    assert manners == {
        "each press": {
            *("bird", "fear-went-on", "gun", "stress-level-again", "too-many", "too-young"),
            "vibrate-young",
        },
        "lasting": {"held-long", "vibrate-long", "wear-long"},
        "by time": {"held-long", "too-long", "wear-long"},
        "while pressed": {"held-long"},
        "read back": {"over-range", "step-big"},
        "at once": {"stress-strong"},
        "with the count": {"ended-failed"},
    }
