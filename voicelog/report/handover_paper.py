"""A dog on one screen, for another handler before a session."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from voicelog.analysis.levels import Ceiling
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan
from voicelog.model import Dog
from voicelog.model.domain import RECALL_WORDS
from voicelog.report.finding_groups import finding_groups
from voicelog.report.matters_paper import matter_line, matters_link
from voicelog.report.paper import LineMark, Paper, PaperLine, PaperSection
from voicelog.report.plan_paper import button_line, skin_lines
from voicelog.report.progress_levels import ceiling_line
from voicelog.report.state_words import VOID
from voicelog.report.summary import Summary
from voicelog.report.wording.matters import NO_MATTERS
from voicelog.report.wording.reasons import one_line, reason_words
from voicelog.report.words import NOT_SAID, clean, counted, date_words, sentence

__all__ = ["build"]

LOWER = "In the next session the lower limits above hold."
CALLS_IN = "come to the handler"
NO_MEANING = "What it asks for is not on the roster: ask its trainer."
NO_SESSION = "No session yet: begin without the button."


def build(
    dog: Dog,
    matters: Sequence[OpenMatter],
    ceiling: Ceiling,
    last: Summary | None,
    planned: Plan,
    today: date,
    *,
    collar: bool = True,
) -> Paper:
    """The screen as a paper.

    Args:
        dog: its profile of today.
        matters: its list of open matters, of which those that are open are shown.
        ceiling: the one in force.
        last: its last session; None where there is none.
        planned: its plan.
        today: the day as of which it is said.
        collar: whether one is part of the work; without it nothing is said of the button.
    """
    stands = tuple(
        matter_line(one, "page").model_copy(update={"reps": ()}) for one in matters if one.stands
    )
    limited = ceiling.none_left or (planned.names_levels and ceiling.level is not None)
    highest = ceiling_line(ceiling)
    if collar and None not in (planned.most, ceiling.level) and planned.most != ceiling.level:
        highest = highest.model_copy(update={"words": f"{highest.words} {LOWER}"})
    button = (
        *((button_line(planned),) if collar else ()),
        *skin_lines(planned),
        *((highest.model_copy(update={"reps": ()}),) if limited else ()),
    )
    sections = (
        PaperSection(
            title="Open matters",
            lines=(*stands, *matters_link("page"))
            if stands
            else (PaperLine(label="", words=NO_MATTERS),),
        ),
        PaperSection(title="Cues", lines=_cues(dog)),
        *((PaperSection(title="Button", lines=button),) if button else ()),
        PaperSection(title="Last session", lines=_last(last)),
        PaperSection(title="Next session", lines=_next(planned)),
    )
    return Paper(
        kind="handover",
        dog=clean(dog.name),
        title=f"Before you work {clean(dog.name)}",
        day=date_words(today),
        sections=sections,
    )


def _cues(dog: Dog) -> tuple[PaperLine, ...]:
    """What to say to the dog, and what it asks for where its trainer has said that."""
    return tuple(
        PaperLine(
            label=clean(cue),
            words=clean(dog.meaning_of(cue)) or (CALLS_IN if cue in RECALL_WORDS else NO_MEANING),
        )
        for cue in dog.cues
    )


def _last(last: Summary | None) -> tuple[PaperLine, ...]:
    if last is None:
        return (PaperLine(label="", words=NO_SESSION),)
    told = {fact.label: fact.value for fact in last.facts if fact.value != NOT_SAID}
    facts = {"when": _when(told), "work": _work(told), "collar": _collar(told)}
    lines = [PaperLine(label=label, words=words) for label, words in facts.items() if words]
    lines += [PaperLine(label="" if place else "counts", words=words)
              for place, words in enumerate(last.counts)]  # fmt: skip
    lines += [
        PaperLine(
            label="" if place else "findings",
            words=words,
            mark=mark,
        )
        for place, (words, mark) in enumerate(_grave(last))
    ]
    return tuple(lines)


def _when(told: Mapping[str, str]) -> str:
    """When it was, how long, where, and who worked the dog."""
    minutes = told.get("minutes", "")
    lasted = f", for {_minutes(minutes)}" if minutes else ""
    return sentence(
        "; ".join(
            (
                f"{told.get('date', 'the day is not known')}{lasted}",
                *_named(told, "place", "handler"),
            )
        )
    )


def _work(told: Mapping[str, str]) -> str:
    """What was worked on, and what held meanwhile."""
    held = _named(told, "distraction", "line", "weather", "health", "on game")
    return sentence("; ".join(filter(None, (told.get("drill"), *held))))


def _collar(told: Mapping[str, str]) -> str:
    """What the dog wore, and how long."""
    how, worn = told.get("collar", ""), told.get("worn", "")
    on = "The dog wore no collar." if how == "none" else sentence(how)
    number, _, unit = worn.partition(" ")
    if unit == "min":
        on += f" It was on the dog for {_minutes(number)}."
    elif worn:
        on += f" How long it was on the dog was {worn}."
    return on.strip()


def _minutes(number: str) -> str:
    if not number.isdecimal():
        return f"{number} min"  # marked as to check
    return counted(int(number), "minute") if int(number) else "less than a minute"


def _named(told: Mapping[str, str], *names: str) -> Iterator[str]:
    return (f"{name}: {told[name]}" for name in names if name in told)


def _grave(last: Summary) -> list[tuple[str, LineMark]]:
    """The findings that weigh, a line for those that are alike, without what was taken back."""
    marks: dict[str, LineMark] = {"stop": "stop", "caution": "caution"}
    groups = finding_groups(last.notices)
    return [
        (one.line, marks[one.severity])
        for one in groups
        if one.severity in marks and one.state != VOID
    ]


def _next(planned: Plan) -> tuple[PaperLine, ...]:
    """The plan in a line, and why where it is no session."""
    words = one_line(planned)
    why = () if planned.session else [o for o in planned.why if o.code != "skin to look at"]
    return (
        PaperLine(label="", words=f"{words[:1].upper()}{words[1:]}."),
        *(PaperLine(label="", words=reason_words(one)) for one in why),
    )
