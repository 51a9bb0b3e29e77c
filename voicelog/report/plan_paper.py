"""The plan of a dog's next session on one page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.session_digest import SessionDigest
from voicelog.model import Dog
from voicelog.report.paper import Paper, PaperLine, PaperSection, refs_of
from voicelog.report.wording.reasons import aim_words, reason_words, warm_up_words
from voicelog.report.words import clean, counted, date_words
from voicelog.safety.settings import Thresholds, changed

__all__ = ["NO_BUTTON", "build", "one_line", "plan_section"]

NO_BUTTON = "None: a stop stands."
"""The first line of a plan while a stop stands."""


def build(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
) -> Paper:
    """The plan as a paper. `session_digests` are all the dog's sessions in short, in any order;
    `matters` is its list of open matters (None: as the sessions left them)."""
    sections = (plan_section(plan(session_digests, dog, thresholds, today, matters=matters)),)
    return Paper(
        kind="plan",
        dog=clean(dog.name),
        title=f"Next session of {clean(dog.name)}",
        day="" if today is None else date_words(today),
        sections=sections,
        refs=refs_of(sections, session_digests),
        changed=changed(thresholds),
    )


def plan_section(one: Plan) -> PaperSection:
    """The plan as lines."""
    lines = [PaperLine(label="button", words=NO_BUTTON, mark="stop")] if one.stops else []
    lines += [
        PaperLine(
            label="" if number else "stop",
            words=reason_words(reason),
            mark="stop",
            reps=reason.reps,
        )
        for number, reason in enumerate(one.stops)
    ]
    lines += [
        PaperLine(
            label="" if number else "open",
            words=reason_words(reason),
            mark="caution",
            reps=reason.reps,
        )
        for number, reason in enumerate(one.matters)
    ]
    if not one.session:
        lines.append(PaperLine(label="today", words="No session today.", mark="stop"))
    else:
        lines += [
            PaperLine(label="drill", words=f"{one.drill}, {counted(one.reps, 'rep')} at most."),
            PaperLine(label="warm-up", words=warm_up_words(one.warm_up)),
            PaperLine(label="distraction", words=f"{one.distraction}."),
            *(
                ()
                if one.stops
                else (
                    PaperLine(
                        label="button",
                        words=button_words(one),
                        mark="" if one.button else "caution",
                    ),
                )
            ),
            PaperLine(label="aim", words=aim_words(one.aim)),
        ]
    lines += [
        PaperLine(
            label="why" if not number else "", words=reason_words(reason), level=1, reps=reason.reps
        )
        for number, reason in enumerate(one.why)
    ]
    lines += [
        PaperLine(label="watch" if not number else "", words=reason_words(reason), reps=reason.reps)
        for number, reason in enumerate(one.watch)
    ]
    return PaperSection(
        title="Next session", lines=tuple(lines), note="You decide; the log reminds."
    )


def button_words(one: Plan) -> str:
    """What the plan says of the button."""
    if not one.button:
        return "None in this session."
    thin = " (thin evidence)" if one.thin else ""
    start = f"None first. If you use it ({one.mode}): start no higher than {one.start}{thin}"
    return f"{start}, never above {one.most}."


def one_line(one: Plan) -> str:
    """The plan in one line, for a list of dogs."""
    if not one.session:
        return "no session today"
    if one.stops:
        return f"a stop stands: {one.distraction}, no button"
    if not one.button:
        return f"{one.distraction}, no button"
    return (
        f"{one.distraction}; no button first, {one.mode}: start {one.start} at most, never above "
        f"{one.most}"
    )
