"""A session in short: what an analysis over weeks asks of it, small enough to read thousands.

A `SessionDigest` keeps each rep as a `RepDigest`, with the handler, the place and the line of
it, and where its sound is. Nothing is judged here: doubtful and void reps are in it, marked,
so that whoever leaves them out can say how many.

Times are seconds (s) in the recording. `began` is wall time as read at the field, without a
zone, so that clocks with and without one compare.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Container, Iterable, Sequence
from datetime import date, datetime
from typing import Any, Literal, NamedTuple, cast

from pydantic import TypeAdapter

from voicelog.analysis.session_matters import BAD_SKIN, session_matters
from voicelog.model import (
    CueBy,
    Finding,
    Mode,
    Outcome,
    Rep,
    Session,
    SessionMatter,
    SignClass,
    Transmitter,
)
from voicelog.model.domain import FAILED
from voicelog.model.same_object import once_per_object
from voicelog.session.utterance_builder import STALE_S

__all__ = [
    "DIGEST_FORMAT",
    "ObservedSign",
    "RepDigest",
    "RepState",
    "SessionDigest",
    "by_date",
    "decode",
    "digest_session",
    "encode",
    "failed_s",
    "is_later_day",
    "skin_cleared",
    "skin_left",
    "skin_was_bad",
]

DIGEST_FORMAT = 12
"""Version of what `encode` writes; with another, everything kept in short is made anew."""

RepState = Literal["sure", "check", "void"]
"""Whether a rep counts: only a sure one does. Look: doubtful; void: struck, or no contact."""

_YARD_M = 0.9144
_MET_GAME = frozenset({"pointed", "flushed", "chased", "crept"})
"""What a dog does on game that is there; a retrieve may be of a dummy."""

_OF_COLLAR = frozenset({"collar", "collar_number", "contact", "fit", "test"})


class ObservedSign(NamedTuple):
    """What the body showed, and the level in force (None: no level was)."""

    name: str
    class_: SignClass
    level: int | None


class RepDigest(NamedTuple):
    """One rep. `failed_s` is how long it was watched from the call without the dog arriving,
    None where that was not said apart; `shot_m` the distance of the last shot in its session
    before it ended, `distance_m` that of the dog, in metres; `answer_s` the least and the most time
    (s) that it had from the call to the first press, None where that was not said apart. `mixed`:
    its levels are of more than one mode, that of the last one being the rep's. `failed_first` is
    what the dog did before `outcome`, where it failed and then came or was helped."""

    number: int
    id: str
    start_s: float
    end_s: float
    drill: str | None
    mode: Mode
    distraction: str | None
    source: str | None
    handler: str | None
    location: str | None
    line: str | None
    cue: str | None
    cue_by: CueBy | None
    cues: int
    levels: tuple[int, ...]
    outcome: Outcome | None
    signs: tuple[ObservedSign, ...]
    stress: bool
    turned_s: float | None
    latency_s: float | None
    failed_s: float | None
    shot_m: float | None
    state: RepState
    rewards: tuple[str, ...]
    distance_m: float | None = None
    answer_s: tuple[float, float] | None = None
    mixed: bool = False
    failed_first: Outcome | None = None

    @property
    def failed(self) -> Outcome | None:
        """What it did where it ignored the call, left or broke, whatever came after that."""
        return self.outcome if self.outcome in FAILED else self.failed_first

    @property
    def peak(self) -> int | None:
        """The highest level of the rep."""
        return max(self.levels, default=None)

    @property
    def came(self) -> bool:
        """Whether the dog did it by itself, promptly or slowly."""
        return self.outcome in ("complied", "slow")

    @property
    def strong(self) -> bool:
        """Whether the body showed a strong sign of stress."""
        for sign in self.signs:  # noqa: SIM110 (any() takes three times as long)
            if sign.class_ == "strong":
                return True
        return False


class SessionDigest(NamedTuple):
    """One session. `matters` are those that it leaves a person to close, `cautions` the rules of
    its cautions that were not struck; `ceiling` the lowest one that held in it, said or from the
    profile; `collar` tells whether a collar was spoken of, `game` whether what the dog did on game,
    or that it was given a bird."""

    session: str
    recording: str
    dog: str
    began: datetime | None
    start_s: float
    end_s: float
    transmitter: Transmitter
    ceiling: int | None
    skin: str | None
    matters: tuple[SessionMatter, ...]
    cautions: tuple[str, ...]
    reps: tuple[RepDigest, ...]
    collar: bool = False
    game: bool = False

    @property
    def day(self) -> date | None:
        """The day on which it began, None where that is not known."""
        return None if self.began is None else self.began.date()

    @property
    def stops(self) -> tuple[str, ...]:
        """The rules of its stops that still follow from what was said."""
        return tuple(
            dict.fromkeys(
                rule for one in self.matters if one.stop and one.stands for rule in one.rules
            )
        )

    @property
    def skin_on_doubt(self) -> bool:
        """Whether only entries to check say that the skin was bad."""
        said = [one for one in self.matters if one.kind == "skin"]
        return bool(said) and all(one.on_doubt for one in said)

    @property
    def minutes(self) -> float:
        """How long it took."""
        return (self.end_s - self.start_s) / 60


def digest_session(
    session: Session,
    findings: Iterable[Finding] = (),
    began: datetime | None = None,
    matters: Iterable[SessionMatter] | None = None,
    doubtful: Container[str] = (),
) -> SessionDigest:
    """A session in short.

    Args:
        findings: of any session; those of this one are taken.
        began: wall clock when the session began, None when not known.
        matters: of any session; None: what the findings alone come to.
        doubtful: the ids of entries that are in doubt, which clear no skin.
    """
    findings = tuple(findings)
    if matters is None:
        matters = session_matters(session, findings, began)
    live = [one for one in findings if one.session == session.id and not one.struck]
    ceilings = [int(c.value) for c in session.conditions if c.name == "ceiling"]
    if session.dog.ceiling is not None:
        ceilings.append(session.dog.ceiling)
    return SessionDigest(
        session=session.id,
        recording=session.recording,
        dog=session.dog.name,
        began=None if began is None else began.replace(tzinfo=None),
        start_s=session.start_s,
        end_s=session.end_s,
        transmitter=session.dog.transmitter,
        ceiling=min(ceilings, default=None),
        skin=_skin(session, doubtful),
        matters=tuple(
            one for one in matters if (one.session, one.dog) == (session.id, session.dog.name)
        ),
        cautions=tuple(one.rule for one in live if one.severity == "caution"),
        reps=tuple(_rep_digests(session)),
        collar=any(
            said.name in _OF_COLLAR and (said.name, said.value) != ("collar", "none")
            for said in session.conditions
        ),
        game=any(said.name == "game" and said.value in _MET_GAME for said in session.conditions)
        or any("gave bird" in rep.rewards for rep in session.reps if not rep.void),
    )


def skin_was_bad(session_digest: SessionDigest) -> str | None:
    """The worst that the skin was said to be in a session, red or sore, also where it was said to
    be clear after that; None where it was neither, or a person took that back."""
    said = {session_digest.skin}.union(
        *(one.names for one in session_digest.matters if one.kind == "skin" and one.stands)
    )
    return "sore" if "sore" in said else "red" if "red" in said else None


def skin_left(session_digests: Iterable[SessionDigest]) -> SessionDigest | None:
    """The last session with red or sore skin that no session of a later day found clear; None
    where there is none. Sessions in any order, those without a date before all others.

    Skin that was bad in the morning is looked at again on another day: "clear" on the same day
    lifts nothing (common practice, no source).
    """
    bad: SessionDigest | None = None
    for one in by_date(session_digests):
        if skin_was_bad(one) is not None:
            bad = one
        elif bad is not None and one.skin is not None and is_later_day(one.day, bad.day):
            bad = None
    return bad


def is_later_day(day: date | None, than: date | None) -> bool:
    """Whether a session that was not before another one was on a later day; of two without a date
    the order alone tells."""
    return than is None or (day is not None and day > than)


def skin_cleared(session_digests: Iterable[SessionDigest], since: date | None) -> date | None:
    """The day of the last session whose skin was said to be clear, where that was later than
    `since` and nothing bad was said since; else None."""
    said = [one for one in by_date(session_digests) if one.skin is not None]
    if since is None or not said or skin_left(said) is not None:
        return None
    day = said[-1].day
    return day if day is not None and day > since else None


def _skin(session: Session, doubtful: Container[str]) -> str | None:
    """How the skin was said to be last; what is in doubt makes it bad, and never clear."""
    skin: str | None = None
    for mark in session.marks:
        if (mark.kind, mark.name) == ("equipment", "skin") and (
            mark.value in BAD_SKIN or mark.entry not in doubtful
        ):
            skin = str(mark.value)
    return skin


def by_date(session_digests: Iterable[SessionDigest]) -> tuple[SessionDigest, ...]:
    """Oldest first; those of no known date before all others."""
    return tuple(
        sorted(
            session_digests, key=lambda one: (one.began or datetime.min, one.start_s, one.session)
        )
    )


def _rep_digests(session: Session) -> Iterable[RepDigest]:
    waiting = deque(session.conditions)
    held: dict[str, str] = {}
    failed = failed_s(session)
    for rep in session.reps:
        while waiting and waiting[0].at_s <= rep.end_s:
            said = waiting.popleft()
            if said.name == "distraction":
                held.pop("distraction_source", None)
            held[said.name] = said.value
            if said.name == "shot":
                metres = float(said.value) * (_YARD_M if said.unit == "yards" else 1.0)
                held["shot"] = f"{metres:.1f}"
        yield _rep_digest(rep, tuple(map(held.get, _HELD)), failed.get(rep.number))


_HELD = ("distraction_source", "handler", "location", "line", "shot")


@once_per_object
def _rep_digest(rep: Rep, held: tuple[str | None, ...], failed_s: float | None) -> RepDigest:
    """`held` are the values of `_HELD`."""
    levels = tuple(mark.level for mark in rep.levels)
    source, handler, location, line, shot = held
    answer = None if rep.intervals is None else rep.intervals.answer_time_s
    return RepDigest(
        number=rep.number,
        id=rep.id,
        start_s=rep.start_s,
        end_s=rep.end_s,
        drill=rep.drill,
        mode=rep.mode,
        distraction=rep.distraction,
        source=source,
        handler=handler or None,
        location=location,
        line=line,
        cue=rep.cue,
        cue_by=rep.cue_by,
        cues=rep.cues,
        levels=levels or (() if rep.peak_level is None else (rep.peak_level,)),
        outcome=rep.outcome,
        signs=tuple(ObservedSign(mark.sign, mark.class_, mark.level) for mark in rep.sign_marks),
        stress=rep.stress,
        turned_s=rep.turned_s,
        latency_s=rep.latency_s,
        failed_s=failed_s,
        shot_m=None if shot is None else float(shot),
        state="void" if rep.void else "check" if rep.doubtful else "sure",
        rewards=rep.rewards,
        distance_m=_metres(rep),
        answer_s=None if answer is None else (answer.lo_s, answer.hi_s),
        mixed=len({press.mode for press in rep.times.presses if press.level is not None}) > 1,
        failed_first=rep.failed_first,
    )


def _metres(rep: Rep) -> float | None:
    if rep.distance is None:
        return None
    return round(rep.distance * (_YARD_M if rep.distance_unit == "yards" else 1.0), 1)


def failed_s(session: Session) -> dict[int, float]:
    """For reps in which the dog did not arrive: seconds from the first call to the word that
    said so, where the two were said apart and no silence was so long that nothing tells."""
    called: dict[int, tuple[float, str]] = {}
    watched: dict[int, float] = {}
    last: dict[int, float] = {}
    for mark in session.marks:
        if mark.rep is None:
            continue
        if mark.kind == "cue":
            called.setdefault(mark.rep, (mark.at_s, mark.entry))
        elif mark.kind == "outcome" and mark.rep in called:
            at_s, entry = called[mark.rep]
            apart = entry != mark.entry and mark.at_s - last[mark.rep] <= STALE_S
            if mark.name in ("ignored", "left", "broke", "helped") and apart:
                watched[mark.rep] = round(max(0.0, mark.at_s - at_s), 3)
        last[mark.rep] = mark.at_s
    return watched


# --- as text ---------------------------------------------------------------------------


def encode(session_digest: SessionDigest) -> str:
    """A session in short as compact JSON."""
    unit = session_digest.transmitter
    plain: list[Any] = list(session_digest)
    plain[3] = None if session_digest.began is None else session_digest.began.isoformat()
    plain[6] = unit.model_dump(mode="json", exclude_defaults=True)
    plain[9] = [
        one.model_dump(mode="json", exclude_defaults=True) for one in session_digest.matters
    ]
    return json.dumps(plain, separators=(",", ":"), ensure_ascii=False)


_MATTERS = TypeAdapter(tuple[SessionMatter, ...])

_UNITS: dict[str, Transmitter] = {}
"""Transmitters already met; a dog has one or two in all its sessions."""


def decode(text: str) -> SessionDigest:
    """The session in short that `encode` wrote."""
    plain: list[Any] = json.loads(text)
    unit = repr(plain[6])
    if unit not in _UNITS:
        _UNITS[unit] = Transmitter.model_validate(plain[6])
    plain[3] = None if plain[3] is None else datetime.fromisoformat(plain[3])
    plain[6] = _UNITS[unit]
    plain[9] = _MATTERS.validate_python(plain[9]) if plain[9] else ()
    plain[10] = tuple(plain[10])
    plain[11] = tuple(map(_decode_rep_digest, cast("Sequence[list[Any]]", plain[11])))
    return SessionDigest._make(plain)


def _decode_rep_digest(plain: list[Any]) -> RepDigest:
    plain[14] = tuple(plain[14])
    plain[16] = tuple(map(ObservedSign._make, plain[16]))
    plain[23] = tuple(plain[23])
    plain[25] = None if plain[25] is None else tuple(plain[25])
    return RepDigest._make(plain)
