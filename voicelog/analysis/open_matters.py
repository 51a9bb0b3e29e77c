"""What is open with a dog: the one list that every paper, the plan and the live start read.

It is made of what the sessions left (`SessionMatter`), of what people did about it
(`MatterEvent`), and of what was kept of sessions that are deleted. Pure, and the same on every
laptop that holds the same sessions and events, in whatever order they came.

- A matter is *open* until a person closes it. A "roger" in the field makes it *acknowledged*,
  which closes nothing: both stand.
- A closing holds for the kind, the entries, the rules and the signs that it saw; where more came
  to a matter later, it is open again.
- What a person struck on the page, or read anew so that nothing of it is left, is *corrected*: it
  stands no more, and says by whom. Struck by voice alone it still stands.
- What is closed or corrected is shown for `SHOWN_DAYS` days.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Literal

from voicelog.analysis.session_digest import SessionDigest
from voicelog.model import FrozenModel, MatterEvent, MatterKind, SessionMatter
from voicelog.model.matters import COVERED_BY_CLOSING, MATTER_KINDS

__all__ = [
    "SHOWN_DAYS",
    "MatterState",
    "NewestDeeds",
    "OpenMatter",
    "any_stop",
    "as_left",
    "last_bad_day",
    "matter_id",
    "matter_version",
    "matters_after",
    "newest_deeds",
    "open_matters",
    "session_matter_id",
    "standing",
    "stops_of",
]

SHOWN_DAYS = 90
"""Days for which a closed or corrected matter is shown (common practice, no source)."""

BAD_DAY_SHOWN = 7
"""Days for which a bad day is told first wherever there is none since (common practice, no source).
"""

MatterState = Literal["open", "acknowledged", "closed", "corrected"]


class OpenMatter(FrozenModel):
    """One matter and how it stands; `id` is what a person calls it.

    `closing` is the event that closed it, None where it is not closed; `reopened` the one that
    opened it again. `deleted`: its session was deleted, and this is all that was kept. `earlier`:
    of skin that was not said to be clear, the matter of the day on which it was red or sore.
    """

    id: str
    state: MatterState
    matter: SessionMatter
    closing: MatterEvent | None = None
    reopened: MatterEvent | None = None
    deleted: bool = False
    earlier: SessionMatter | None = None

    @property
    def stands(self) -> bool:
        """Whether it waits for a person to close it."""
        return self.state in ("open", "acknowledged")

    @property
    def is_stop(self) -> bool:
        """Whether it stands and says: no button."""
        return self.stands and self.matter.stop

    @property
    def day(self) -> date | None:
        """The day of its session, None where that is not known."""
        return None if self.matter.began is None else self.matter.began.date()


def matter_id(matter: SessionMatter) -> str:
    """What a person calls a matter: eight hexadecimal digits, the same in every log."""
    return session_matter_id(matter.session, matter.kind)


def session_matter_id(session: str, kind: MatterKind) -> str:
    """What a matter of that kind, in that session, is called."""
    return hashlib.sha256(f"{session} {kind}".encode()).hexdigest()[:8]


def matter_version(matter: SessionMatter) -> str:
    """What changes when there is more, or less, in a matter than a person saw: eight digits."""
    seen = (matter.entries, matter.rules, matter.names)
    return hashlib.sha256(repr(seen).encode()).hexdigest()[:8]


def open_matters(
    matters: Iterable[SessionMatter],
    events: Sequence[MatterEvent] = (),
    today: date | None = None,
) -> tuple[OpenMatter, ...]:
    """The list of a dog: what stands first, stops before the rest, each the newest first.

    Args:
        matters: what its sessions left, in any order.
        events: what people did, of any dog; and what is kept of this dog's deleted sessions.
        today: the day as of which it is said; None: nothing is too old to be shown.
    """
    return matters_after(matters, newest_deeds(events), events, today)


NewestDeeds = Mapping[tuple[MatterKind, str], MatterEvent]
"""What a person did last about a kind of matter, by the kind and an entry that it rests on."""


def newest_deeds(events: Iterable[MatterEvent]) -> NewestDeeds:
    """What was done last of these `events`, of any dog; for who asks for the lists of many."""
    deeds = sorted((one for one in events if one.do != "keep"), key=_turn)
    newest: dict[tuple[MatterKind, str], MatterEvent] = {}
    for deed in deeds:
        for kind in COVERED_BY_CLOSING[deed.kind]:
            for entry in deed.entries:
                newest[kind, entry] = deed
    return newest


def matters_after(
    matters: Iterable[SessionMatter],
    newest: NewestDeeds,
    kept_events: Iterable[MatterEvent] = (),
    today: date | None = None,
) -> tuple[OpenMatter, ...]:
    """The list of a dog as `open_matters` makes it, where what was done is at hand: `newest`, and
    the `kept_events` with what is kept of this dog's deleted sessions."""
    live = tuple(matters)
    found = [_stated(one, newest) for one in live]
    kept = _kept(kept_events)
    derived = {
        (kind, entry) for one in live if kept for kind in COVERED_BY_CLOSING[one.kind]
        for entry in one.entries
    }  # fmt: skip
    for matter in kept.values():
        if not derived.issuperset((matter.kind, entry) for entry in matter.entries):
            found.append(_stated(matter, newest).model_copy(update={"deleted": True}))
    shown = [one for one in found if one.stands or _is_shown(one, today)]
    bad = [one.matter for one in found if _is_bad_skin(one)]
    return tuple(sorted((_after(one, bad) for one in shown), key=_order))


