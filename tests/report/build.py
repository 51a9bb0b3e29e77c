"""Small builders of sessions for the papers' tests. All dogs and handlers are invented."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from voicelog import __version__
from voicelog.model import (
    Condition,
    Dog,
    EntryOutput,
    Finding,
    LevelMark,
    Mark,
    Rep,
    Session,
    SignMark,
    Transmitter,
)
from voicelog.report.summary import Summary, summarise
from voicelog.safety import Settings

STARTED = datetime(2026, 11, 24, 16, 5, tzinfo=UTC)
CAUTIONS = (
    "Invented caution, line one: the log observes, it does not decide.\n"
    "Invented caution, line two: pain or fear belongs to a veterinarian."
)


def rep(
    number: int,
    mode: str = "none",
    levels: Sequence[int] = (),
    outcome: str | None = "complied",
    *,
    signs: Sequence[tuple[str, str]] = (),
    **more: Any,
) -> Rep:
    """A recall, 30 s after the one before; each sign is at the rep's highest level."""
    start = 30.0 * number
    peak = max(levels, default=None)
    marks = tuple(
        SignMark.model_validate({"at_s": start + 4, "sign": sign, "class": kind, "level": peak})
        for sign, kind in signs
    )
    fields: dict[str, Any] = {
        "number": number,
        "id": f"r{number}",
        "session": "s1",
        "dog": "Bramble",
        "drill": "recall",
        "start_s": start,
        "end_s": start + 8,
        "cue": "here",
        "cue_by": "voice",
        "cues": 1,
        "mode": mode,
        "levels": tuple(LevelMark(at_s=start + i, level=n) for i, n in enumerate(levels)),
        "peak_level": peak,
        "end_level": levels[-1] if levels else None,
        "outcome": outcome,
        "signs": tuple(sign for sign, _ in signs),
        "sign_marks": marks,
        "stress": any(kind == "strong" for _, kind in signs),
    }
    return Rep.model_validate(fields | more)


def tap(number: int, level: int, sign: str, kind: str, **more: Any) -> Rep:
    """A tap in drill "find level"."""
    more = {"drill": "find level", "cue": None, "cue_by": None, "cues": 0} | more
    return rep(number, "momentary", (level,), None, signs=((sign, kind),), **more)


def condition(name: str, value: str, at_s: float = 2.0, unit: str | None = None) -> Condition:
    return Condition(at_s=at_s, name=name, value=value, unit=unit)


def equipment(at_s: float, name: str, value: str | int) -> Mark:
    return Mark(at_s=at_s, entry=f"e{at_s}", kind="equipment", name=name, value=value)


def session(
    reps: Sequence[Rep] = (),
    *,
    name: str = "Bramble",
    conditions: Sequence[Condition] = (),
    marks: Sequence[Mark] = (),
    flagged: Sequence[str] = (),
    top: int = 12,
    **more: Any,
) -> Session:
    fields: dict[str, Any] = {
        "id": "s1",
        "dog": Dog(name=name, transmitter=Transmitter(top=top)),
        "start_s": 0.0,
        "end_s": 600.0,
        "conditions": tuple(conditions),
        "marks": tuple(marks),
        "reps": tuple(reps),
        "flagged": tuple(flagged),
    }
    return Session.model_validate(fields | more)


def entry(
    id_: str, at_s: float, reading: str, status: str = "accepted", **more: Any
) -> EntryOutput:
    fields: dict[str, Any] = {
        "id": id_,
        "session": "s1",
        "start_s": at_s,
        "end_s": at_s + 1.5,
        "heard": reading,
        "reading": reading,
        "status": status,
        "confidence": 0.9 if status == "accepted" else 0.4,
    }
    return EntryOutput.model_validate(fields | more)


def finding(rule: str, severity: str, message: str, advice: str, **more: Any) -> Finding:
    fields: dict[str, Any] = {
        "rule": rule,
        "severity": severity,
        "session": "s1",
        "message": message,
        "advice": advice,
        "basis": "common practice",
    }
    return Finding.model_validate(fields | more)


