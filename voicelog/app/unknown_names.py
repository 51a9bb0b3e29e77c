"""Names that the log does not know, gathered over its sessions, and answering for them.

Of a dog, a handler or a cue, in lines that were typed; and of dogs and handlers that were named
aloud, where all but the name was heard (`Verdict.stranger`): such names are one where their phones
are like. A name is never guessed: what a line with one says waits, and is kept, until a person says
whose it is. The answer reads all of its lines
anew, with the history and the undo of any other reading; a name that came onto the roster since is
then known to those recordings too, and so is what else of theirs is a note with it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby

from rapidfuzz.distance import OSA

from voicelog.app.commit import commit_change
from voicelog.app.grammars import grammar_of, grammar_with
from voicelog.app.review.edit_history import new_step
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_entries import entries_of
from voicelog.app.typed_lines import TYPED
from voicelog.grammar.grammar import Grammar, normalize, optional_grammars_of
from voicelog.grammar.strange_names import NameKind, strange_word
from voicelog.grammar.typed_note import note_of
from voicelog.model import Dog, Entry, EntryOutput, Event, Phrase, Reading, Roster, UsageError
from voicelog.model.names import name_key
from voicelog.model.phrases import HandlerPhrase, SessionDogPhrase
from voicelog.recognition.name_verification import sound_likeness, spelled
from voicelog.report.wording.unknown_names import (
    StrangeName,
    StrangeNamePlace,
    answered_lines,
)
from voicelog.report.words import clock_if_timed
from voicelog.session.entries import fold
from voicelog.store import CacheHeading, SessionFilter, StoredRecording

__all__ = ["answer_name", "strange_names"]

_SAME_NAME = 0.66
"""How like the phones of two names that were heard must be to be asked about as one (0 to 1). Names
of ten synthetic voices in quiet (tests/bench/units.py, `strangers`, test split, on which it was
chosen): 44% of 199 pairs of one name are, 0.5% of 5,366 pairs of two; from 0.6 on 72% and 3%. One
question too many costs an answer, one too few a wrong record."""
_LEAST = {"dog": 1, "handler": 1, "cue": 2}
"""How often a name is met before it is asked about: a cue is said again and again, and one word
before a note may be any (common practice, no source)."""


def strange_names(catalog: SessionCatalog) -> tuple[StrangeName, ...]:
    """The names that the log does not know, each once, the oldest first. `catalog` is that of the
    log."""
    places: dict[tuple[str, NameKind], list[StrangeNamePlace]] = {}
    for name, kind, place in _places(catalog):
        if place.sound:
            name = next(
                (
                    other
                    for (other, of), there in places.items()
                    if of == kind and _sounds_like(there, place.sound)
                ),
                name,
            )
        places.setdefault((name, kind), []).append(place)
    known = _known(catalog.log.roster())

    def likest(name: str, kind: NameKind, at: Sequence[StrangeNamePlace]) -> tuple[str, ...]:
        """Those that were read in its place first: a name may have been said without care."""

        def key(one: str) -> tuple[bool, float]:
            read = any(place.sound and normalize(one) in place.said for place in at)
            return not read, OSA.normalized_distance(name, one.casefold())

        return tuple(sorted(known[kind], key=key))

    return tuple(
        StrangeName(name, kind, tuple(at), likest(name, kind, at))
        for (name, kind), at in places.items()
        if len(at) >= _LEAST[kind]
    )


def answer_name(
    catalog: SessionCatalog, name: str, known: str, who: str, now: Callable[[], datetime]
) -> tuple[str, ...]:
    """Say whose a name is, for all lines with it; what changed, a line each.

    All of it, or of each recording nothing; what is changed in one recording is one step, which
    one undo takes back.

    Args:
        catalog: that of the log.
        name: as it was typed, or as it is asked about.
        known: the dog, handler or cue of today's roster that it is.
        who: who says so.
        now: the clock.

    Raises:
        UsageError: no line that waits has that name, the roster has no such other, or no line is a
            note with it.
        ConcurrentChangeError: somebody else changed a recording meanwhile.
    """
    found = next((one for one in strange_names(catalog) if one.name == normalize(name)), None)
    if found is None:
        raise UsageError(
            f"No line waits with the name '{name[:40]}'; 'voicelog questions' shows the names that "
            "the log does not know."
        )
    roster = catalog.log.roster()
    meant = next(
        (one for one in _known(roster)[found.kind] if name_key(one) == name_key(known)), None
    )
    if meant is None:
        raise UsageError(_no_such(found.kind, known, _known(roster)[found.kind]))
    changed: list[StrangeNamePlace] = []
    for recording, places in groupby(found.places, key=lambda place: place.recording):
        changed += _read(catalog, recording, found, list(places), meant, who, now())
    if not changed:
        raise UsageError(
            f"No line with '{found.name}' becomes a note with '{known[:40]}' in its place; correct "
            "each with 'voicelog correct'."
        )
    return answered_lines(found, meant, changed)


# --- within -----------------------------------------------------------------------------


def _known(roster: Roster) -> Mapping[NameKind, tuple[str, ...]]:
    """What may be named today."""
    dogs = tuple(dog.name for dog in roster.dogs)
    return {"dog": dogs, "handler": roster.handlers, "cue": roster.cues}


_PUT: Mapping[NameKind, str] = {
    "dog": "voicelog dogs put NAME",
    "handler": "voicelog dogs handler NAME",
    "cue": "voicelog dogs put NAME --cue WORD",
}


def _sounds_like(places: list[StrangeNamePlace], sound: str) -> bool:
    heard = next((place.sound for place in places if place.sound), "")
    return bool(heard) and sound_likeness(heard, sound) >= _SAME_NAME


def _no_such(kind: NameKind, known: str, have: tuple[str, ...]) -> str:
    return (
        f"There is no {kind} '{known[:40]}' on the roster, which has "
        f"{', '.join(have) or 'none yet'}; put it there first: {_PUT[kind]}."
    )


def _read(
    catalog: SessionCatalog,
    recording: str,
    found: StrangeName,
    places: list[StrangeNamePlace],
    meant: str,
    who: str,
    now: datetime,
) -> list[StrangeNamePlace]:
    """Read the lines of one recording anew that are notes now, in one step; which were."""
    log = catalog.log
    kept, seen = log.recording(recording), log.event_seq(recording)
    if kept is None:
        return []
    roster = _with_name(kept.roster, log.roster(), found.kind, meant)
    grammar = grammar_with(roster, optional_grammars_of(kept.grammar))
    step = new_step()
    events: list[Event] = []
    done: list[StrangeNamePlace] = []
    named = {place.entry for place in places}
    for number, place in enumerate(_waiting(catalog, kept, named)):
        words = _note(grammar, place, found.name if place.entry in named else None, meant)
        if words is None:
            continue
        reading = Reading(
            id=f"{step}-{number}",
            utterance=place.entry,
            words=words,
            by="person",
            who=who,
            grammar=grammar.name,
            at=now,
        )
        events.append(reading)
        done.append(place)
    if events:
        commit_change(log, recording, events, seen=seen, roster=roster)
        catalog.bring(recording)
    return done


def _note(grammar: Grammar, place: StrangeNamePlace, name: str | None, meant: str) -> str | None:
    """The note that a line is with `meant` in place of the `name` that it has, if it has one; None
    where it is none."""
    if not place.sound:
        return note_of(grammar, place.said if name is None else _renamed(place.said, name, meant))
    phrases = [_with_meant(one, meant) for one in grammar.interpret(place.said) or ()]
    return grammar.speak(phrases) if phrases else None


def _with_meant(phrase: Phrase, meant: str) -> Phrase:
    match phrase:
        case SessionDogPhrase():
            return replace(phrase, dog=meant)
        case HandlerPhrase():
            return replace(phrase, handler=meant)
        case _:
            return phrase


def _renamed(text: str, name: str, meant: str) -> str:
    parts = r"\W+".join(map(re.escape, name.split()))
    return re.sub(rf"\b{parts}\b", lambda _match: meant, text, count=1, flags=re.IGNORECASE)


def _with_name(then: Roster, today: Roster, kind: NameKind, meant: str) -> Roster:
    """A recording's roster, with a name of today's that it did not have."""
    match kind:
        case "dog" if then.dog(meant) is None and (dog := today.dog(meant)) is not None:
            return then.model_copy(update={"dogs": (*then.dogs, dog)})
        case "handler" if meant not in then.handlers:
            return then.model_copy(update={"handlers": (*then.handlers, meant)})
        case "cue" if meant not in then.cues:
            own = {name_key(dog.name) for dog in today.dogs if meant in dog.cues}
            return then.model_copy(update={"dogs": tuple(_cued(d, own, meant) for d in then.dogs)})
        case _:
            return then


def _cued(dog: Dog, own: set[str], cue: str) -> Dog:
    if name_key(dog.name) not in own:
        return dog
    return dog.model_copy(update={"cues": (*dog.cues, cue)})


def _places(catalog: SessionCatalog) -> Iterator[tuple[str, NameKind, StrangeNamePlace]]:
    """Of what this program derived: what waits to be derived again is not looked through."""
    typed, later = catalog.log.heard_by((TYPED,)), frozenset(catalog.stale())
    heard = catalog.headings(SessionFilter(strange=True)).rows
    to_check = catalog.headings(SessionFilter(check=True)).rows if typed else ()
    rows = {row.key: row for row in (*heard, *to_check)}
    for row in sorted(rows.values(), key=lambda row: (row.moment, row.key)):
        asked = row.recording in typed or row.counts.get("strange")
        if row.dog is None or row.recording in later or not asked:
            continue
        kept = catalog.log.recording(row.recording)
        if kept is None:
            continue
        if row.recording not in typed:
            for kind, place in _heard_of(catalog, row, kept):
                yield spelled(place.sound), kind, place
            continue
        grammar = grammar_of(kept)
        for place in _unread_of(catalog, row):
            strange = strange_word(grammar, place.said)
            if strange is not None:
                yield strange.name, strange.kind, place


def _waiting(
    catalog: SessionCatalog, kept: StoredRecording, named: set[str]
) -> Iterator[StrangeNamePlace]:
    """The lines of a recording that an answer may make notes: all that wait, where it was typed,
    and those that are `named`, where it was heard."""
    for row in catalog.log.derived_get(kept.id):
        if row.dog is None:
            continue
        if kept.listeners == (TYPED,):
            yield from _unread_of(catalog, row)
        else:
            heard = (place for _, place in _heard_of(catalog, row, kept))
            yield from (place for place in heard if place.entry in named)


def _unread_of(catalog: SessionCatalog, row: CacheHeading) -> Iterator[StrangeNamePlace]:
    """The lines of a session that are no notes for sure, and that nobody has read."""
    for entry in entries_of(catalog.line(row.recording), row.key):
        if not entry.voided and entry.by != "person" and entry.status != "accepted":
            yield _place(row, entry, entry.heard)


def _heard_of(
    catalog: SessionCatalog, row: CacheHeading, kept: StoredRecording
) -> Iterator[tuple[NameKind, StrangeNamePlace]]:
    """What was heard in a session of which the name was not known."""
    here = {entry.id for entry in entries_of(catalog.line(row.recording), row.key)}
    grammar = grammar_of(kept)
    for entry in fold(catalog.log.events(kept.id), grammar.interpret):
        if entry.id in here and entry.stranger and not entry.voided:
            of_handler = any(isinstance(one, HandlerPhrase) for one in entry.phrases)
            kind: NameKind = "handler" if of_handler else "dog"
            yield kind, _place(row, entry, entry.reading, entry.stranger)


def _place(
    row: CacheHeading, entry: Entry | EntryOutput, said: str, sound: str = ""
) -> StrangeNamePlace:
    return StrangeNamePlace(
        recording=row.recording,
        dog=row.dog or "",
        day=row.day,
        entry=entry.id,
        at=clock_if_timed(entry.start_s, entry.end_s),
        said=said,
        sound=sound,
    )
