"""The plan of a dog's next session on one page."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from voicelog.analysis.collar_use import uses_collar
from voicelog.analysis.open_matters import OpenMatter
from voicelog.analysis.plan import Plan, plan
from voicelog.analysis.reason import Reason, ReasonCode
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import scope_of
from voicelog.model import Dog
from voicelog.report.matters_paper import matters_link
from voicelog.report.paper import Paper, PaperLine, PaperSection, refs_of
from voicelog.report.session_plot_data import course_figure
from voicelog.report.unread_lines import EVENING_PAGE, NOT_COUNTED
from voicelog.report.wording.levels import note_words
from voicelog.report.wording.matters import beside_mark
from voicelog.report.wording.reasons import aim_words, bounds_words, reason_words, warm_up_words
from voicelog.report.words import Face, clean, counted, date_words
from voicelog.safety.settings import Thresholds, changed

__all__ = ["NO_BUTTON", "build", "button_line", "not_counted_line", "plan_section", "skin_lines"]

NO_BUTTON = "None: a stop is open."
"""The first line of a plan while a stop stands."""
NO_SESSION = "No session today."
SHOWN_CLOSED = 3
"""So many closed matters stand in a plan."""
MATTERS_PLACE = "the list of open matters has them"
_OF_LEVELS: frozenset[ReasonCode] = frozenset(
    {
        *("thin evidence", "no date", "answered low", "faded"),
        *("step above answered", "none answered", "other transmitter"),
    }
)
"""Reasons for the limits of a level."""


def build(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
    face: Face = "terminal",
    unread: str = "",
) -> Paper:
    """The plan as a paper. `session_digests` are all the dog's sessions in short, in any order;
    `thresholds` are those in force for it, `today` is the day as of which it is said, `matters` its
    list of open matters (None: as the sessions left them), `face` is where it is read, `unread`
    what is said of typed lines that were not understood."""
    scope = scope_of(session_digests, today, matters)
    planned = plan(session_digests, dog, thresholds, today, matters=matters)
    section = plan_section(planned, collar=uses_collar(session_digests, dog))
    dates = [note_words(note) for note in scope.notes if note.code == "undated"]
    said = tuple(PaperLine(label="dates", words=words, level=1) for words in dates)
    open_ = matters_link(face) if planned.stops or planned.matters else ()
    lines = (*not_counted_line(dog.name, unread, face), *section.lines, *said, *open_)
    section = section.model_copy(update={"lines": lines})
    figure = course_figure(session_digests, scope, planned.drill, today=today)
    sections = (section.model_copy(update={"figure": figure}),)
    return Paper(
        kind="plan",
        dog=clean(dog.name),
        title=f"Next session of {clean(dog.name)}",
        day="" if today is None else date_words(today),
        sections=sections,
        refs=refs_of(sections, session_digests),
        changed=changed(thresholds),
    )


def plan_section(one: Plan, *, collar: bool = True, matters_told: bool = False) -> PaperSection:
    """The plan as lines. `one` tells of the button only where a `collar` is part of the work, and
    of what is open only where that is not told on the same paper (`matters_told`)."""
    lines = [button_line(one)] if one.stops else []
    lines += [
        PaperLine(
            label="" if number else "open",
            words=beside_mark(reason_words(reason)),
            mark="stop",
            reps=reason.reps,
        )
        for number, reason in enumerate(() if matters_told else one.stops)
    ]
    if not one.session:
        lines.append(PaperLine(label="today", words=NO_SESSION, mark="stop"))
    lines += skin_lines(one)
    if one.session or one.waits_a_day:
        lines += [
            PaperLine(label="work" if one.session else "next day", words=work_words(one)),
            PaperLine(label="warm-up", words=warm_up_words(one.warm_up if collar else "easy")),
            PaperLine(label="aim", words=aim_words(one.aim)),
        ]
    if one.session and collar and not one.stops:
        lines.append(button_line(one))
    elif one.waits_a_day and collar and not one.stops and not one.button:
        lines.append(PaperLine(label="button", words="No button on that day either."))
    lines += [
        PaperLine(
            label="" if number else "matters",
            words=reason_words(reason),
            mark="caution",
            reps=reason.reps,
        )
        for number, reason in enumerate(() if matters_told else one.matters)
    ]
    lines += () if matters_told else _closed_lines(one)
    lines += [
        PaperLine(
            label="why" if not number else "", words=reason_words(reason), level=1, reps=reason.reps
        )
        for number, reason in enumerate(
            r for r in one.why if (collar or r.code not in _OF_LEVELS) and not _is_told(r, one.why)
        )
    ]
    lines += [
        PaperLine(label="watch" if not number else "", words=reason_words(reason), reps=reason.reps)
        for number, reason in enumerate(one.watch)
    ]
    return PaperSection(
        title="Next session", lines=tuple(lines), note="You decide; the log reminds."
    )


def _closed_lines(one: Plan) -> tuple[PaperLine, ...]:
    """What a person closed lately: it was so all the same. The gravest, and how many more."""
    lines = [
        PaperLine(label="" if number else "closed", words=reason_words(reason), reps=reason.reps)
        for number, reason in enumerate(one.closed[:SHOWN_CLOSED])
    ]
    more = len(one.closed) - SHOWN_CLOSED
    if more > 0:
        words = f"{counted(more, 'more matter')} closed: {MATTERS_PLACE}."
        lines.append(PaperLine(label="", words=words))
    return tuple(lines)


def _is_told(reason: Reason, why: Sequence[Reason]) -> bool:
    """Whether a line of its own says that already: of skin to be looked at, `skin_lines`."""
    look = [one.day for one in why if one.code == "skin to look at"]
    return reason.code == "skin to look at" or (
        reason.code == "skin" and bool(reason.names) and reason.day in look
    )


def skin_lines(one: Plan) -> tuple[PaperLine, ...]:
    """That the skin has to be looked at before the collar goes on, where it was bad last: a line
    of its own, or none. `one` is the plan."""
    return tuple(
        PaperLine(label="skin", words=reason_words(reason), mark="stop")
        for reason in one.why
        if reason.code == "skin to look at"
    )


def work_words(one: Plan) -> str:
    """What there is to do: work without the button."""
    return (
        f"{one.drill.capitalize()} without the button, {counted(one.reps, 'rep')} at most, "
        f"distraction {one.distraction}."
    )


def button_line(one: Plan) -> PaperLine:
    """What the plan says of the button, the same on every paper: None while a stop stands or where
    nothing is to be done today, else the limits. `one` is the plan."""
    if one.stops:
        return PaperLine(label="button", words=NO_BUTTON, mark="stop")
    if not one.session:
        return PaperLine(label="button", words=NO_SESSION, mark="stop")
    return PaperLine(label="button", words=button_words(one))


def button_words(one: Plan) -> str:
    """What the plan says of the button: none, or the levels never to go above."""
    if not one.button:
        return "No button in this session."
    return f"None of this needs it. If it is used ({one.mode}): {bounds_words(one)}."


def not_counted_line(
    dog: str, unread: str, face: Face, label: str = NOT_COUNTED
) -> tuple[PaperLine, ...]:
    """The line of a paper that says so of a dog, before all that is counted; none where `unread`,
    from unread_lines.py, is empty."""
    if not unread:
        return ()
    correct = f" To correct: voicelog correct {clean(dog)}".rstrip() + "."
    words = f"{unread}{correct if face == 'terminal' else ''}"
    href = EVENING_PAGE if face == "page" else ""
    return (PaperLine(label=label, words=words, mark="caution", href=href),)
