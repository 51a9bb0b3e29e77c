"""Open matters on the page: the list of every dog, each with its sound, and closing one."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, NamedTuple

from voicelog.analysis.open_matters import OpenMatter, matter_version
from voicelog.app.matters import (
    MatterRequest,
    close_matters,
    every_matter,
    reopen_matters,
    sources_of,
)
from voicelog.app.review.errors import BadRequestError
from voicelog.app.review.review_service import ReviewService
from voicelog.model import VoicelogError
from voicelog.report.matters_paper import MatterSources
from voicelog.report.wording.matters import (
    after_closing_words,
    beside_mark,
    closing_asks,
    matter_words,
    whose_words,
)

__all__ = ["ShownMatter", "act_on_matter", "shown_matters"]

_DEEDS = {"close": close_matters, "reopen": reopen_matters}


class ShownMatter(NamedTuple):
    """A matter as the page shows it; `session` and `sound` are "" where they are gone, `asks` whom
    its closing has to name."""

    id: str
    words: str
    stop: bool
    stands: bool
    closed: bool
    asks: str
    version: str
    session: str
    sound: str


def shown_matters(service: ReviewService) -> list[tuple[str, list[ShownMatter]]]:
    """Whose they are, of each dog that has any, and its list."""
    catalog = service.session_catalog
    return [
        (whose_words(dog), _shown_list(some, sources_of(catalog, some)))
        for dog, some in every_matter(catalog, None, service.today())
    ]


def act_on_matter(service: ReviewService, given: Mapping[str, Any], who: str) -> str:
    """Close a matter, or open it again; how it stands then, in words.

    `given` has `do`, the matter's `id`, the `version` that was seen, `reason` and `consulted`.

    Raises:
        BadRequestError: something is missing, or it changed meanwhile; nothing was done.
    """
    deed = _DEEDS.get(str(given.get("do")))
    texts = {name: given.get(name) for name in ("id", "version", "reason", "consulted")}
    if deed is None or not all(isinstance(text, str) for text in texts.values()):
        raise BadRequestError("Found a request that this page does not make; load the page again.")
    name = str(texts["id"])
    request = MatterRequest(
        who, str(texts["reason"]), str(texts["consulted"]), {name: str(texts["version"])}
    )
    try:
        (one,) = deed(service.session_catalog, [name], request)
    except VoicelogError as error:
        raise BadRequestError(str(error)) from error
    return " ".join(filter(None, (matter_words(one), after_closing_words([one]))))


def _shown_list(found: Sequence[OpenMatter], sources: MatterSources) -> list[ShownMatter]:
    heard = {name for name in sources.sounds if name not in sources.typed}
    return [_shown(one, heard) for one in found]


def _shown(one: OpenMatter, heard_in: Collection[str]) -> ShownMatter:
    matter = one.matter
    heard = not one.deleted and matter.recording in heard_in
    sound = f"/sound/{matter.recording}.wav?from={matter.start_s}&to={matter.end_s}"
    return ShownMatter(
        id=one.id,
        words=beside_mark(matter_words(one)) if one.is_stop else matter_words(one),
        stop=one.is_stop,
        stands=one.stands,
        closed=one.state == "closed",
        asks=closing_asks(matter),
        version=matter_version(matter),
        session="" if one.deleted else matter.session,
        sound=sound if heard else "",
    )
