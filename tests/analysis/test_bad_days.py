"""After a worse day no plan is harder: not in its distraction, its levels, nor in its number."""

from __future__ import annotations

from datetime import UTC, date, timedelta
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import FIRST, UNIT, Sign, closed, good, rep, session_digest, stopped
from voicelog.analysis.bad_days import bad_days
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.open_matters import OpenMatter, open_matters
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.session_digest import RepDigest, SessionDigest, skin_cleared, skin_left
from voicelog.model import Dog as Profile
from voicelog.model.domain import DISTRACTION_LADDER
from voicelog.report.wording.reasons import reason_words
from voicelog.report.words import date_words

RULES = Criteria()
JUNO = Profile(name="Juno", transmitter=UNIT)
YELP: Sign = ("yelped", "strong", 8)


def on(day: int) -> date:
    return (FIRST + timedelta(days=day)).date()


def all_closed(days: list[SessionDigest], on_day: int, closed_on: int) -> tuple[OpenMatter, ...]:
    """The list of their matters, every one closed on a day."""
    every = [one for some in days for one in some.matters]
    at = FIRST.replace(tzinfo=UTC) + timedelta(days=closed_on)
    events = [closed([one], id=f"m-{n}", at=at) for n, one in enumerate(every)]
    return open_matters(every, events, on(on_day))


def plan_closed(days: list[SessionDigest], today: int) -> Plan:
    """The plan where everything was closed on the day before."""
    return plan(days, JUNO, RULES, on(today), matters=all_closed(days, today, today - 1))


def harder(later: Plan, before: Plan) -> list[str]:
    """In what a plan is harder than another one."""
    found = []
    ladder = DISTRACTION_LADDER.index
    if ladder(later.distraction) > ladder(before.distraction):
        found.append(f"distraction {before.distraction} to {later.distraction}")
    if later.button and not before.button:
        found.append("the button")
    for name in ("start", "most"):
        now, then = getattr(later, name), getattr(before, name)
        if now is not None and then is not None and now > then:
            found.append(f"{name} {then} to {now}")
    if later.reps > before.reps:
        found.append(f"reps {before.reps} to {later.reps}")
    if later.aim.code == "next step" and before.aim.code != "next step":
        found.append("a step")
    return found


@st.composite
def reps(draw: st.DrawFn) -> list[RepDigest]:
    """Recalls at one or two distractions, with and without the button."""
    found = []
    many = draw(st.integers(1, 12))
    places = draw(st.lists(st.sampled_from(DISTRACTION_LADDER), min_size=1, max_size=2))
    for number in range(1, many + 1):
        level = draw(st.sampled_from([None, None, None, 1, 2, 4, 8]))
        found.append(
            rep(
                number,
                "none" if level is None else "continuous",
                [] if level is None else [level],
                draw(st.sampled_from(["complied", "complied", "complied", "ignored"])),
                distraction=draw(st.sampled_from(places)),
            )
        )
    return found


def worse(draw: st.DrawFn, before: list[RepDigest], day: int) -> SessionDigest:
    """A later day with all that one had, and more that went against the dog."""
    tries = list(before)
    bad = draw(st.sets(st.sampled_from(["sign", "skin", "stop", "ignored"]), min_size=1))
    if "sign" in bad:
        place = draw(st.integers(0, len(tries) - 1))
        sign = draw(st.sampled_from(["yelped", "froze", "growled"]))
        level = max(tries[place].levels, default=None)
        strong = rep(signs=[(sign, "strong", level)]).signs
        tries[place] = tries[place]._replace(signs=strong, stress=True)
    if "ignored" in bad:
        at = tries[0].distraction
        tries += [
            rep(len(tries) + n, "none", [], "ignored", distraction=at)
            for n in range(1, len(tries) + 4)
        ]
    skin = draw(st.sampled_from(["red", "sore"])) if "skin" in bad else None
    one = session_digest(tries, day, skin=skin)
    return stopped(one, "heat") if "stop" in bad else one


@st.composite
def worse_days(draw: st.DrawFn) -> list[SessionDigest]:
    """Good days, any day, one that was worse, and perhaps a note of the skin alone."""
    days = [good(day, draw(st.integers(5, 10))) for day in range(draw(st.integers(0, 6)))]
    tries = draw(reps())
    first = session_digest(tries, len(days))
    if draw(st.booleans()):
        first = worse(draw, tries, len(days))
        tries = list(first.reps)
    return [*days, first, worse(draw, tries, len(days) + 1)]


