"""What of a recording does not derive is found, so that the rest can be shown: on every device the
same, since it follows from what there is and not from the order in which it came.

A hearing is set aside whole: a session with some of its notes missing would look right. What a
person did is set aside one by one, with what is about it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from voicelog.store import event_log
from voicelog.store.share.hearings import Hearing, KeyedEvent

__all__ = ["ABOUT_ASIDE", "MOST_ASIDE", "Sifted", "sift"]

ABOUT_ASIDE = "it is about what is set aside"
MOST_ASIDE = 8
"""Deeds of people that are looked for in a recording, each with what is about it; with more that do
not derive, the recording is set aside whole."""

Fails = Callable[[Sequence[Hearing], Sequence[KeyedEvent]], str | None]
"""Why a recording with these hearings and deeds of people does not derive; None where it does."""


@dataclass(frozen=True, slots=True)
class Sifted:
    """What is left, and what is set aside with its reason: hearings by their ids, and deeds by the
    ids of their rows."""

    hearings: tuple[Hearing, ...]
    deeds: tuple[KeyedEvent, ...]
    bad_hearings: Mapping[str, str] = field(default_factory=dict)
    bad_deeds: Mapping[str, str] = field(default_factory=dict)


def sift(
    hearings: Sequence[Hearing], deeds: Sequence[KeyedEvent], whole: str | None, fails: Fails
) -> Sifted:
    """What of a recording derives. Where not even one hearing does by itself, or too many deeds do
    not, all is left as it is, for the whole recording to be set aside.

    Args:
        hearings: all of the recording, in an order that is the same everywhere.
        deeds: what people did, and what happened around the sound, in such an order.
        whole: what `fails` says of all of it.
        fails: a pure function.
    """
    everything = Sifted(tuple(hearings), tuple(deeds))
    if whole is None:
        return everything
    reasons = {one.id: fails([one], []) for one in hearings}
    good = [one for one in hearings if reasons[one.id] is None]
    bad_hearings = {name: why for name, why in reasons.items() if why is not None}
    if not good:
        return everything
    left, bad = list(deeds), dict[str, str]()
    for _ in range(MOST_ASIDE + 1):
        if fails(good, left) is None:
            return Sifted(tuple(good), tuple(left), bad_hearings, bad)
        culprit, why = _first_bad(good, left, fails)
        bad[culprit.key] = why
        left = [one for one in left if one.key != culprit.key]
        for one in _about(culprit, left):
            bad[one.key] = ABOUT_ASIDE
        left = [one for one in left if one.key not in bad]
    return everything


def _first_bad(
    hearings: Sequence[Hearing], deeds: Sequence[KeyedEvent], fails: Fails
) -> tuple[KeyedEvent, str]:
    """The deed with which it does not derive any more, and why; without deeds it does."""
    good, bad = 0, len(deeds)
    why = ""
    while bad - good > 1:
        middle = (good + bad) // 2
        if fails(hearings, deeds[:middle]) is None:
            good = middle
        else:
            bad = middle
    why = fails(hearings, deeds[:bad]) or why
    return deeds[bad - 1], why


def _about(culprit: KeyedEvent, left: Sequence[KeyedEvent]) -> list[KeyedEvent]:
    """What is about a deed that goes, directly or not; nothing where another has the same id."""
    gone = {culprit.event.id} - {one.event.id for one in left}
    found: list[KeyedEvent] = []
    grown = True
    while grown:
        more = [one for one in left if one not in found and event_log.about(one.event) in gone]
        found += more
        gone |= {one.event.id for one in more}
        grown = bool(more)
    return found
