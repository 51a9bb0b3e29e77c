"""Whose a breath is: one that calls another dog is not this dog's work.

"Wren here, level nine, came" in Bracken's session is either a word misheard, a shout at a dog
that looks on, or a switch of dogs that was forgotten. None of these is a rep of Bracken for
sure, and only a person knows which it is: the dog is never guessed. So all that is told in
that breath is doubtful until the entry is moved to the dog it was said of, which may be this
one; that the words were understood as she said them does not settle it.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from voicelog.grammar.grammar import normalize
from voicelog.model import Dog, Entry, Roster
from voicelog.model.names import name_key

__all__ = ["VoiceCall", "dogs_named_in", "entries_naming_other_dogs", "is_pause", "mark_doubtful"]

ADJACENT_S = 1.5
"""Silence (s) between utterances up to which they may be one breath; common practice, no source."""
_PARTS = frozenset({"session", "edit"})


class VoiceCall(NamedTuple):
    """A dog called by voice: by its name, where that was said, with a cue, where one was."""

    dog: str | None
    cue: str | None = None


def entries_naming_other_dogs(
    dog: Dog,
    calls: Mapping[str, Sequence[VoiceCall]],
    entries: Sequence[Entry],
    placed: Container[str],
    roster: Roster,
) -> dict[str, tuple[str, ...]]:
    """The entries in a breath that calls another dog than `dog`: which dogs that may be.

    `calls` are those of each entry's id, `entries` all of the session in order of time, and
    `placed` those that did something. An utterance belongs to its neighbours' breath unless it
    calls this very dog, or is about the session or about what was said before.
    """
    found: dict[str, tuple[str, ...]] = {}
    for place, entry in enumerate(entries):
        if entry.id not in calls:
            continue
        others = _others(dog, calls[entry.id], roster)
        if not others or entry.dog == dog.name:
            continue
        if entry.status != "rejected" and entry.dog is None:
            found[entry.id] = others
        for step in (1, -1):
            last, at = entry, place + step
            while 0 <= at < len(entries):
                near = entries[at]
                own = any(_is_own(dog, call, roster) for call in calls.get(near.id, ()))
                parted = any(phrase.kind in _PARTS for phrase in near.phrases)
                if is_pause(last, near) or own or parted:
                    break
                if near.id in placed and near.dog is None:
                    found.setdefault(near.id, others)
                last, at = near, at + step
    return found


def is_pause(one: Entry, other: Entry) -> bool:
    """Whether two entries, `one` and `other`, are too far apart to be of one breath."""
    early, late = (one, other) if one.start_s <= other.start_s else (other, one)
    return late.start_s - early.end_s > ADJACENT_S


def mark_doubtful(entries: Sequence[Entry], others: Container[str]) -> tuple[Entry, ...]:
    """The same entries, those in `others` doubtful, whoever has read their words."""
    return tuple(
        entry.model_copy(update={"status": "doubtful"})
        if entry.id in others and entry.status == "accepted"
        else entry
        for entry in entries
    )


def dogs_named_in(words: str, roster: Roster) -> list[VoiceCall]:
    """The dogs of the roster whose names are among words that are no note."""
    spoken = f" {normalize(words)} "
    names = ((dog.name, _said(dog.name)) for dog in roster.dogs)
    return [VoiceCall(name) for name, said in names if said and f" {said} " in spoken]


@lru_cache(maxsize=10_000)
def _said(name: str) -> str:
    """A name as it is said; a kennel of hundreds is gone through at each word that is no note."""
    return normalize(name)


def _others(dog: Dog, calls: Sequence[VoiceCall], roster: Roster) -> tuple[str, ...]:
    """The other dogs that are called; none as long as no dog is named that these could be other
    than. A name says which dog it is, whatever cue is said with it."""
    if not dog.name:
        return ()
    names: dict[str, None] = {}
    for call in calls:
        if call.dog is not None:
            if name_key(call.dog) != name_key(dog.name):
                names[call.dog] = None
        elif call.cue not in dog.cues:
            names |= dict.fromkeys(one.name for one in roster.dogs if call.cue in one.cues)
    return tuple(names)


def _is_own(dog: Dog, call: VoiceCall, roster: Roster) -> bool:
    """Whether a call is of this dog and could be of no other."""
    if call.dog is not None:
        return name_key(call.dog) == name_key(dog.name)
    return call.cue in dog.cues and not any(
        call.cue in one.cues for one in roster.dogs if name_key(one.name) != name_key(dog.name)
    )
