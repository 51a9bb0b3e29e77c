"""Which reps may stand together: the scope of a dog's sessions, and its reps in series.

- Never across transmitters: a level of one means nothing on another, so only sessions with
  the newest session's transmitter are looked at; the others are counted and named.
- Never across drills, modes or distractions: what a dog answers in one says little of the
  other. "Not said" is a group of its own.
- Handlers are pooled, since the level is the dog's; where more than one worked the dog, each
  also stands alone, so that a difference shows.
- Doubtful and void reps are left out and counted.
- Only the last sessions in which a thing was worked are looked back on: a dog learns.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from itertools import compress
from typing import Literal, NamedTuple

from voicelog.analysis.open_matters import OpenMatter, as_left, stops_of
from voicelog.analysis.rep_kinds import Kinds, RepKind, kinds_of
from voicelog.analysis.session_digest import RepDigest, SessionDigest, by_date
from voicelog.analysis.unaided import asked
from voicelog.model import FrozenModel, Mode
from voicelog.model.domain import DISTRACTION_LADDER, FIND_LEVEL, STIMULATION

__all__ = [
    "RepInSession",
    "ScopeNote",
    "SessionScope",
    "distraction_rank",
    "has_call_and_outcome",
    "ids",
    "last_sessions_with",
    "newest_mode",
    "pressed_in",
    "reps_that",
    "scope_of",
    "went_strong",
]


class RepInSession(NamedTuple):
    """A rep and the session it was in."""

    session_digest: SessionDigest
    rep: RepDigest


class ScopeNote(FrozenModel):
    """What is to be minded about a dog's sessions: how many they are, the last day of those (None
    where it is not known), and for another transmitter how many reps are left out."""

    code: Literal["other transmitter", "undated", "after today"]
    sessions: int
    reps: int = 0
    day: date | None = None


@dataclass(frozen=True)
class SessionScope:
    """The sessions of one dog that may stand together, oldest first, and what was left out.

    `matters` is the dog's list of open matters, on whatever transmitter.
    """

    session_digests: tuple[SessionDigest, ...]
    other_reps: int
    other_until: datetime | None
    undated: int
    notes: tuple[ScopeNote, ...]
    matters: tuple[OpenMatter, ...] = ()

    @cached_property
    def stops(self) -> tuple[OpenMatter, ...]:
        """The matters that stand and say: no button."""
        return stops_of(self.matters)

    @cached_property
    def kinds(self) -> tuple[Kinds, ...]:
        """The kinds of the reps of each session; of each rep, in its order."""
        return kinds_of(self.session_digests)

    @cached_property
    def _all_kinds(self) -> frozenset[RepKind]:
        return frozenset().union(*self.kinds)

    def kinds_that(self, wanted: Callable[[RepKind], bool]) -> frozenset[RepKind]:
        """Those among the kinds of its reps that are wanted."""
        return frozenset(filter(wanted, self._all_kinds))

    @cached_property
    def _by_drill(self) -> dict[str | None, tuple[frozenset[RepKind], frozenset[RepKind]]]:
        drills: dict[str | None, list[RepKind]] = {}
        for kind in self._all_kinds:
            drills.setdefault(kind.drill, []).append(kind)
        return {
            drill: (
                frozenset(kind for kind in kinds if kind.read_for(drill)),
                frozenset(kind for kind in kinds if kind.asked),
            )
            for drill, kinds in drills.items()
        }

    def read_for(self, drill: str | None) -> frozenset[RepKind]:
        """Those that readiness reads of a drill."""
        return self._by_drill.get(drill, (frozenset(), frozenset()))[0]

    def asked_for(self, drill: str | None) -> frozenset[RepKind]:
        """Those of a drill that are sure, with a call that was heard and an outcome that was
        said."""
        return self._by_drill.get(drill, (frozenset(), frozenset()))[1]

    def last_with(self, wanted: frozenset[RepKind], most: int) -> tuple[int, ...]:
        """The places of the last so many sessions that have a rep of such a kind, oldest first;
        what `last_sessions_with` finds where every rep is asked."""
        found: list[int] = []
        for place in range(len(self.kinds) - 1, -1, -1) if wanted else ():
            if len(found) == most:
                break
            if not wanted.isdisjoint(self.kinds[place]):
                found.append(place)
        return tuple(reversed(found))

    def reps_in(self, place: int, wanted: frozenset[RepKind]) -> list[RepInSession]:
        """The reps of such kinds in the session at a place, in order."""
        one = self.session_digests[place]
        pairs = zip(one.reps, self.kinds[place], strict=True)
        return [RepInSession(one, rep) for rep, kind in pairs if kind in wanted]


def scope_of(
    session_digests: Sequence[SessionDigest],
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
) -> SessionScope:
    """The sessions on the newest session's transmitter, of one dog, given in any order.

    `matters` is its list of open matters; None: as these sessions left them, none closed.
    """
    ordered = by_date(session_digests)
    unit = ordered[-1].transmitter if ordered else None
    alike = [one.transmitter is unit or one.transmitter == unit for one in ordered]
    same = tuple(compress(ordered, alike))
    others = [one for one, is_same in zip(ordered, alike, strict=True) if not is_same]
    other_reps = sum(len(one.reps) for one in others)
    undated = [one for one in ordered if one.began is None]
    notes = []
    if others:
        notes.append(
            ScopeNote(
                code="other transmitter",
                sessions=len(others),
                reps=other_reps,
                day=others[-1].day,
            )
        )
    if undated and len(ordered) > 1:
        notes.append(ScopeNote(code="undated", sessions=len(undated)))
    late = [one for one in ordered if today and one.began and one.began.date() > today]
    if late:
        notes.append(ScopeNote(code="after today", sessions=len(late), day=late[-1].day))
    return SessionScope(
        session_digests=same,
        other_reps=other_reps,
        other_until=others[-1].began if others else None,
        undated=len(undated),
        notes=tuple(notes),
        matters=as_left(ordered) if matters is None else tuple(matters),
    )


def reps_that(
    session_digests: Iterable[SessionDigest], wanted: Callable[[RepDigest], object]
) -> list[RepInSession]:
    """Every rep that is wanted, with its session, in order."""
    return [
        RepInSession(session_digest, rep)
        for session_digest in session_digests
        for rep in session_digest.reps
        if wanted(rep)
    ]


def went_strong(rep: RepDigest) -> bool:
    """Whether a rep that counts had a strong sign; doubt does not take it away."""
    return rep.strong and rep.state != "void"


def last_sessions_with(
    session_digests: Sequence[SessionDigest], wanted: Callable[[RepDigest], bool], most: int
) -> tuple[SessionDigest, ...]:
    """The last so many sessions that have a rep that is wanted, oldest first."""
    found: list[SessionDigest] = []
    for session_digest in reversed(session_digests):
        if len(found) == most:
            break
        if any(map(wanted, session_digest.reps)):
            found.append(session_digest)
    return tuple(reversed(found))


def pressed_in(rep: RepDigest, mode: Mode | None) -> bool:
    """Whether a rep is of a level in this mode alone; None: in any one mode. Taps and held presses
    are never compared, so a rep with both is of neither."""
    here = rep.mode in STIMULATION if mode is None else rep.mode == mode
    return here and bool(rep.levels) and not rep.mixed


def newest_mode(session_digests: Iterable[SessionDigest]) -> Mode | None:
    """The mode of the newest sure rep of a level, the search for the level noticed left out; None:
    there is none. `session_digests` are the oldest first."""
    modes = [
        rep.mode
        for session_digest in session_digests
        for rep in session_digest.reps
        if rep.state == "sure" and rep.drill != FIND_LEVEL and pressed_in(rep, None)
    ]
    return modes[-1] if modes else None


def has_call_and_outcome(rep: RepDigest, drill: str | None) -> bool:
    """Whether a sure rep of the drill has a call that was heard and an outcome that was said."""
    return rep.state == "sure" and rep.drill == drill and asked(rep)


def distraction_rank(distraction: str | None) -> int | None:
    """The place of a distraction on its ladder, None where it was not said."""
    return DISTRACTION_LADDER.index(distraction) if distraction in DISTRACTION_LADDER else None


def ids(reps: Iterable[RepInSession]) -> tuple[str, ...]:
    """The ids of reps, in order."""
    return tuple(one.rep.id for one in reps)
