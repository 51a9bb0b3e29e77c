"""A growl, a snap or a bite ends the session: no drill, no good last rep, and whom to ask."""

import re
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.analysis.open_matters import open_matters
from voicelog.analysis.session_matters import session_matters
from voicelog.model import Finding
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.report.next_session import next_session
from voicelog.report.spoken_wording import spoken_warning
from voicelog.safety import History, PastSign, Settings, check
from voicelog.safety.advice import PROFESSIONAL, SESSION_OVER_ADVICE, STOP_NOW_ADVICE

from .ask import KNOWN, found, the
from .build import Field
from .strategies import fields

NOON = datetime(2031, 5, 4, 12, 0)
SIGNS = sorted(AGGRESSION_SIGNS)
GO_ON = re.compile(
    r"dog knows|easier|easy|next rep|with the line|begin with|come (back )?down|never above", re.I
)
"""What would have her go on working."""


def everything(field: Field, history: History = KNOWN) -> tuple[Finding, ...]:
    return field.findings(history, Settings())


@pytest.mark.parametrize("sign", SIGNS)
def test_each_ends_the_session_and_names_whom_to_ask(sign: str) -> None:
    field = Field().cue().press(9).sign(sign).out("ignored")
    finding = the(field, "stress-twice")
    assert finding.severity == "stop"
    assert finding.message == (f"{sign.capitalize()} in rep 1: this sign ends the session at once.")
    assert finding.advice == SESSION_OVER_ADVICE
    assert the(field, "stress-strong").advice == SESSION_OVER_ADVICE
    assert "the session is over" in SESSION_OVER_ADVICE
    assert "a veterinarian or a licensed behaviour professional" in SESSION_OVER_ADVICE
    assert not GO_ON.search(SESSION_OVER_ADVICE)
    assert not found(field, "ended-failed")


@pytest.mark.parametrize("sign", SIGNS)
def test_the_ear_is_told_the_same(sign: str) -> None:
    field = Field().cue().press(9).sign(sign).out()
    assert spoken_warning(the(field, "stress-twice")) == "Stop. Session over, see vet"
    assert spoken_warning(the(field, "stress-strong")) == "Thumb off. Session is over"
    (stop,) = [one for one in everything(field.doubt()) if one.rule == "stress-twice"]
    assert spoken_warning(stop) == "Stop. Session over, see vet"
    doubted = Field().cue().press(9).sign(sign).doubt().out()
    (stop,) = [one for one in everything(doubted) if one.rule == "stress-twice"]
    assert spoken_warning(stop) == "Perhaps stop. Session over, see vet"


def test_work_that_goes_on_is_a_stop_even_without_the_button() -> None:
    field = Field().cue().press(9).sign("growling").out().rep().rep()
    first, second = found(field, "stress-twice")
    assert first.reps == (1,)
    assert second.message == "Work went on in rep 2 after the session was over for the day."
    assert second.advice == STOP_NOW_ADVICE
    assert spoken_warning(second) == "Stop. Session over, see vet"
    again = found(Field().cue().press(9).sign("growling").out().rep(2), "stress-twice")[1:]
    assert {one.advice for one in again} == {STOP_NOW_ADVICE}
    assert len(found(Field().cue().sign("growling").out(), "stress-twice")) == 1
    assert len(found(Field().cue().press(9).sign("froze").out().rep(), "stress-twice")) == 1


def test_a_later_session_of_the_day_is_over_before_it_begins() -> None:
    def after(sign: str) -> History:
        past = (PastSign(at=NOON.replace(hour=9), sign=sign),)
        return KNOWN.model_copy(update={"at": NOON, "strong": past})

    (finding,) = found(Field().rep(), "stress-twice", after("bit me"))
    assert finding.message == "Work went on in rep 1 after the session was over for the day."
    assert not found(Field().rep(), "stress-twice", after("froze"))
    yesterday = (PastSign(at=NOON.replace(day=3), sign="bit me"),)
    later = KNOWN.model_copy(update={"at": NOON, "strong": yesterday})
    assert not found(Field().rep(), "stress-twice", later)


def test_a_doubtful_bite_silences_a_good_last_rep_and_takes_over_what_is_advised() -> None:
    field = Field().cue().press(3).sign("bit me").doubt().out().rep(3, "ignored")
    rules = {one.rule for one in everything(field)}
    assert "ended-failed" not in rules
    assert "stress-twice" in rules
    weak = Field().cue().press(3).sign("bit me").doubt().out()
    weak.cue().press(3).sign("whined").sign("yawned").out()
    (finding,) = [one for one in everything(weak) if one.rule == "stress-weak"]
    assert not finding.on_doubt
    assert finding.advice == SESSION_OVER_ADVICE


def test_what_the_body_needs_is_still_said() -> None:
    field = Field().cue().press(9).sign("snapped").out().skin("sore").air(30)
    advice = {one.rule: one.advice for one in check(field.session(), KNOWN, Settings())}
    assert advice["skin"] == "Collar off. See a veterinarian before it is fitted again."
    assert advice["heat"].startswith("Stop work. Shade and water")


def test_the_next_session_waits_for_who_was_asked() -> None:
    field = Field().cue().press(9).sign("growling").out()
    session = field.session()
    matters = open_matters(session_matters(session, everything(field)))
    line = next_session(session, matters)
    assert line.startswith(f"No session until {PROFESSIONAL} has been asked")


@given(fields(), st.sampled_from(SIGNS), fields())
def test_nothing_advised_afterwards_has_her_go_on(before: Field, sign: str, after: Field) -> None:
    before.sign(sign)
    said = len(before.said)
    for number, (_, words) in enumerate(after.said, 1):
        before.say(words)
        if number in after.doubtful:
            before.doubt()
    later = {f"e{number}" for number in range(said, len(before.said) + 1)}
    for finding in everything(before):
        assert finding.rule != "ended-failed"
        if finding.evidence and finding.evidence[-1] in later:
            assert not GO_ON.search(finding.advice), finding
