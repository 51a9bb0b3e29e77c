"""Papers over weeks: how a dog goes on, its next session, all dogs, and the owner's report."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

from voicelog.analysis import kennel
from voicelog.app.dog_history import dog_history
from voicelog.app.open_log import settings_in_force
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import sessions_of_dog
from voicelog.app.unread_lines import harmful_lines, unread_lines_of
from voicelog.report import kennel_paper, owner_report, plan_paper, progress_paper
from voicelog.report.owner_pdf import pdf
from voicelog.report.paper import Paper, SoundReference
from voicelog.report.paper_html import Link
from voicelog.report.words import Face
from voicelog.store import Log

__all__ = [
    "dog_plan",
    "dog_progress",
    "dog_progress_json",
    "dog_questions",
    "kennel_overview",
    "owner_pdf",
    "sound_links",
]


def dog_progress(
    catalog: SessionCatalog,
    name: str,
    today: date,
    settings: Path | None = None,
    face: Face = "terminal",
) -> Paper:
    """How a dog goes on: levels, calls, times, what it is ready for.

    Args:
        name: the dog, without regard to letter case.
        today: the day as of which it is said.
        settings: the settings file; None: the log's own, or the defaults.
        face: where it is read.

    Raises:
        NoSessionsError: the log has no session of it.
        SettingsError: a line of the settings is not good.
    """
    found = dog_history(catalog, name, today, settings)
    unread = unread_lines_of(catalog, found.dog.name)
    return progress_paper.build(
        found.digests, found.dog, found.rules, today, found.matters, face, unread
    )


def dog_progress_json(
    catalog: SessionCatalog, name: str, today: date, settings: Path | None = None
) -> str:
    """The results behind `dog_progress` as JSON, with the reps behind every number."""
    found = dog_history(catalog, name, today, settings)
    return progress_paper.as_json(found.digests, found.dog, found.rules, today, found.matters)


def dog_questions(
    catalog: SessionCatalog, name: str, today: date, settings: Path | None = None
) -> Paper:
    """What a trainer asks her data of a dog, each with an interval or why it has none; arguments
    and errors as for `dog_progress`."""
    found = dog_history(catalog, name, today, settings)
    return progress_paper.build_questions(found.digests, found.dog, found.rules, today)


def dog_plan(
    catalog: SessionCatalog,
    name: str,
    today: date,
    settings: Path | None = None,
    face: Face = "terminal",
) -> Paper:
    """A dog's next session; the dog may be new, if it is on the roster. Else as `dog_progress`."""
    found = dog_history(catalog, name, today, settings, may_be_new=True)
    unread = unread_lines_of(catalog, found.dog.name)
    return plan_paper.build(
        found.digests, found.dog, found.rules, today, found.matters, face, unread
    )


def owner_pdf(
    catalog: SessionCatalog,
    name: str,
    today: date,
    settings: Path | None = None,
    *,
    ring: str = "",
    collar: owner_report.Collar | None = None,
) -> tuple[str, bytes]:
    """The owner's report on a dog: the dog's name, and two pages as PDF.

    Args:
        ring: whom the owner rings, a name and a number.
        collar: whether the collar goes home; None: the report says nothing of it.

    Raises:
        UsageError: the library that makes it is not installed.
        NoSessionsError, SettingsError: as `dog_progress`.
    """
    found = dog_history(catalog, name, today, settings)
    report = owner_report.build(
        found.digests,
        found.dog,
        found.rules,
        today,
        found.matters,
        ring=ring,
        collar=collar,
        not_understood=sum(row.counts.get("unread", 0) for row in sessions_of_dog(catalog, name)),
    )
    return found.dog.name, pdf(report)


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Without a look for garbage in circles meanwhile: half a million objects are read for a large
    kennel, none of them in a circle, and all of them were gone through every time. Around a whole
    function, so that they are gone when it ends."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@_no_collecting()
def kennel_overview(
    catalog: SessionCatalog, today: date, settings: Path | None = None, face: Face = "terminal"
) -> Paper:
    """How all dogs stand: what to see first, who was worked, is due, is stuck; `face` is where it
    is read.

    Raises:
        SettingsError: a line of the settings is not good.
    """
    digests = catalog.planned()
    rules = settings_in_force(catalog.log, settings)
    criteria = {"": rules, **{name: rules.for_dog(name) for name in rules.dog}}
    matters = catalog.matters(today)
    found = kennel.kennel(digests, catalog.log.roster().dogs, criteria, today, matters)
    return kennel_paper.build(found, digests, rules, face, harmful_lines(catalog))


def sound_links(log: Log) -> Link:
    """What gives a rep the address of its sound: the file in the log's folder, and the time in it.

    The times are from 0.5 s before the rep to its end (W3C Media Fragments, `#t=start,end`).
    """
    sounds = {
        one.id: (log.folder / one.sound).resolve().as_uri()
        for one in log.each_recording()
        if one.sound is not None and not log.locked
    }

    def link(ref: SoundReference) -> str | None:
        url = sounds.get(ref.recording)
        return None if url is None else f"{url}#t={max(0.0, ref.start_s - 0.5):.1f},{ref.end_s:.1f}"

    return link
