"""Random histories of invented dogs, and every paper that is made of one.

A history is what a trainer might say over weeks, from nearly nothing to some hundred reps: most of
it ordinary work around a few levels, some of it doubtful or struck, with strong signs high up,
stops, another transmitter, missing dates and other odd things in between. It goes through the real
builder of sessions and the real rules. The same seed gives the same history.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

from tests.known import known
from tests.safety.build import Field
from voicelog import safety
from voicelog.analysis.kennel import kennel
from voicelog.analysis.planned_sessions import planned_sessions
from voicelog.analysis.session_digest import SessionDigest, by_date, digest_session
from voicelog.model import Dog, Finding, Session, Transmitter
from voicelog.report import (
    kennel_paper,
    owner_report,
    paper_html,
    paper_text,
    plan_paper,
    progress_paper,
    text,
)
from voicelog.report.summary import summarise
from voicelog.safety import Settings
from voicelog.safety.history import PastSession, history_after, past_session

__all__ = ["Past", "history", "papers", "session_digests_of"]

FIRST = datetime(2031, 3, 1, 8, 30)
OUTCOMES = ("came",) * 9 + ("came slow", "came partway", "ignored", "ignored", "peeled off",
    "broke", "line help", "")  # fmt: skip
SIGNS = ("",) * 6 + ("neck twitch", "nothing", "ear flick", "lip lick", "yawned whined")
STRONG = ("yelped", "froze", "cowered", "screamed", "snapped")
DISTRACTIONS = ("none", "low", "medium dogs", "high birds", "high gunfire")


class Past(NamedTuple):
    """One session of a history with its findings and when it began."""

    session: Session
    findings: tuple[Finding, ...]
    began: datetime | None


@lru_cache(maxsize=2)  # the papers and what they claim are asked for one after the other
def history(seed: int) -> tuple[Dog, tuple[Past, ...]]:
    """A dog and its sessions, in order."""
    chance = random.Random(seed)
    dog = _dog(chance)
    low, high = sorted(chance.randint(1, known(dog.transmitter.top)) for _ in range(2))
    low, high = chance.choice([(low, high), (3, 6), (2, 2), (1, 3)])
    many = chance.choice([0, 1, 2, 3, 5, 8, 12, 20])
    found: list[Past] = []
    traces: list[PastSession] = []
    at, rules = FIRST, Settings()
    for number in range(many):
        unit = dog.transmitter
        if chance.random() < 0.05:
            unit = Transmitter(top=chance.choice([9, 127]))
        field = Field(dog.model_copy(update={"transmitter": unit}))
        _speak(chance, field, low, min(high, known(unit.top)), early=number < 2)
        began = None if chance.random() < 0.03 else at
        seen = field.session_variants()
        findings = safety.findings(
            seen.sure, seen.with_doubtful, seen.uncorrected, history_after(traces, began), rules
        )
        session = seen.with_doubtful.model_copy(
            update={"id": f"s{number}", "recording": f"rec{number}"}
        )
        named = tuple(one.model_copy(update={"session": session.id}) for one in findings)
        traces.append(past_session(began, session, doubtful=seen.doubtful))
        found.append(Past(session, named, began))
        at += timedelta(days=chance.choice([0, 1, 1, 1, 2, 3, 30]), minutes=45)
    return dog, tuple(found)


def session_digests_of(past: Sequence[Past]) -> tuple[SessionDigest, ...]:
    """The sessions in short."""
    return by_date(digest_session(one.session, one.findings, one.began) for one in past)


def papers(seed: int) -> Iterator[tuple[str, str]]:
    """The name and the text of every paper of one history."""
    dog, past = history(seed)
    rules, before = Settings(), None
    for one in past:
        made = summarise(one.session, one.findings, (), one.began, before, settings=rules)
        yield f"summary of {one.session.id}", text.render(made)
        before = one.session
    session_digests = session_digests_of(past)
    began = [one.began for one in session_digests if one.began]
    today = max(began, default=FIRST).date() + timedelta(days=seed % 4)
    yield from _weeks(dog, session_digests, rules, today)


def _weeks(
    dog: Dog, session_digests: tuple[SessionDigest, ...], rules: Settings, today: date
) -> Iterator[tuple[str, str]]:
    own = rules.for_dog(dog.name)
    progress = progress_paper.build(session_digests, dog, own, today)
    next_ = plan_paper.build(session_digests, dog, own, today)
    yield "progress", paper_text.render(progress, every=True, reps=True)
    yield "progress as a page", paper_html.render(progress)
    yield "plan", paper_text.render(next_, every=True, reps=True)
    yield "progress as JSON", progress_paper.as_json(session_digests, dog, own, today)
    by_dog = {dog.name: planned_sessions(session_digests), "Wren": ()}
    found = kennel(by_dog, [dog, Dog(name="Wren")], {"": rules}, today)
    yield "kennel", paper_text.render(kennel_paper.build(found, by_dog, rules), every=True)
    yield "owner", owner_report.build(session_digests, dog, own, today).model_dump_json()


# --- what was said ---------------------------------------------------------------------


def _dog(chance: random.Random) -> Dog:
    top = chance.choice([6, 10, 18, 20, 100])
    return Dog(
        name="Juno",
        transmitter=Transmitter(top=top, lowest=chance.choice([0, 1, 1])),
        default_mode=chance.choice(["continuous", "continuous", "momentary"]),
        ceiling=chance.choice([None, None, chance.randint(1, top)]),
        born=chance.choice([None, date(2029, 1, 2), date(2030, 12, 24)]),
        reached=tuple(one for one in ("bird", "gun", "off line") if chance.random() < 0.2),
    )


def _speak(chance: random.Random, field: Field, low: int, high: int, *, early: bool) -> None:
    low = min(low, high)
    if chance.random() < 0.7:
        field.say("collar fitted fit check two fingers contact solid")
    if chance.random() < 0.9:
        field.say(f"drill {chance.choice(['recall'] * 6 + ['place', 'steady', 'gun', 'stop'])}")
    if chance.random() < 0.9:
        field.say(f"distraction {chance.choice(DISTRACTIONS[: chance.choice([1, 2, 5])])}")
    if chance.random() < 0.2:
        field.say(f"temperature {chance.randint(8, 31)}")
    pressed = chance.choice([0.0, 0.3, 0.9])
    for _ in range(chance.choice([0, 1, 6, 10, 14])):
        field.wait(chance.choice([20.0, 40.0])).say(_rep(chance, low, high, pressed))
        if chance.random() < 0.06:
            field.doubt()
        elif chance.random() < 0.04:
            field.strike()
    if chance.random() < (0.3 if early else 0.04):
        level = chance.randint(high, known(field.dog.transmitter.top))
        field.wait(30).say(f"here level {level} {chance.choice(STRONG)} came")
    if chance.random() < 0.04:
        field.wait(30).say(f"here level {chance.randint(low, high)} came")
        field.wait(20).say(f"here {chance.choice(['tone', 'vibrate', 'no button'])} came")
        if chance.random() < 0.5:
            field.doubt()
        field.say(chance.choice(STRONG))
    if chance.random() < 0.15:
        field.say("drill find level")
        for level in range(1, chance.randint(2, 6)):
            field.wait(8).say(f"tap {level} {chance.choice(['nothing', 'ear flick'])}")
    if chance.random() < 0.3:
        field.say(f"collar stripped skin {chance.choice(['clear'] * 5 + ['red', 'sore'])}")


def _rep(chance: random.Random, low: int, high: int, pressed: float) -> str:
    call = chance.choice(["here"] * 6 + ["recall pips", "called twice", ""])
    levels = [chance.randint(low, high) for _ in range(chance.choice([1, 1, 1, 2, 3]))]
    word = chance.choice(["level"] * 6 + ["tap"])
    if chance.random() < pressed:
        how = " ".join(f"{word} {level}" for level in levels)
    else:
        how = chance.choice(["no button"] * 4 + ["vibrate", ""])
    said = " ".join(filter(None, (call, how, chance.choice(OUTCOMES), chance.choice(SIGNS))))
    return said or "praised"
