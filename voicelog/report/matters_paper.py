"""The open matters of a dog, or of all, as a section of a paper and as a paper of their own."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from voicelog.analysis.open_matters import OpenMatter
from voicelog.report.paper import Paper, PaperLine, PaperSection, SoundReference
from voicelog.report.wording.matters import (
    MATTERS_LINK,
    MATTERS_PAGE,
    NO_MATTERS,
    beside_mark,
    closing_asks,
    matter_words,
    whose_words,
)
from voicelog.report.words import Face, clean, clock, clock_if_timed, date_words, sentence

__all__ = [
    "ListsOfMatters",
    "MatterSources",
    "SourcesOf",
    "build",
    "heading",
    "matter_line",
    "matters_link",
    "matters_section",
    "sections_of",
]


def matters_section(found: Sequence[OpenMatter], face: Face = "terminal") -> PaperSection:
    """The matters that are shown, those that stand first; without lines where there is none. `face`
    is where it is read: the page leads to where they are closed."""
    lines = tuple(matter_line(one, face) for one in found)
    return PaperSection(
        title="Open matters", lines=(*lines, *(matters_link(face) if lines else ()))
    )


def matters_link(face: Face) -> tuple[PaperLine, ...]:
    """A line that leads to where matters are closed, for what is read on the page; else none."""
    return (PaperLine(label="", words=MATTERS_LINK, href=MATTERS_PAGE),) if face == "page" else ()


def matter_line(one: OpenMatter, face: Face = "terminal") -> PaperLine:
    """One matter as a line, in the terminal under the word by which it is closed there. `face` is
    where it is read."""
    return PaperLine(
        label=one.id if face == "terminal" else "",
        words=beside_mark(matter_words(one)) if one.is_stop else matter_words(one),
        mark="stop" if one.is_stop else "caution" if one.stands else "",
        reps=one.matter.rep_ids,
    )


@dataclass(frozen=True, slots=True)
class MatterSources:
    """Where what matters rest on comes from: the file names of the recordings that have sound, by
    id, and the ids of those that were typed."""

    sounds: Mapping[str, str]
    typed: Collection[str] = ()


ListsOfMatters = Iterable[tuple[str, Sequence[OpenMatter]]]
"""Dogs by their names, each with its list."""
SourcesOf = Callable[[Sequence[OpenMatter]], MatterSources]
"""Tells where the matters of a list come from."""


def build(matters: ListsOfMatters, today: date, sources_of: SourcesOf) -> Paper:
    """The lists of dogs as one paper, on the day `today`."""
    refs: dict[str, SoundReference] = {}

    def noted() -> Iterator[tuple[str, Sequence[OpenMatter]]]:
        for dog, found in matters:
            for one in found:
                refs.update(_refs(one))
            yield dog, found

    sections = tuple(sections_of(noted(), sources_of))
    return heading(today).model_copy(update={"sections": sections, "refs": refs})


def heading(today: date) -> Paper:
    """The paper without its lists, for who writes them one by one."""
    return Paper(kind="matters", dog="", title="Open matters", day=date_words(today), sections=())


def sections_of(matters: ListsOfMatters, sources_of: SourcesOf) -> Iterator[PaperSection]:
    """The lists of dogs as sections, each made when it is asked for."""
    some = False
    for dog, found in matters:
        some = True
        sources = sources_of(found)
        lines = [line for one in found for line in (matter_line(one), _source_line(one, sources))]
        none = PaperLine(label="", words=NO_MATTERS)
        yield PaperSection(title=whose_words(dog), lines=(*lines,) or (none,))
    if not some:
        none_at_all = PaperLine(label="", words=NO_MATTERS)
        yield PaperSection(title="All dogs", lines=(none_at_all,))


def _source_line(one: OpenMatter, sources: MatterSources) -> PaperLine:
    """Where it is to be heard, and whom its closing has to name."""
    sound = None if one.deleted else sources.sounds.get(one.matter.recording)
    asks = closing_asks(one.matter) if one.stands else ""
    if sound is not None and one.matter.recording in sources.typed:
        source = f"typed notes: {clean(sound)}"
    else:
        source = "no sound any more" if sound is None else _sound(one, sound)
    said = [source, f"to close it, name {asks}" if asks else ""]
    return PaperLine(label="", words=sentence("; ".join(filter(None, said))), level=1)


def _sound(one: OpenMatter, name: str) -> str:
    return f"sound: {clean(name)}, {clock(one.matter.start_s)} to {clock(one.matter.end_s)}"


def _refs(one: OpenMatter) -> dict[str, SoundReference]:
    """Where each rep is, as far as the matter knows: where the matter is."""
    matter = one.matter
    return {
        rep: SoundReference(
            session=matter.session,
            day=date_words(one.day),
            number=number,
            at=clock_if_timed(matter.start_s, matter.end_s),
            recording=matter.recording,
            start_s=matter.start_s,
            end_s=matter.end_s,
        )
        for rep, number in zip(matter.rep_ids, matter.reps, strict=False)
    }
