"""A session in short keeps what the analysis asks of it, and comes back from text the same."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import FIRST, Dog, good, session_digest
from tests.safety.build import Field
from tests.safety.strategies import fields
from tests.session.said import session_of
from voicelog.analysis.session_digest import by_date, decode, digest_session, encode
from voicelog.model import Dog as Profile
from voicelog.model import Finding, Transmitter


def finding(rule: str, severity: str, **more: object) -> Finding:
    fields = {
        "rule": rule, "severity": severity, "session": "e0.s", "message": "M.", "advice": "A.",
        "basis": "common practice",
    }  # fmt: skip
    return Finding.model_validate(fields | more)


@given(fields())
@settings(max_examples=40)
def test_any_session_comes_back_from_its_text(field: Field) -> None:
    short = digest_session(field.session(), (), FIRST)
    assert decode(encode(short)) == short


@given(st.integers(0, 99))
@settings(max_examples=10)
def test_any_invented_session_comes_back_from_its_text(seed: int) -> None:
    for short in Dog(seed).sessions(2):
        assert decode(encode(short)) == short


def test_each_rep_has_what_held_in_it() -> None:
    session = session_of(
        "handler anna", "location field line trailing distraction low birds",
        "here no button came treat",
        "40 handler joe", "distraction none", "shot 100 yards",
        "80 here level 2 ear flick", "92 ignored",
    )  # fmt: skip
    first, second = digest_session(session).reps
    assert (first.handler, first.location, first.line) == ("Anna", "field", "trailing")
    assert (first.distraction, first.source, first.shot_m) == ("low", "birds", None)
    assert (first.outcome, first.mode, first.rewards) == ("complied", "none", ("treat",))
    assert (second.handler, second.source, second.shot_m) == ("Joe", None, 91.4)
    assert second.levels == (2,)
    assert [(s.name, s.class_, s.level) for s in second.signs] == [("ear flick", "noticed", 2)]
    assert second.failed_s == 12.0


def test_a_failure_in_one_breath_with_the_call_was_not_timed() -> None:
    (rep,) = digest_session(Field().say("here level 2 ignored").session()).reps
    assert rep.failed_s is None


def test_doubtful_and_void_reps_are_in_it_and_marked() -> None:
    field = Field().say("here level 2 came").strike().wait(30).say("?here level 3 came").wait(30)
    field.say("here level 4 came")
    assert [rep.state for rep in digest_session(field.session()).reps] == ["void", "check", "sure"]


def test_only_this_sessions_standing_findings_are_kept() -> None:
    found = [
        finding("skin", "stop"),
        finding("heat", "caution"),
        finding("gun", "stop", struck=True),
        finding("bird", "stop", session="other"),
        finding("uncued", "remark"),
    ]
    short = digest_session(Field().rep().session(), found)
    assert (short.stops, short.cautions) == (("skin", "gun"), ("heat",))
    assert [one.correction is None for one in short.matters] == [True, False]  # struck by voice


def test_the_lowest_ceiling_of_profile_and_session_holds() -> None:
    dog = Profile(name="Juno", ceiling=6, transmitter=Transmitter(top=10))
    assert digest_session(Field(dog).ceiling(4).rep().session()).ceiling == 4
    assert digest_session(Field(dog).ceiling(8).rep().session()).ceiling == 6
    assert digest_session(Field().rep().session()).ceiling is None


def test_sessions_come_in_order_of_time_and_those_of_no_date_first() -> None:
    zoned = good(3)._replace(
        began=datetime(2031, 3, 4, tzinfo=UTC).replace(tzinfo=None), session="z"
    )
    undated = session_digest([], 9, began=None)
    later = good(5)
    assert by_date([later, zoned, undated]) == (undated, zoned, later)


def test_clocks_with_and_without_a_zone_compare() -> None:
    aware = FIRST.replace(tzinfo=UTC) + timedelta(days=1)
    session = Field().rep().session()
    one, two = digest_session(session, (), aware), digest_session(session, (), FIRST)
    assert by_date([one, two]) == (two, one)


@pytest.mark.parametrize(
    ("words", "game"),
    [
        *(("here came pointed", True), ("chased", True), ("here steady to flush", True)),
        *(("here broke point", True), ("here broke to flush", True), ("here came gave bird", True)),
        *(("here came retrieve", False), ("delivered", False), ("here broke", False)),
    ],
)
def test_a_session_tells_whether_the_dog_met_game(words: str, game: bool) -> None:
    short = digest_session(Field().say(words).session(), (), FIRST)
    assert short.game is game
    assert decode(encode(short)) == short


@pytest.mark.parametrize(
    ("words", "mixed"),
    [
        ("here tap 2 level 3 came", True),
        ("here level 3 tap 2 came", True),
        ("here level 2 up to 3 came", False),
        ("here vibrate level 2 came", False),
        ("here tap 2 tap 3 came", False),
    ],
)
def test_a_rep_both_tapped_and_held_says_so(words: str, mixed: bool) -> None:
    (rep,) = digest_session(Field().say(words).session()).reps
    assert rep.mixed is mixed


def test_a_failure_told_after_a_long_silence_was_not_watched_so_long() -> None:
    (rep,) = digest_session(Field().say("here").wait(600).say("ignored").session()).reps
    assert (rep.failed_s, rep.state) == (None, "check")
