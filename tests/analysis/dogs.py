"""Invented dogs with known truth, as sessions in short: what the analysis reads.

`session_digest` and `rep` build by hand; `Dog` works as a trainer would: no button first, a level
when the dog does not come, up a step when it ignores it, back down when it answers.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, TypeAlias

from voicelog.analysis.session_digest import ObservedSign, RepDigest, SessionDigest
from voicelog.analysis.session_matters import MATTER_RULES
from voicelog.model import MatterEvent, MatterKind, SessionMatter, SignClass, Transmitter
from voicelog.model.aggression import AGGRESSION_SIGNS

FIRST = datetime(2031, 3, 1, 8, 30)
UNIT = Transmitter(top=20)
Sign: TypeAlias = tuple[str, SignClass, int | None]


def rep(
    number: int = 1,
    mode: str = "none",
    levels: Sequence[int] = (),
    outcome: str | None = "complied",
    signs: Sequence[Sign] = (),
    **more: Any,
) -> RepDigest:
    """A sure recall at distraction none, 30 s after the one before."""
    fields: dict[str, Any] = {
        "number": number,
        "id": f"r{number}",
        "start_s": 30.0 * number,
        "end_s": 30.0 * number + 8,
        "drill": "recall",
        "mode": mode,
        "distraction": "none",
        "source": None,
        "handler": None,
        "location": None,
        "line": None,
        "cue": "here",
        "cue_by": "voice",
        "cues": 1,
        "levels": tuple(levels),
        "outcome": outcome,
        "signs": tuple(ObservedSign(*sign) for sign in signs),
        "stress": any(kind == "strong" for _, kind, _ in signs),
        "turned_s": None,
        "latency_s": None,
        "failed_s": None,
        "shot_m": None,
        "state": "sure",
        "rewards": (),
    }
    return RepDigest(**(fields | more))


def tap(number: int, level: int, seen: bool, **more: Any) -> RepDigest:
    """A tap of the drill "find level"."""
    sign: Sign = ("ear flick", "noticed", level) if seen else ("nothing", "none", level)
    fields = {"drill": "find level", "cue": None, "cue_by": None, "cues": 0} | more
    return rep(number, "momentary", (level,), None, (sign,), **fields)


def session_digest(reps: Sequence[RepDigest] = (), day: int = 0, **more: Any) -> SessionDigest:
    """A session `day` days after the first; its reps are named after it. `stops` are the rules of
    its stops. It leaves the matters that such reps leave."""
    stops = more.pop("stops", ())
    fields: dict[str, Any] = {
        "session": f"s{day}",
        "recording": f"rec{day}",
        "dog": "Juno",
        "began": FIRST + timedelta(days=day),
        "start_s": 0.0,
        "end_s": 600.0,
        "transmitter": UNIT,
        "ceiling": None,
        "skin": None,
        "matters": (),
        "cautions": (),
    } | more
    named = tuple(one._replace(id=f"{fields['session']}.{one.number}") for one in reps)
    return stopped(SessionDigest(reps=named, **fields), *stops)


def stopped(session_digest: SessionDigest, *rules: str) -> SessionDigest:
    """The session with a stop by these rules, and with the matters that its reps and its skin
    leave anyhow."""
    strong = [one for one in session_digest.reps if one.strong and one.state != "void"]
    names = {one.id: [sign.name for sign in one.signs if sign.class_ == "strong"] for one in strong}
    bitten = [one for one in strong if AGGRESSION_SIGNS.intersection(names[one.id])]
    found: dict[MatterKind, tuple[list[str], list[RepDigest], list[str]]] = {}
    if bitten:
        found["aggression"] = ["stress-twice"], bitten, [n for one in bitten for n in names[one.id]]
    if session_digest.skin in ("red", "sore"):
        found["skin"] = ["skin"], [], [session_digest.skin]
    for rule in rules:
        kind = MATTER_RULES.get(rule, "stop")
        if (kind != "skin" or "skin" not in found) and not (kind == "stop" and bitten):
            found.setdefault(kind, ([], strong, [n for some in names.values() for n in some]))
            found[kind][0].append(rule)
    mild = [one for one in strong if one not in bitten]
    if mild and "stop" not in found:
        found["strong sign"] = ["stress-strong"], mild, [n for one in mild for n in names[one.id]]
    matters = tuple(
        SessionMatter(
            kind=kind,
            session=session_digest.session,
            recording=session_digest.recording,
            dog=session_digest.dog,
            began=session_digest.began,
            rules=tuple(by),
            names=tuple(dict.fromkeys(signs)),
            stop=kind != "strong sign",
            reps=tuple(one.number for one in reps),
            rep_ids=tuple(one.id for one in reps),
            entries=(f"{session_digest.session}.{kind}",),
            start_s=0.0,
            end_s=9.0,
        )
        for kind, (by, reps, signs) in found.items()
    )
    return session_digest._replace(matters=matters)


def good(
    day: int, came: int = 9, of: int = 10, button: int = 0, level: int = 3, **more: Any
) -> SessionDigest:
    """A session in which so many of the recalls came at the first call, the last `button` of
    them at a level."""
    tries = [
        rep(
            n + 1,
            "continuous" if n >= of - button else "none",
            (level,) if n >= of - button else (),
            "complied" if n < came or n >= of - button else "ignored",
            **more,
        )
        for n in range(of)
    ]
    return session_digest(tries, day)


class Dog:
    """A dog that answers level x with the chance 1 / (1 + exp(-(x - answers) / spread)), shows
    a strong sign with a chance that rises around `stress`, and comes at the call with the
    chance `willing`, which grows by `learns` a session."""

    def __init__(
        self,
        seed: int,
        answers: float = 4.0,
        spread: float = 0.8,
        stress: float = 12.0,
        willing: float = 0.5,
        learns: float = 0.03,
    ) -> None:
        self.random = random.Random(seed)
        self.answers, self.spread, self.stress = answers, spread, stress
        self.willing, self.learns = willing, learns
        self.level = UNIT.lowest

    def sessions(self, many: int, reps: int = 12) -> list[SessionDigest]:
        """So many sessions, one a day, walking up the distraction ladder."""
        found = []
        for day in range(many):
            distraction_rank = ("none", "low", "medium", "high")[min(3, day * 4 // max(many, 1))]
            tries = [self._rep(n + 1, distraction_rank, day) for n in range(reps)]
            found.append(session_digest(tries, day))
        return found

    def _chance(self, level: float, at: float) -> bool:
        return self.random.random() < 1 / (1 + math.exp(-(level - at) / self.spread))

    def _rep(self, number: int, distraction_rank: str, day: int) -> RepDigest:
        hard = ("none", "low", "medium", "high").index(distraction_rank) * 0.6
        extra: dict[str, Any] = {
            "distraction": distraction_rank,
            "handler": self.random.choice(("anna", "anna", "joe")),
            "location": self.random.choice(("field", "yard")),
            "line": "trailing" if day % 3 else "clipped",
        }
        turned = round(self.random.uniform(0.6, 2.0), 2)
        came = round(turned + self.random.expovariate(0.25), 2)
        timed: dict[str, Any] = (
            {"turned_s": turned, "latency_s": came} if self.random.random() < 0.8 else {}
        )
        if self.random.random() < min(0.97, self.willing + self.learns * day - hard * 0.12):
            return rep(number, "none", (), "complied", **extra, **timed)
        if self.random.random() < 0.2:
            return rep(number, "none", (), "ignored", failed_s=15.0, **extra)
        levels: list[int] = []
        signs: list[Sign] = []
        level = self.level
        for _ in range(4):
            levels.append(level)
            if self._chance(level, self.stress):
                signs.append(("yelped", "strong", level))
                self.level = max(UNIT.lowest, level - 2)
                return rep(number, "continuous", levels, "complied", signs, **extra)
            if self._chance(level, self.answers - 1.5):
                signs.append(("neck twitch", "noticed", level))
            else:
                signs.append(("nothing", "none", level))
            if self._chance(level, self.answers + hard):
                self.level = max(UNIT.lowest, level - 1)
                return rep(number, "continuous", levels, "complied", signs, **extra, **timed)
            level += 1
        return rep(number, "continuous", levels, "ignored", signs, failed_s=20.0, **extra)


def closed(matters: Sequence[SessionMatter], **more: Any) -> MatterEvent:
    """The closing of the first of these."""
    fields: dict[str, Any] = {
        "id": "m-1",
        "do": "close",
        "kind": matters[0].kind,
        "entries": matters[0].entries,
        "rules": matters[0].rules,
        "names": matters[0].names,
        "who": "Anna",
        "reason": "fit checked",
        "consulted": "Dr Fern, veterinarian",
        "at": FIRST.replace(tzinfo=UTC) + timedelta(days=2),
        "turn": 1,
    }
    return MatterEvent(**(fields | more))
