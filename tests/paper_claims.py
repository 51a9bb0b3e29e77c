"""What the papers of one dog claim, as data, and where two of them contradict each other.

Compared are the values that the papers are worded from, and where only words are made (the owner's
report, the summary's last line), what those words may not say beside them.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime

from tests.histories import FIRST, Past, history, session_digests_of
from voicelog.analysis.kennel import SHOWN_MATTERS, DogStatus, kennel, plan_in_short
from voicelog.analysis.open_matters import OpenMatter, open_matters, standing, stops_of
from voicelog.analysis.overview import DogOverview, overview
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.planned_sessions import planned_sessions
from voicelog.analysis.session_digest import SessionDigest
from voicelog.model import MatterEvent
from voicelog.model.matters import NEEDS_PROFESSIONAL
from voicelog.report import (
    kennel_paper,
    owner_report,
    paper_text,
    plan_paper,
    progress_paper,
    text,
)
from voicelog.report.summary import summarise
from voicelog.report.wording.matters import matter_words, owner_matter_words, spoken_matters
from voicelog.report.wording.readiness import criterion_words
from voicelog.report.wording.reasons import one_line
from voicelog.report.wording.story import (
    open_words,
    owner_story_words,
    row_story_words,
    today_words,
)
from voicelog.safety import Settings
from voicelog.safety.earlier_doubt import EARLIER

__all__ = ["contradictions"]


def contradictions(seed: int) -> list[str]:
    """What two papers of one history say that cannot both be so; empty where all agree."""
    dog, past = history(seed)
    digests = session_digests_of(past)
    rules = Settings().for_dog(dog.name)
    began = [one.began for one in digests if one.began]
    today = max(began, default=FIRST).date()
    matters = _matters(seed, digests, today)
    whole = overview(digests, dog, rules, today, matters)
    next_ = plan(digests, dog, rules, today, matters=matters)
    by_dog = {dog.name: planned_sessions(digests)}
    (row,) = kennel(by_dog, [dog], {"": Settings()}, today, {dog.name: matters}).dogs
    owner = owner_report.build(digests, dog, rules, today, matters)
    texts = {
        "progress": paper_text.render(
            progress_paper.build(digests, dog, rules, today, matters), every=True
        ),
        "kennel": paper_text.render(
            kennel_paper.build(
                kennel(by_dog, [dog], {"": Settings()}, today, {dog.name: matters}),
                by_dog,
                Settings(),
            ),
            every=True,
        ),
        "owner": owner.model_dump_json(),
    }
    found = [
        *_of_references(texts, next_, matters),
        *_of_lists(matters, whole, next_, row),
        *_of_plan(matters, whole, next_, row, digests),
        *_of_owner(matters, whole, owner),
        *_of_counts(whole),
    ]
    for one in past:
        found += _of_findings(one)
    for one in past[-3:]:
        found += _of_summary(one, matters, next_)
    for one in past[-1:]:
        found += _of_summary(one, matters, None)
    for one in past:
        made = summarise(one.session, one.findings, (), one.began, matters=matters, planned=next_)
        found += _of_references(
            {f"the summary of {one.session.id}": text.render(made)}, next_, matters
        )
    return found


REFERENCES = re.compile(
    r"\b(?:(see the plan|see voicelog plan)|(?:see )?(voicelog matters list)"
    r"|((?:the|your|its) (?:plan|summary|progress paper|kennel paper|owner's report)\b.{0,40}))",
    re.I,
)
"""Where a paper refers to another: to the plan, to the list of matters, or otherwise."""


def _of_references(
    texts: Mapping[str, str], next_: Plan, matters: Sequence[OpenMatter]
) -> Iterator[str]:
    """A paper refers to another only where that has it."""
    section = plan_paper.plan_section(next_)
    for name, words in texts.items():
        for at in REFERENCES.finditer(" ".join(words.split())):
            to_plan, to_list, other = at.groups()
            if other:
                yield f"{name} refers to what is not known to be there: {other!r}"
            if to_list and not standing(matters):
                yield f"{name} refers to the list of matters, which is empty"
            if to_plan and not any(line.label in ("button", "today") for line in section.lines):
                yield f"{name} refers to the plan, which says nothing of the button"


def _of_summary(one: Past, matters: Sequence[OpenMatter], next_: Plan | None) -> Iterator[str]:
    """A summary has the limits of the plan, or those of its own session alone, and no others."""
    where = f"the summary of {one.session.id}"
    made = summarise(one.session, one.findings, (), one.began, matters=matters, planned=next_)
    line = made.next_session
    if stops_of(matters) and not re.search(r"\bno (button|session)\b", line.split(".")[0], re.I):
        yield f"{where} goes on beside an open stop: {line}"
    if next_ and not line.lower().startswith(f"{one_line(next_).lower()}."):
        yield f"{where} says of the next session what the plan does not: {line}"
    limits = _limits(line)
    if next_ and not limits <= {next_.start, next_.most}:
        yield f"{where} has a limit that is not the plan's: {line}"
    for notice in made.notices:
        for level in sorted(_limits(f"{notice.message} {notice.advice}") - limits):
            yield f"{where} has the limit {level} beside its {limits}: {notice.advice}"


def _of_findings(one: Past) -> Iterator[str]:
    """A finding tells of a level in a rep that has it; one that rests on what is in doubt of an
    earlier session is not sure."""
    for finding in one.findings:
        if EARLIER in finding.message and not (finding.on_doubt or finding.struck):
            yield f"{one.session.id} is sure of {finding.message!r}"
    levels = {rep.number: {mark.level for mark in rep.levels} for rep in one.session.reps}
    for finding in one.findings:
        told = re.search(r"in rep (\d+) at level (\d+)", finding.message)
        if told and not finding.struck and int(told[2]) not in levels.get(int(told[1]), ()):
            yield f"{one.session.id} says {finding.message!r}: {levels}"


LIMITS = re.compile(
    r"(?:never (?:start )?(?:above|beyond)|all above|stay at|no higher than|begin at|start at"
    r"|start again at|from \d+ never beyond) (?:level )?(\d+)|(\d+) (?:or below|at most)\b",
    re.I,
)
"""What may be read as a limit of a level."""


def _limits(words: str) -> set[int]:
    return {int(found[1] or found[2]) for found in LIMITS.finditer(words)}


def _of_counts(whole: DogOverview) -> Iterator[str]:
    """How often it came on a day is told once: by the story, and not otherwise by readiness."""
    found = [criterion_words(one).found for step in whole.readiness for one in step.criteria]
    progress = " ".join([today_words(whole.story), *found])
    day = r"(\d+ [A-Z][a-z]{2} \d{4})"
    told: dict[str, set[str]] = {}
    for at in re.finditer(rf"On {day} it came (\d+ of \d+)", progress):
        told.setdefault(at[1], set()).add(at[2])
    for at in re.finditer(rf"came (\d+ of \d+)(?:, unaided \d+)? on {day}", progress):
        told.setdefault(at[2], set()).add(at[1])
    for when, counts in told.items():
        if len(counts) > 1:
            yield f"progress says of {when} that it came {counts}"


def _matters(seed: int, digests: Sequence[SessionDigest], today: date) -> tuple[OpenMatter, ...]:
    """The list, of which a person has closed some."""
    chance = random.Random(seed * 7 + 1)
    left = [one for digest in digests for one in digest.matters]
    events = [
        MatterEvent(
            id=f"m{number}",
            do="close",
            kind=one.kind,
            entries=one.entries,
            rules=one.rules,
            names=one.names,
            who="Anna",
            reason="looked at",
            consulted="Dr Fern" if one.kind in NEEDS_PROFESSIONAL else "",
            at=datetime.combine(today, datetime.min.time(), UTC),
            turn=number,
        )
        for number, one in enumerate(left)
        if chance.random() < chance.choice([0.0, 0.5, 1.0])
    ]
    return open_matters(left, events, today)


def _of_lists(
    matters: Sequence[OpenMatter], whole: DogOverview, next_: Plan, row: DogStatus
) -> Iterator[str]:
    """Every paper has the same matters that stand."""
    wanted = [one.id for one in standing(matters)]
    told = {
        "progress": [one.id for one in standing(whole.matters)],
        "plan": [one.matter.id for one in (*next_.stops, *next_.matters) if one.matter],
        "progress's plan": [
            one.matter.id for one in (*whole.plan.stops, *whole.plan.matters) if one.matter
        ],
    }
    for name, ids in told.items():
        if sorted(ids) != sorted(wanted):
            yield f"{name} has {ids}, the list {wanted}"
    named = [
        one.matter.id
        for one in row.see
        if one.code == "open matter" and one.matter and one.matter.stands
    ]
    if (named, row.open) != (wanted[:SHOWN_MATTERS], len(wanted)):
        yield f"the kennel names {named} and counts {row.open}, the list has {wanted}"
    if row.more_stop != bool(stops_of(matters)[SHOWN_MATTERS:]):
        yield f"the kennel has more stops than it names: {row.more_stop}"
    for where, words in (
        ("progress", open_words(whole.plan)),
        ("plan", open_words(next_)),
        ("kennel", row_story_words(row.story, row.open)) if row.story else ("", ""),
        ("owner", owner_story_words("Juno", whole.story, whole.plan)[-1]),
    ):
        if wanted and re.search(r"[Nn]othing (is |is left )?open", words):
            yield f"the story of {where} says {words!r}, the list has {wanted}"
    if row.stopped != bool(stops_of(matters)):
        yield f"the kennel's row is stopped: {row.stopped}"
    if bool(spoken_matters(matters)) != bool(wanted):
        yield f"the live start says {spoken_matters(matters)!r}"


def _of_plan(
    matters: Sequence[OpenMatter],
    whole: DogOverview,
    next_: Plan,
    row: DogStatus,
    digests: Sequence[SessionDigest],
) -> Iterator[str]:
    if next_ != whole.plan:
        yield "the plan and progress's plan differ"
    if row.plan is None:
        yield "the kennel could not work it out"
        return
    same = ("session", "button", "stops", "matters")
    short = plan_in_short(next_)
    if row.plan != short:
        yield "the kennel's plan and the plan differ"
    for name in same:
        if getattr(row.plan, name) != getattr(short, name):
            yield f"the kennel's plan and the plan differ in {name}"
    if stops_of(matters):
        if next_.button or next_.start is not None or next_.most is not None:
            yield "the plan has a button beside an open stop"
        if next_.aim.code == "next step":
            yield "the plan aims at a step beside an open stop"
        if any(step.verdict == "ready" for step in whole.readiness):
            yield "readiness is ready beside an open stop"
        first = plan_paper.plan_section(next_).lines[0]
        if first.words != plan_paper.NO_BUTTON:
            yield f"the plan begins with {first.words!r} beside an open stop"
    lines = plan_paper.plan_section(next_).lines
    barred = {one.code for one in next_.why} & {"sore skin", "aggression"}
    if not barred and plan_paper.work_words(next_) not in [line.words for line in lines]:
        yield "the plan has no work without the button, and nothing bars it"
    if barred and plan_paper.work_words(next_) in [line.words for line in lines]:
        yield f"the plan has work beside {barred}"
    named = {one.matter.kind for one in standing(matters) if one.matter.names} - {"skin"}
    if named and any(one.code == "no sign" for one in next_.watch):
        yield f"the plan has no sign on record beside {named}"
    if barred and any("begin with" in line.words for line in lines):
        yield f"the plan says where to begin beside {barred}"
    for line in lines:
        if line.mark == "stop" and re.match(r"stop\b", f"{line.label} {line.words}".strip(), re.I):
            yield f"the plan says stop twice: {line.label!r} {line.words!r}"
    kinds = {one.matter.kind for one in standing(matters)}
    if "aggression" in kinds and next_.session:
        yield "the plan has a session beside an open growl, snap or bite"
    level = whole.ceiling.level
    lines = plan_paper.plan_section(next_).lines
    more = _limits(" ".join(line.words for line in lines)) - {next_.start, next_.most}
    if next_.session and more:
        yield f"the plan has limits of its own and {more} besides"
    if next_.most is not None and level is not None and next_.most > level:
        yield f"the plan goes up to {next_.most}, progress's ceiling is {level}"
    if next_.button and whole.ceiling.none_left:
        yield "the plan has a button where progress has no level left"
    moves = {one.code for one in next_.why}
    ready = {step.ladder for step in whole.readiness if step.verdict == "ready"}
    if "ready" in moves and "distraction" not in ready:
        yield "the plan is ready for a step that progress is not ready for"


def _of_owner(
    matters: Sequence[OpenMatter], whole: DogOverview, owner: owner_report.OwnerReport
) -> Iterator[str]:
    told = [line for line in owner.went_wrong if "ot settled yet" in line]
    if bool(told) != bool(standing(matters)):
        yield f"the owner's report says {told}, the list {list(map(matter_words, matters))}"
    for one in standing(matters)[:1]:
        if owner_matter_words(one) not in owner.went_wrong:
            yield f"the owner's report leaves out {matter_words(one)}"
    cannot = {line.split(":")[0].removeprefix("Coming ") for line in owner.not_yet}
    for line in owner.does:
        place = line.split(":")[0].removeprefix("Comes at the first call ")
        if place in cannot:
            yield f"the owner's report says can and cannot of {place!r}"
    if "Works without a line." in owner.does and any(
        line.startswith("Off the line") for line in owner.not_yet
    ):
        yield "the owner's report says can and cannot of the line"
