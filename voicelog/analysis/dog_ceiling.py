"""The ceiling that holds for a dog on a transmitter, the same for every paper.

A ceiling never fades and is not lost by an edit: strong signs count from all sessions whose dial
may be the same one, so that adding a cut-off, a mode or the top level to a profile lifts nothing,
nor do sessions on another transmitter in between, nor the deletion of a session whose matter no
person has closed. Beside them stand the profile's own ceiling and
the one last said on that dial.
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling, ceiling
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.planned_sessions import planned_sessions
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import SessionScope
from voicelog.model import Dog, Transmitter

__all__ = ["dog_ceiling", "may_be_same_dial"]


def may_be_same_dial(one: Transmitter, other: Transmitter) -> bool:
    """Whether a level may mean the same on both: the same top, or one that was not given."""
    return one.top == other.top or one.top is None or other.top is None


def dog_ceiling(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    criteria: Criteria,
    unit: Transmitter | None = None,
    matters: Sequence[OpenMatter] = (),
) -> Ceiling:
    """The ceiling of a dog on `unit`, or on its profile's transmitter.

    `session_digests`: all its sessions, in any order, of which it rests on the `planned_sessions`,
    as the plan does; `matters`: its list of open matters, which
    holds what is kept of deleted ones.
    """
    dial = unit or dog.transmitter
    used = planned_sessions(session_digests)
    own = tuple(one for one in used if may_be_same_dial(one.transmitter, dial))
    said = [one.ceiling for one in own[-1:] if one.ceiling is not None]
    profile = [dog.ceiling] if dog.ceiling is not None else []
    lowest = min((*said, *profile), default=None)
    kept = tuple(one for one in matters if may_be_same_dial(one.matter.transmitter, dial))
    only = SessionScope(own, other_reps=0, other_until=None, undated=0, notes=(), matters=kept)
    return ceiling(only, criteria, lowest, dial)
