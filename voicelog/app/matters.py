"""Open matters: the list of one dog or all, and what a person does about one, typed and named.

The command and the page both come here. Nothing said in the field does: by voice a matter can only
be acknowledged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from uuid import uuid4

from pydantic import ValidationError

from voicelog.analysis.open_matters import OpenMatter, matter_version
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.typed_lines import TYPED
from voicelog.model import MatterEvent, UsageError, VoicelogError
from voicelog.model.matters import NEEDS_PROFESSIONAL, MatterDeed
from voicelog.model.names import name_key
from voicelog.report.wording.matters import matter_name
from voicelog.report.words import clean
from voicelog.safety.advice import PROFESSIONAL
from voicelog.store.tombstones import dog_id

__all__ = [
    "MatterRequest",
    "close_matters",
    "dog_matters",
    "every_matter",
    "reopen_matters",
    "sound_names",
    "typed_recordings",
]


_NAME_LETTERS = 3
"""Letters of the name of who was consulted, at least."""


def dog_matters(catalog: SessionCatalog, dog: str, today: date | None) -> tuple[OpenMatter, ...]:
    """The list of one dog, without regard to letter case; empty where there is nothing."""
    return next(iter(catalog.matters(today, dog).values()), ())


def every_matter(
    catalog: SessionCatalog, dog: str | None, today: date | None
) -> dict[str, tuple[OpenMatter, ...]]:
    """The lists of every dog that has one, or of the dog named, those with a stop first.

    Raises:
        VoicelogError: the log knows no such dog.
    """
    found = catalog.matters(today)
    if dog is not None:
        known = [*catalog.dogs(), *(one.name for one in catalog.log.roster().dogs)]
        asked = {name_key(dog), dog_id(dog)}  # of a deleted dog only that is left
        name = next((one for one in (*known, *found) if name_key(one) in asked), None)
        if name is None:
            have = ", ".join(dict.fromkeys(filter(None, known))) or "none yet"
            raise VoicelogError(
                f"There is no dog '{clean(dog)}' in the log, which has {have}; correct the name."
            )
        return {name: dog_matters(catalog, name, today)}
    return dict(
        sorted(found.items(), key=lambda pair: (not any(one.is_stop for one in pair[1]), pair[0]))
    )


def sound_names(catalog: SessionCatalog) -> dict[str, str]:
    """The file names of the recordings that have sound, by id."""
    log = catalog.log
    return {
        one.id: one.file_name or one.id[:12] for one in log.each_recording() if log.sound_of(one)
    }


def typed_recordings(catalog: SessionCatalog) -> frozenset[str]:
    """The ids of the recordings that were typed. `catalog` is that of the log."""
    return frozenset(one.id for one in catalog.log.each_recording() if one.listeners == (TYPED,))


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
    every = [one for some in catalog.matters().values() for one in some]
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
