"""The kinds of reps: what readiness and recent calls ask of a rep, answered once for all alike.

A dog's log grows to a hundred thousand reps, and each step of readiness asks several things of
every one of them. They are of few kinds, so each answer is worked out for a kind, by the functions
of `unaided.py` on one of its reps, and a session keeps its kinds in the order of its reps. Every
field that those functions read is told apart by `_kind`, which a test holds; of the calls and
levels they ask only what it tells apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

from voicelog.analysis.session_digest import RepDigest, RepState, SessionDigest
from voicelog.analysis.unaided import (
    asked,
    came_at_once,
    kept_still,
    stimulated,
    surely_unaided,
    was_asked,
)
from voicelog.model import Mode, Outcome

__all__ = ["Kinds", "RepKind", "kinds_of"]


@dataclass(frozen=True, slots=True, eq=False)
class RepKind:
    """Reps that are alike in all that is told here; one object for each kind, compared by identity.

    `asked` is a sure rep with a call that was heard and an outcome that was said; the others are as
    the functions of their name in `unaided.py` have them.
    """

    state: RepState
    drill: str | None
    mode: Mode
    distraction: str | None
    source: str | None
    line: str | None
    outcome: Outcome | None
    asked: bool
    was_asked: bool
    stimulated: bool
    surely_unaided: bool
    came_at_once: bool
    kept_still: bool

    def read_for(self, drill: str | None) -> bool:
        """Whether readiness of a drill reads such reps, to be met or not.

        All that were asked are read, and what is doubtful or has no outcome said is not met; so is
        a stimulus without a call that was heard. Only void reps are left out.
        """
        return self.state != "void" and self.drill == drill and self.was_asked


Kinds = tuple[RepKind, ...]
"""The kinds of a session's reps, in their order."""

_TOLD: Callable[[RepDigest], tuple[Any, ...]] = attrgetter(
    "state", "drill", "mode", "distraction", "source", "line", "outcome", "failed_first"
)

_KINDS: dict[tuple[Any, ...], RepKind] = {}
"""Every kind met so far; they are no more than the words of the drills and outcomes allow."""


def kinds_of(session_digests: Iterable[SessionDigest]) -> tuple[Kinds, ...]:
    """The kinds of the reps of each session, in their order."""
    return tuple(tuple(map(_kind, one.reps)) for one in session_digests)


def _kind(rep: RepDigest) -> RepKind:
    """The kind of a rep: two calls are as many as more, one level as any."""
    told = (*_TOLD(rep), min(rep.cues, 2), bool(rep.levels))
    return _KINDS.get(told) or _KINDS.setdefault(told, _made(rep))


def _made(rep: RepDigest) -> RepKind:
    return RepKind(
        state=rep.state,
        drill=rep.drill,
        mode=rep.mode,
        distraction=rep.distraction,
        source=rep.source,
        line=rep.line,
        outcome=rep.outcome,
        asked=rep.state == "sure" and asked(rep),
        was_asked=was_asked(rep),
        stimulated=stimulated(rep),
        surely_unaided=surely_unaided(rep),
        came_at_once=came_at_once(rep),
        kept_still=kept_still(rep),
    )
