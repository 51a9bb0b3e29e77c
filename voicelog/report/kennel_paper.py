"""The kennel on one page: what the head trainer should see, who was worked today and who not
lately, all dogs, levels by handler, litters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from voicelog.analysis.kennel import DogStatus, HandlerLevel, Kennel
from voicelog.analysis.session_digest import SessionDigest
from voicelog.report.paper import FEW_REPS, Paper, PaperLine, PaperSection, refs_of
from voicelog.report.plan_paper import not_counted_line
from voicelog.report.session_plot_data import STRIP_DAYS, strip_figure
from voicelog.report.wording.matters import MATTERS_PAGE, beside_mark, matters_place_words
from voicelog.report.wording.reasons import litter_words, one_line, reason_words
from voicelog.report.wording.story import row_story_words
from voicelog.report.words import Face, clean, counted, date_words
from voicelog.safety.settings import Settings, changed

__all__ = ["build"]

_NO_DOGS: Mapping[Face, str] = {
    "terminal": "None yet. Add one: voicelog dogs put NAME.",
    "page": "None yet.",
}


_NO_DOG = "no dog"
_NOTHING_UNREAD: Mapping[str, str] = MappingProxyType({})


def build(
    found: Kennel,
    session_digests: Mapping[str, Sequence[SessionDigest]],
    settings: Settings,
    face: Face = "terminal",
    unread: Mapping[str, str] = _NOTHING_UNREAD,
) -> Paper:
    """The kennel as a paper. `session_digests` are those that `found` rests on, `settings` those in
    force, `face` is where it is read, `unread` what is said by dog ("" for none named) of typed
    lines that were not understood and may tell of harm."""
    sections = tuple(
        section
        for section in (
            _see(found, face, unread),
            _named(found.dogs),
            _weeks(found, session_digests),
            PaperSection(title="All dogs", lines=tuple(map(_line, found.dogs))),
            _handlers(found.handlers),
            PaperSection(
                title="Litters",
                lines=tuple(
                    PaperLine(
                        label=clean(one.name), words=litter_words(one), few=one.first_call is None
                    )
                    for one in found.litters
                ),
            ),
        )
        if section.lines
    )
    if not found.dogs:
        none = PaperLine(label="dogs", words=_NO_DOGS[face])
        sections = (PaperSection(title="Kennel", lines=(none,)),)
    return Paper(
        kind="kennel",
        dog="",
        title="The kennel",
        day=date_words(found.day),
        sections=sections,
        refs=refs_of(sections, (one for some in session_digests.values() for one in some)),
        changed=changed(settings),
    )


def _see(found: Kennel, face: Face, unread: Mapping[str, str]) -> PaperSection:
    lines = []
    if found.no_dog:
        words = (
            f"{counted(found.no_dog, 'matter')} open of notes that name no dog: no dog's paper "
            f"tells of it until you say whose: {matters_place_words('', face)}."
        )
        lines.append(
            PaperLine(
                label=_NO_DOG,
                words=words,
                mark="stop" if found.no_dog_stop else "caution",
                href=MATTERS_PAGE if face == "page" else "",
            )
        )
    for one in found.dogs:
        for reason in one.see:
            stop = one.plan is None or (reason.matter is not None and reason.matter.is_stop)
            lines.append(
                PaperLine(
                    label=clean(one.dog),
                    words=beside_mark(reason_words(reason)) if stop else reason_words(reason),
                    mark="stop" if stop else "caution",
                    reps=reason.reps,
                )
            )
        if one.more:
            place = matters_place_words(clean(one.dog), face)
            words = f"{counted(one.more, 'more matter')} open: {place}."
            lines.append(
                PaperLine(
                    label=clean(one.dog),
                    words=words,
                    mark="stop" if one.more_stop else "caution",
                    href=MATTERS_PAGE if face == "page" else "",
                )
            )
    for dog, words in unread.items():
        lines += not_counted_line(dog, words, face, clean(dog) or _NO_DOG)
    if not lines:
        lines = [PaperLine(label="", words="Nothing: no stop, no stress, no dog stuck.")]
    return PaperSection(title="To see first", lines=tuple(lines))


def _named(dogs: Sequence[DogStatus]) -> PaperSection:
    """Who was worked today and who was not worked lately, by name, the longest waiting first."""
    today = ", ".join(clean(one.dog) for one in dogs if one.today)
    waiting = sorted(
        (one for one in dogs if one.due),
        key=lambda one: -1 if one.days_since is None else -one.days_since,
    )
    due = ", ".join(f"{clean(one.dog)} ({_waiting(one)})" for one in waiting)
    return PaperSection(
        title="Today",
        lines=(
            PaperLine(label="worked today", words=f"{today or 'none'}."),
            PaperLine(label="not worked lately", words=f"{due or 'none'}."),
        ),
    )


def _weeks(found: Kennel, session_digests: Mapping[str, Sequence[SessionDigest]]) -> PaperSection:
    """The calendar strip, and how much was worked in its weeks."""
    figure = strip_figure(found, session_digests)
    if figure is None:
        return PaperSection(title="Last weeks")
    points = [one.at for row in figure.rows for one in row.points]
    worked = sum(bool(row.points) for row in figure.rows)
    words = (
        f"{counted(len(points), 'session')} with {worked} of {counted(len(figure.rows), 'dog')} "
        f"in {STRIP_DAYS // 7} weeks; a stop in {sum(one.stopped for one in points)}."
    )
    return PaperSection(
        title="Last weeks", lines=(PaperLine(label="worked", words=words),), figure=figure
    )


def _line(one: DogStatus) -> PaperLine:
    since = "" if one.days_since is None else f" ({_ago(one.days_since)})"
    open_ = None if one.plan is None else one.open
    told = "Not worked out." if one.story is None else row_story_words(one.story, open_)
    onward = "not known, no button" if one.plan is None else one_line(one.plan)
    return PaperLine(
        label=clean(one.dog),
        words=f"{told} Last {_last(one)}{since}; next: {onward}.",
        mark="stop" if one.stopped or (one.plan and not one.plan.session) else "",
        few=one.story is None or not one.story.enough,
    )


def _last(one: DogStatus) -> str:
    if one.plan is None:
        return "not known"
    return date_words(one.last) if one.sessions else "never"


def _waiting(one: DogStatus) -> str:
    """For how long a dog was not worked."""
    if one.days_since is not None:
        return f"for {counted(one.days_since, 'day')}"
    return "no day known" if one.sessions else "never worked"


def _ago(days: int) -> str:
    if days < 0:
        return "dated after today"
    return "today" if days == 0 else f"{counted(days, 'day')} ago"


def _handlers(handlers: Sequence[HandlerLevel]) -> PaperSection:
    lines = []
    for one in handlers:
        level = "no level answered" if one.answered is None else f"answers at {one.answered:g}"
        strong = f", {counted(one.strong, 'strong sign')}" if one.strong else ""
        lines.append(
            PaperLine(
                label=f"{clean(one.dog)}, {one.drill or 'drill not said'}, {one.mode}",
                words=f"{clean(one.handler)}: {level}, {counted(one.of, 'rep')}{strong}.",
                few=one.of < FEW_REPS,
                reps=one.reps,
            )
        )
    note = "The middle level of the reps answered; only dogs that more than one worked."
    return PaperSection(title="By handler", lines=tuple(lines), note=note)
