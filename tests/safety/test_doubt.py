"""Doubtful entries raise findings and never clear one; struck ones keep theirs."""

from dataclasses import replace

from hypothesis import assume, given
from hypothesis import strategies as st

from voicelog.safety import History, Settings, check, findings, rule_named

from .ask import KNOWN
from .build import Field
from .strategies import fields

SETTINGS = Settings()


def all_of(field: Field, history: History = KNOWN):
    return field.findings(history, SETTINGS)


def of_rule(field: Field, rule: str):
    return [finding for finding in all_of(field) if finding.rule == rule]


def test_without_doubt_it_is_check():
    session = Field().rep(2).rep(6).session()
    assert findings([session], session, [], KNOWN, SETTINGS) == check(session, KNOWN, SETTINGS)


def test_a_doubtful_press_raises_and_says_so():
    (finding,) = of_rule(Field().cue().press(2).doubt().out(), "fit-missing")
    assert finding.on_doubt
    assert not finding.struck


def test_a_finding_that_stands_without_the_doubtful_entries_is_sure():
    (finding,) = of_rule(Field().rep(2).cue().press(3).doubt().out(), "fit-missing")
    assert not finding.on_doubt


def test_a_doubtful_fit_check_clears_nothing():
    assert of_rule(Field().fit().doubt().rep(2), "fit-missing")


def test_a_doubtful_fit_check_does_not_clear_a_doubtful_press():
    (finding,) = of_rule(Field().fit().doubt().cue().press(2).doubt().out(), "fit-missing")
    assert finding.on_doubt


def test_a_doubtful_level_between_does_not_soften_a_big_step():
    field = Field().rep(5).cue().press(10).doubt().out().rep(15)
    (finding,) = of_rule(field, "step-big")
    assert not finding.on_doubt
    assert finding.reps == (1, 3)


def test_a_doubtful_lower_press_does_not_ease_a_strong_sign():
    field = Field().cue().press(20).sign("yelped").out().cue().press(5).doubt().out().rep(20)
    assert [finding.on_doubt for finding in of_rule(field, "stress-not-eased")] == [False]


def test_a_session_that_rests_on_doubt_has_only_doubtful_findings():
    found = findings([], Field().rep(2).session(), [], KNOWN, SETTINGS)
    assert found
    assert all(finding.on_doubt for finding in found)


def test_a_struck_entry_keeps_its_finding():
    field = Field().fit().cue().press(4).sign("froze").strike().out()
    assert {finding.rule for finding in all_of(field) if finding.struck} == {
        "stress-strong",
        "stress-twice",
    }


def test_a_struck_fit_check_no_longer_clears():
    (finding,) = of_rule(Field().fit().strike().rep(2), "fit-missing")
    assert not finding.struck


def test_rep_numbers_are_those_with_the_doubtful_entries_believed():
    field = Field().fit().cue().doubt().out().doubt().cue().press(4).sign("yelped").out()
    (finding,) = of_rule(field, "stress-strong")
    assert finding.reps == (2,)
    assert "in rep 2" in finding.message


def lost(before, after):
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
def test_doubtful_entries_never_remove_a_sure_finding(field):
    sure = [one for world in field.worlds().sure for one in check(world, KNOWN, SETTINGS)]
    kept = [finding for finding in all_of(field) if not finding.on_doubt]
    assert len(sure) == len(kept)
    assert not lost(sure, kept)


@given(fields(), st.data())
def test_one_more_doubtful_entry_never_removes_a_finding(field, data):
    """Also not a finding that rests on doubt itself, as long as the reps stay the same reps."""
    assume(field.doubtful)
    extra = data.draw(st.sampled_from(sorted(field.doubtful)))
    without = replace(field, doubtful=field.doubtful - {extra}, absent={extra})
    rest = [mark for mark in field.session().marks if mark.entry != f"e{extra}"]
    assume(rest == list(without.session().marks))
    assert not lost(all_of(without), all_of(field))


@given(fields(doubt=False), st.data())
def test_striking_an_entry_never_removes_a_finding(field, data):
    before = check(field.session(), KNOWN, SETTINGS)
    field.struck = {data.draw(st.integers(1, len(field.said)))}
    after = all_of(field)
    assert not lost(before, after)
