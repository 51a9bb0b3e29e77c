"""Doubtful entries raise findings and never clear one; struck ones keep theirs."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from voicelog.model import Dog, Finding, Mark, Transmitter
from voicelog.model.grown import Grown
from voicelog.safety import History, Settings, check, findings, rule_named
from voicelog.safety.rule_walk import RuleWalk

from .ask import KNOWN
from .build import Field
from .strategies import fields

SETTINGS = Settings()


def all_of(field: Field, history: History = KNOWN) -> tuple[Finding, ...]:
    return field.findings(history, SETTINGS)


def of_rule(field: Field, rule: str) -> list[Finding]:
    return [finding for finding in all_of(field) if finding.rule == rule]


def test_without_doubt_it_is_check() -> None:
    session = Field().rep(2).rep(6).session()
    assert findings([session], session, [], KNOWN, SETTINGS) == check(session, KNOWN, SETTINGS)


def test_a_doubtful_press_raises_and_says_so() -> None:
    (finding,) = of_rule(Field().cue().press(2).doubt().out(), "fit-missing")
    assert finding.on_doubt
    assert not finding.struck


def test_a_finding_that_stands_without_the_doubtful_entries_is_sure() -> None:
    (finding,) = of_rule(Field().rep(2).cue().press(3).doubt().out(), "fit-missing")
    assert not finding.on_doubt


def test_a_doubtful_fit_check_clears_nothing() -> None:
    assert of_rule(Field().fit().doubt().rep(2), "fit-missing")


def test_a_doubtful_fit_check_does_not_clear_a_doubtful_press() -> None:
    (finding,) = of_rule(Field().fit().doubt().cue().press(2).doubt().out(), "fit-missing")
    assert finding.on_doubt


def test_a_doubtful_level_between_does_not_soften_a_big_step() -> None:
    field = Field().rep(5).cue().press(6).doubt().out().rep(7)
    (finding,) = of_rule(field, "step-big")
    assert not finding.on_doubt
    assert finding.reps == (1, 3)


def test_a_press_that_may_have_come_before_a_sign_makes_the_way_down_no_shorter() -> None:
    # Two steps down from 51 are 12 levels, from 50 they are 10.
    field = Field().cue().press(51).press(50).doubt().sign("yelped").out().rep(40)
    assert of_rule(field, "stress-not-eased")


def test_a_doubtful_lower_press_does_not_ease_a_strong_sign() -> None:
    field = Field().cue().press(20).sign("yelped").out().cue().press(5).doubt().out().rep(20)
    assert [finding.on_doubt for finding in of_rule(field, "stress-not-eased")] == [False]


def test_a_session_that_rests_on_doubt_has_only_doubtful_findings() -> None:
    found = findings([], Field().rep(2).session(), [], KNOWN, SETTINGS)
    assert found
    assert all(finding.on_doubt for finding in found)


def test_a_struck_entry_keeps_its_finding() -> None:
    field = Field().fit().cue().press(4).sign("froze").strike().out()
    assert {finding.rule for finding in all_of(field) if finding.struck} == {
        "stress-strong",
        "stress-twice",
    }


def test_a_struck_fit_check_no_longer_clears() -> None:
    (finding,) = of_rule(Field().fit().strike().rep(2), "fit-missing")
    assert not finding.struck


def test_rep_numbers_are_those_with_the_doubtful_entries_believed() -> None:
    field = Field().fit().cue().doubt().out().doubt().cue().press(4).sign("yelped").out()
    (finding,) = of_rule(field, "stress-strong")
    assert finding.reps == (2,)
    assert "in rep 2" in finding.message


SMALL = Dog(name="Juno", transmitter=Transmitter(top=18))
SAME_DAY = KNOWN.model_copy(
    update={"at": datetime(2031, 5, 4, 12, 0), "last_worn": datetime(2031, 5, 4, 9, 0)}
)


@pytest.mark.parametrize(
    ("rule", "field", "history"),
    [
        ("fit-missing", Field().say("?fit check").say("?here level 2"), KNOWN),
        ("step-big", Field(SMALL).say("level 2 came").say("?level 3").say("?level 4"), KNOWN),
        ("contact-poor", Field().say("no contact").say("?contact solid").say("?level 2"), KNOWN),
        ("over-ceiling", Field().ceiling(4).say("?ceiling 8").say("?here level 6"), KNOWN),
        (
            "stress-not-eased",
            Field().say("level 20 yelped came").say("?level 5 came").say("?level 20 came"),
            KNOWN,
        ),
        (
            "stress-not-eased",
            Field().say("level 20 came").say("?level 5 yelped came").say("?level 5 came"),
            KNOWN,
        ),
        ("stress-weak", Field().say("?temperature 30").say("?here whined panting"), KNOWN),
        ("stress-weak", Field().say("?here treat").say("?whined lip lick"), KNOWN),
        (
            "not-rolled-back",
            Field(SMALL).say("level 2 came").say("?level 3 came").say("?level 4 came"),
            KNOWN,
        ),
        (
            "not-rolled-back",
            Field(SMALL).say("level 2").say("?level 3").say("?came").say("?level 4 came"),
            KNOWN,
        ),
        (
            "not-rolled-back",
            Field(SMALL).say("level 1 came").say("?level 1").say("?level 3"),
            KNOWN,
        ),
        (
            "not-rolled-back",
            Field(SMALL).say("level 1 came").say("?distraction none").say("?level 3"),
            KNOWN,
        ),
        (
            "start-high",
            Field().say("?distraction high").say("?here level 6"),
            KNOWN.model_copy(update={"answered": {"": 2, "high": 9}}),
        ),
        ("uncued", Field().say("?drill find level").say("?level 2"), KNOWN),
        ("held-long", Field().say("here level 2").say("?thumb off").say("?thumb off"), KNOWN),
        (
            "no-reaction-rising",
            Field()
            .drill("find level")
            .say("tap 1 nothing")
            .say("tap 2 nothing")
            .say("?contact solid")
            .say("?tap 3 nothing"),
            KNOWN,
        ),
        (
            "three-failed",
            Field()
            .say("level 1 ignored")
            .say("level 2 ignored")
            .say("?level 1 came")
            .say("?level 3 ignored"),
            KNOWN,
        ),
        ("uncued", Field().say("?here").say("?level 2"), KNOWN),
        ("uncued", Field().say("here").wait(8).say("?level 2").wait(8).say("?level 2"), KNOWN),
        ("warmup-missing", Field().say("?vibrate came").say("?level 1 came"), History()),
        ("start-high", Field().say("?level 1 came").say("?level 2 came"), History()),
        (
            "start-high",
            Field().distraction("none").say("?distraction high").say("?here level 9"),
            KNOWN.model_copy(update={"answered": {"none": 2, "high": 9}}),
        ),
        ("wear-long", Field().fitted().say("?collar stripped").wait(7300).say("?praised"), KNOWN),
        ("same-site", Field().say("?collar turned").say("?level 2 came"), SAME_DAY),
        ("ended-failed", Field().say("?level 2 ignored").say("?level 2 came"), KNOWN),
    ],
)
def test_a_doubtful_word_that_would_clear_leaves_the_finding(
    rule: str, field: Field, history: History
) -> None:
    """Lines that begin with "?" are doubtful: both what raises and what would clear."""
    assert [finding for finding in all_of(field, history) if finding.rule == rule]


def test_doubtful_clear_skin_clears_no_doubtful_red() -> None:
    assert len(of_rule(Field().say("?skin red").say("?skin clear").say("?level 2"), "skin")) == 2


def test_doubtful_heat_does_not_hide_lesser_heat() -> None:
    assert len(of_rule(Field().say("?temperature 30").say("?temperature 25"), "heat")) == 2


def test_a_doubtful_stop_does_not_silence_the_last_failure() -> None:
    assert of_rule(Field().say("here level 4").say("?froze").say("?ignored"), "ended-failed")


def lost(before: Sequence[Finding], after: Sequence[Finding]) -> list[Finding]:
    """The findings that nothing afterwards is about: the same rule, and its cause or its last
    entry among the evidence, unless the rule speaks once a session whatever the entry."""
    return [
        one
        for one in before
        if not any(
            other.rule == one.rule
            and (
                rule_named(one.rule).once
                or not one.evidence
                or one.evidence[0] == other.evidence[0]
                or one.evidence[-1] == other.evidence[-1]
            )
            for other in after
        )
    ]


@given(fields())
def test_doubtful_entries_never_remove_a_sure_finding(field: Field) -> None:
    sure = [one for world in field.session_variants().sure for one in check(world, KNOWN, SETTINGS)]
    kept = [finding for finding in all_of(field) if not finding.on_doubt]
    assert len(sure) == len(kept)
    assert not lost(sure, kept)


@given(fields(), st.data())
def test_one_more_doubtful_entry_never_removes_a_finding(field: Field, data: st.DataObject) -> None:
    """Also not a finding that rests on doubt itself, as long as the reps stay the same reps."""
    assume(field.doubtful)
    extra = data.draw(st.sampled_from(sorted(field.doubtful)))
    without = replace(field, doubtful=field.doubtful - {extra}, absent={extra})
    rest = [mark for mark in field.session().marks if mark.entry != f"e{extra}"]
    assume(rest == list(without.session().marks))
    assert not lost(all_of(without), all_of(field))


@given(fields(doubt=False), st.data())
def test_striking_an_entry_never_removes_a_finding(field: Field, data: st.DataObject) -> None:
    before = check(field.session(), KNOWN, SETTINGS)
    field.struck = {data.draw(st.integers(1, len(field.said)))}
    after = all_of(field)
    assert not lost(before, after)


def test_a_cue_that_a_correction_put_long_before_its_press_is_seen_from_every_kept_state() -> None:
    session = Field().cue().press(2).out().session()
    between = [
        Mark(at_s=20.0 + n, entry=f"u{n}", kind="sign", name="ear flick", value="noticed", rep=1)
        for n in range(9)
    ]
    cue = Mark(at_s=10.0, entry="mended", kind="cue", name="here", value="voice", rep=1)
    press = Mark(at_s=200.0, entry="mended", kind="press", name="continuous", value=2, rep=1)
    moved = session.model_copy(update={"marks": Grown([cue, *between, press])})
    for even in (None, 2):
        walk = RuleWalk([rule_named("uncued")], even=even)
        assert not walk.look(moved, KNOWN, SETTINGS).found.get("uncued")