@given(worse_days(), st.booleans())
@settings(max_examples=400, deadline=None)
def test_after_a_worse_day_no_plan_is_harder(days: list[SessionDigest], noted: bool) -> None:
    today = len(days) + 2
    note = [session_digest([], len(days), skin="clear")] if noted else []
    later = plan_closed([*days, *note], today)
    assert harder(later, plan_closed([*days[:-1], *note], today)) == []


@given(worse_days())
@settings(max_examples=200, deadline=None)
def test_nor_harder_than_without_what_went_badly(days: list[SessionDigest]) -> None:
    """The same day, with and without what went badly in it."""
    today, bad = len(days) + 2, days[-1]
    milder = bad._replace(
        reps=tuple(one for one in days[-2].reps), skin=days[-2].skin, matters=days[-2].matters
    )
    with_, without = plan_closed(days, today), plan_closed([*days[:-1], milder], today)
    ladder = DISTRACTION_LADDER.index
    assert ladder(with_.distraction) <= ladder(without.distraction)
    assert with_.reps <= without.reps
    assert without.button or not with_.button


def test_a_worse_day_of_fewer_calls_does_not_lead_back_to_the_harder_distraction() -> None:
    """A day on which most calls were ignored, then one with a yelp and sore skin, all closed."""
    low: dict[str, Any] = {"distraction": "low"}
    first = good(0, came=2, of=6, **low)
    yelped = rep(1, "continuous", [8], "complied", [YELP], **low)
    tries = [yelped, *(rep(n, **low) for n in (2, 3)), rep(4, "none", [], "ignored", **low)]
    second = session_digest(tries, 1, skin="sore")
    assert plan_closed([first], 3).distraction == "none"
    note = session_digest([], 2, skin="clear")
    for days in ([first, second], [first, second, note]):
        one = plan_closed(days, 4)
        assert one.distraction == "none"
        text = " ".join(map(reason_words, one.why))
        assert "A strong sign at distraction low on 2 Mar 2031: make it easier" in text
        assert "Stay at distraction low" not in text
    well = good(3, of=5, came=5)
    assert plan_closed([first, second, note, well], 6).distraction == "none"
    assert bad_days([first, second, note, well], RULES) == ()


def test_a_day_lifts_a_bad_one_only_if_it_is_later_and_nothing_stood_against_it() -> None:
    sore = session_digest([rep(1, "continuous", [8], "complied", [YELP])], 0, skin="sore")
    easy = [rep(number) for number in range(1, 5)]
    same_day = session_digest(easy, 0, session="evening", began=FIRST + timedelta(hours=8))
    next_day = session_digest(easy, 1)
    clear = session_digest([], 5, skin="clear")
    for some, closed_on, button in (
        ([sore, same_day, clear], 1, False),  # on the same day
        ([sore, next_day, clear], 3, False),  # the sore skin still stood: no session was due
        ([sore, next_day._replace(began=FIRST + timedelta(days=4)), clear], 3, True),
    ):
        matters = all_closed(some, 8, closed_on)
        one = plan(some, JUNO, RULES, on(8), matters=matters)
        assert one.button is button
        assert ("went badly" in " ".join(map(reason_words, one.why))) is not button


def words(one: Plan) -> str:
    return " ".join(map(reason_words, one.why))


@example(0)
@given(st.integers(-400, 400))
@settings(max_examples=20, deadline=None)
def test_skin_that_is_clear_on_the_same_day_lifts_nothing(day: int) -> None:
    red = session_digest([], day, skin="red")
    evening = session_digest(
        [], day, session="evening", skin="clear", began=FIRST + timedelta(days=day, hours=9)
    )
    assert skin_left([red, evening]) == red
    assert skin_cleared([red, evening], on(day)) is None
    tomorrow = session_digest([], day + 1, skin="clear")
    assert skin_left([red, evening, tomorrow]) is None
    assert skin_cleared([red, evening, tomorrow], on(day)) == on(day + 1)
    one = plan_closed([red, evening], day + 2)
    assert one.button is False
    assert f"The skin was red on {date_words(on(day))}. " in words(one)
    assert "no note since" not in words(one)
    both = red._replace(skin="clear")  # red, then clear, in one session
    assert skin_left([both]) == both