def any_stop(matters: Iterable[SessionMatter], newest: NewestDeeds) -> bool:
    """Whether one of a dog's `matters` stands and says: no button; they are read up to the first.
    `newest` as in `matters_after`."""
    return any(_stated(one, newest).is_stop for one in matters if one.stop)


def standing(found: Iterable[OpenMatter]) -> tuple[OpenMatter, ...]:
    """Those that wait for a person to close them."""
    return tuple(one for one in found if one.stands)


def stops_of(found: Iterable[OpenMatter]) -> tuple[OpenMatter, ...]:
    """Those that stand and say: no button."""
    return tuple(one for one in found if one.is_stop)


def last_bad_day(
    found: Iterable[OpenMatter], as_of: date | None, but: str = ""
) -> tuple[OpenMatter, ...]:
    """The stops and strong signs of the last day that had one, closed or not; empty where there is
    none in the `BAD_DAY_SHOWN` days up to `as_of`. `but` is a session that is left out."""
    bad: dict[date, list[OpenMatter]] = {}
    for one in found:
        said = one.matter.stop or one.matter.kind == "strong sign"
        if (
            said
            and one.state != "corrected"
            and one.day is not None
            and one.matter.session != but
            and (as_of is None or 0 <= (as_of - one.day).days <= BAD_DAY_SHOWN)
        ):
            bad.setdefault(one.day, []).append(one)
    return tuple(bad[max(bad)]) if bad else ()


def as_left(session_digests: Iterable[SessionDigest]) -> tuple[OpenMatter, ...]:
    """The list of sessions of which nothing is known that a person did: all that they left."""
    return open_matters(matter for one in session_digests for matter in one.matters)


def _kept(events: Iterable[MatterEvent]) -> dict[str, SessionMatter]:
    """What was kept of deleted sessions by its id, the newest of each."""
    kept = sorted((one for one in events if one.do == "keep"), key=_turn)
    return {matter_id(one.matter): one.matter for one in kept if one.matter is not None}


def _stated(matter: SessionMatter, newest: NewestDeeds) -> OpenMatter:
    deeds = [newest.get((matter.kind, entry)) for entry in matter.entries]
    done = [one for one in deeds if one is not None]
    last = max(done, key=_turn, default=None)
    closed = all(one is not None and one.do == "close" for one in deeds) and _saw(done, matter)
    if not matter.stands:
        state: MatterState = "corrected"
    elif closed:
        state = "closed"
    else:
        state = "acknowledged" if matter.acknowledged else "open"
    return OpenMatter(
        id=matter_id(matter),
        state=state,
        matter=matter,
        closing=last if state == "closed" else None,
        reopened=last if matter.stands and last is not None and last.do == "reopen" else None,
    )


def _saw(closings: Sequence[MatterEvent], matter: SessionMatter) -> bool:
    """Whether whoever closed it saw all that is in these entries now."""
    rules = {rule for one in closings for rule in one.rules}
    names = {name for one in closings for name in one.names}
    return rules.issuperset(matter.rules) and names.issuperset(matter.names)


def _is_bad_skin(one: OpenMatter) -> bool:
    """Whether it says how the skin was, and nobody took that back."""
    return one.matter.kind == "skin" and bool(one.matter.names) and one.state != "corrected"


def _after(one: OpenMatter, bad: Sequence[SessionMatter]) -> OpenMatter:
    """The matter, with the newest of `bad` before it where it does not say how the skin was."""
    if one.matter.kind != "skin" or one.matter.names:
        return one
    before = [skin for skin in bad if _at(skin.began) <= _at(one.matter.began)]
    earlier = max(before, key=lambda skin: (_at(skin.began), skin.session), default=None)
    return one.model_copy(update={"earlier": earlier})


def _is_shown(one: OpenMatter, today: date | None) -> bool:
    done = one.closing.at if one.closing is not None else None
    if one.matter.correction is not None and one.state == "corrected":
        done = one.matter.correction.at
    return today is None or done is None or (today - done.date()).days <= SHOWN_DAYS


def _order(one: OpenMatter) -> tuple[bool, bool, float, int, str]:
    began = one.matter.began
    return (
        not one.stands,
        not one.matter.stop,
        -_at(began),
        MATTER_KINDS.index(one.matter.kind),
        one.id,
    )


def _turn(one: MatterEvent) -> tuple[int, float, str]:
    return one.turn, _at(one.at), one.id


def _at(moment: datetime | None) -> float:
    """A moment as a number that sorts as moments do, the same on every machine; one that is not
    known comes first, one without a zone counts as UTC."""
    if moment is None:
        return float("-inf")
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