def summary(
    work: Session,
    findings: Sequence[Finding] = (),
    entries: Sequence[EntryOutput] = (),
    started_at: datetime | None = STARTED,
    previous: Session | None = None,
    settings: Settings | None = None,
) -> Summary:
    return summarise(
        work, findings, entries, started_at, previous, settings=settings, cautions=CAUTIONS
    )


def unversioned(paper: str) -> str:
    """A paper as the agreed copies have it, so that a release leaves them alone."""
    return paper.replace(f"voicelog {__version__},", "voicelog VERSION,")


# --- one afternoon, invented, with something of everything -----------------------------


def full_session() -> Session:
    reps = (
        tap(1, 1, "nothing", "none"),
        tap(2, 2, "ear flick", "noticed"),
        rep(3, rewards=("praised",)),
        rep(4, latency_s=6.2),
        rep(5, "continuous", (1, 2), signs=(("neck twitch", "noticed"),), latency_s=5.0),
        rep(6, outcome="slow", cues=2),
        rep(7, "vibrate"),
        rep(8, "continuous", (2,), turned_s=1.5, latency_s=4.5),
        rep(9, "continuous", (2, 3, 4), "ignored", signs=(("yelped", "strong"),)),
        rep(10, outcome="helped"),
        rep(11, "continuous", (3,), doubtful=True),
        rep(12, "continuous", (9,), void=True),
        rep(13, cue="recall pips", cue_by="whistle", rewards=("retrieve",)),
        rep(14, outcome="left"),
        rep(15, outcome="broke"),
        rep(16, "continuous", (2,), signs=(("head turn", "noticed"),)),
        rep(17, "unknown", outcome=None),
        rep(18, signs=(("lip lick", "weak"),)),
    )
    return session(
        reps,
        conditions=(
            condition("drill", "find level"),
            condition("drill", "recall", 80),
            condition("distraction", "low"),
            condition("distraction_source", "birds"),
            condition("distraction", "medium", 300),
            condition("temperature", "18", unit="C"),
            condition("humidity", "60", unit="%"),
            condition("handler", "Alder"),
            condition("location", "field"),
        ),
        marks=(
            equipment(5, "collar", "fitted"),
            equipment(8, "collar_number", 3),
            equipment(10, "fit", 2),
            equipment(12, "contact", "solid"),
            equipment(14, "line", "trailing"),
            equipment(570, "skin", "clear"),
            equipment(580, "collar", "stripped"),
        ),
        flagged=("e40",),
    )


def full_entries() -> tuple[EntryOutput, ...]:
    return (
        entry("e1", 30, "tap one nothing"),
        entry("e2", 330, "level tree", "doubtful", alternatives=("level three", "level free")),
        entry("e3", 345, "came", "doubtful"),
        entry("e4", 400, "", "rejected", heard="wind"),
        entry("e5", 410, "level nine", voided=True),
        entry("e6", 420, "came", placed=False),
        entry("e40", 275, "yelped"),
    )


def full_findings() -> tuple[Finding, ...]:
    return (
        finding(
            "ended-failed",
            "remark",
            "the last rep but one failed",
            "finish with something the dog knows, no button",
            reps=(15,),
        ),
        finding(
            "stress-strong",
            "caution",
            "strong sign: yelped at level 4",
            "thumb off, one minute, check fit and coat; level 4 is barred for the day",
            reps=(9,),
            evidence=("e40",),
        ),
        finding(
            "step-big",
            "caution",
            "up more than one step between presses",
            "go up one step at a time",
            reps=(8, 9, 12),
            on_doubt=True,
        ),
        finding(
            "over-ceiling",
            "stop",
            "level 9 is above the ceiling 5",
            "set the dial under the ceiling before the dog is fetched",
            reps=(12,),
            struck=True,
        ),
    )


def full_previous() -> Session:
    return session(
        (
            tap(1, 1, "ear flick", "noticed"),
            rep(2, "continuous", (1,)),
            rep(3, "continuous", (2,)),
            rep(4, "continuous", (2, 5), "ignored", signs=(("flinched", "strong"),)),
        )
    )


def full() -> Summary:
    return summary(full_session(), full_findings(), full_entries(), previous=full_previous())
