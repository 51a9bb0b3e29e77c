"""Open matters: the list of one dog or all, and what a person does about one, typed and named.

The command and the page both come here. Nothing said in the field does: by voice a matter can only
be acknowledged.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import chain
from uuid import uuid4

from pydantic import ValidationError

from voicelog.analysis.open_matters import OpenMatter, matter_version, session_matter_id
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.typed_lines import TYPED
from voicelog.model import MatterEvent, UsageError, VoicelogError
from voicelog.model.matters import MATTER_KINDS, NEEDS_PROFESSIONAL, MatterDeed
from voicelog.model.names import name_key
from voicelog.report.matters_paper import MatterSources
from voicelog.report.wording.matters import matter_name
from voicelog.report.words import clean
from voicelog.safety.advice import PROFESSIONAL
from voicelog.store.tombstones import dog_id

__all__ = [
    "MatterRequest",
    "close_matters",
    "dog_matters",
    "dogs_of_matters",
    "every_matter",
    "reopen_matters",
    "sources_of",
]


_NAME_LETTERS = 3
"""Letters of the name of who was consulted, at least."""


def dog_matters(catalog: SessionCatalog, dog: str, today: date | None) -> tuple[OpenMatter, ...]:
    """The list of one dog, without regard to letter case; empty where there is nothing."""
    return next(iter(catalog.matters(today, dog).values()), ())


def every_matter(
    catalog: SessionCatalog, dog: str | None, today: date | None
) -> Iterator[tuple[str, tuple[OpenMatter, ...]]]:
    """The lists of every dog that has one, or of the dog named, those with a stop first, each made
    when it is asked for.

    Raises:
        VoicelogError: the log knows no such dog.
    """
    if dog is not None:
        return iter([_named_dog(catalog, dog, today)])
    lists = catalog.matters(today)
    return (
        (name, lists[name]) for name in sorted(lists, key=lambda one: (not lists.stops(one), one))
    )


def _named_dog(
    catalog: SessionCatalog, dog: str, today: date | None
) -> tuple[str, tuple[OpenMatter, ...]]:
    known = [*catalog.dogs(), *(one.name for one in catalog.log.roster().dogs)]
    name = next((one for one in known if name_key(one) == name_key(dog)), None)
    if name is not None:
        return name, dog_matters(catalog, name, today)
    for left in (dog, dog_id(dog)):  # of a deleted dog only that is left
        for known_by, found in catalog.matters(today, left).items():
            return known_by, found
    have = ", ".join(dict.fromkeys(filter(None, known))) or "none yet"
    raise VoicelogError(
        f"There is no dog '{clean(dog)}' in the log, which has {have}; correct the name."
    )


def dogs_of_matters(catalog: SessionCatalog, ids: Collection[str]) -> list[str] | None:
    """The dogs that matters of these ids are of, by the sessions that the `catalog` knows of before
    anything is derived anew; None where one is of a session that it does not know."""
    left = {one.casefold() for one in ids}
    dogs: dict[str, None] = {}
    for key, dog in catalog.log.session_dogs() if left else ():
        found = left.intersection(session_matter_id(key, kind) for kind in MATTER_KINDS)
        if found:
            left -= found
            dogs[dog] = None
    return None if left else list(dogs)


def sources_of(catalog: SessionCatalog, found: Iterable[OpenMatter]) -> MatterSources:
    """Where these matters come from. `catalog` is that of the log."""
    log = catalog.log
    files = log.files({one.matter.recording for one in found})
    return MatterSources(
        {one.id: one.file_name or one.id[:12] for one in files if log.sound_path(one.sound)},
        frozenset(one.id for one in files if one.listeners == (TYPED,)),
    )


@dataclass(frozen=True, slots=True)
class MatterRequest:
    """Who does it, why, and, for skin, a growl, a snap or a bite, which professional was asked.

    `seen` is the version (`matter_version`) of each matter by its id, where a page shows them
    before the deed: what came in meanwhile is not closed unseen.
    """

    who: str
    reason: str
    consulted: str = ""
    seen: Mapping[str, str] = field(default_factory=dict)


def close_matters(
    catalog: SessionCatalog, ids: Sequence[str], request: MatterRequest
) -> tuple[OpenMatter, ...]:
    """Close matters by their ids, all or none; how they stand then.

    Raises:
        VoicelogError: there is none of that id, it does not stand, or it changed since it was seen.
        UsageError: a name or a reason is missing, or is too long; the reason is one word alone, or
            the name of who was consulted too short to be one.
    """
    return _do(catalog, "close", ids, request)


def reopen_matters(
    catalog: SessionCatalog, ids: Sequence[str], request: MatterRequest
) -> tuple[OpenMatter, ...]:
    """Open closed matters again, all or none; how they stand then. Raises as `close_matters`."""
    return _do(catalog, "reopen", ids, request)


# --- within -----------------------------------------------------------------------------


def _do(
    catalog: SessionCatalog, do: MatterDeed, ids: Sequence[str], request: MatterRequest
) -> tuple[OpenMatter, ...]:
    chosen = [_named(catalog, name) for name in dict.fromkeys(one.casefold() for one in ids)]
    if not chosen:
        raise UsageError("No matter was named; 'voicelog matters list' shows their ids.")
    for one in chosen:
        _may_be_done(do, one, request)
    catalog.log.append_matters([_event(do, one, request) for one in chosen])
    return tuple(_named(catalog, one.id) for one in chosen)


def _named(catalog: SessionCatalog, name: str) -> OpenMatter:
    lists = catalog.matters()
    likely = dogs_of_matters(catalog, [name]) or ()
    every = (one for dog in chain(likely, lists) for one in lists.get(dog, ()))
    found = next((one for one in every if one.id == name), None)
    if found is None:
        raise VoicelogError(
            f"There is no matter '{clean(name)}'; 'voicelog matters list' shows those there are."
        )
    return found


def _may_be_done(do: MatterDeed, one: OpenMatter, request: MatterRequest) -> None:
    what = f"{one.id} ({matter_name(one.matter)})"
    seen = request.seen.get(one.id)
    if seen is not None and seen != matter_version(one.matter):
        raise VoicelogError(
            f"{what} was changed since it was shown, so nothing was done; check it again."
        )
    if do == "close" and not one.stands:
        raise VoicelogError(f"{what} is {one.state} already, so nothing was done.")
    if do == "reopen" and one.state != "closed":
        raise VoicelogError(f"{what} is {one.state}, not closed, so nothing was done.")
    if not request.who.strip() or not request.reason.strip():
        raise UsageError(
            f"{what} needs a name and a reason, and the "
            f"{'reason' if request.who.strip() else 'name'} is empty; type both."
        )
    if do != "close":
        return
    if len([word for word in request.reason.split() if any(map(str.isalnum, word))]) < 2:
        raise UsageError(
            f"{what} needs a reason of more than one word, and found '{clean(request.reason)}'; "
            "type what was done about it."
        )
    asked = request.consulted.strip()
    if one.matter.kind in NEEDS_PROFESSIONAL and not asked:
        raise UsageError(
            f"{what} is closed only once {PROFESSIONAL} was asked; type the name of who was."
        )
    if one.matter.kind in NEEDS_PROFESSIONAL and sum(map(str.isalpha, asked)) < _NAME_LETTERS:
        raise UsageError(
            f"{what} needs the name of {PROFESSIONAL}, and '{clean(asked)}' is none: it has fewer "
            f"than {_NAME_LETTERS} letters; type the name of who was asked."
        )


def _event(do: MatterDeed, one: OpenMatter, request: MatterRequest) -> MatterEvent:
    try:
        return MatterEvent(
            id=f"m-{uuid4().hex}",
            do=do,
            kind=one.matter.kind,
            entries=one.matter.entries,
            rules=one.matter.rules,
            names=one.matter.names,
            who=clean(request.who),
            reason=clean(request.reason),
            consulted=clean(request.consulted),
        )
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"])) or "what was typed"
        raise UsageError(
            f"Found {where} that cannot be kept ({first['msg']}); type it shorter."
        ) from error
