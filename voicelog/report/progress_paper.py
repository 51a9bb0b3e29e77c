"""The progress of one dog: how it goes and what is open; what to do next; what it is ready for;
what it notices, answers and what is too much; how often it comes and how fast.

What is decided with stands first and fits a screen; what it follows from is a detail, for who asks
for more.

Worded once, here, from the results of the analysis. No number stands without the reps it
rests on, and few reps are said to be few.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date

from voicelog.analysis.collar_use import uses_collar
from voicelog.analysis.criterion import EnoughEvidence
from voicelog.analysis.open_matters import OpenMatter, last_bad_day
from voicelog.analysis.overview import DogOverview, overview
from voicelog.analysis.plan import Plan
from voicelog.analysis.questions import Answer, Question, questions
from voicelog.analysis.readiness import ReadinessStep
from voicelog.analysis.session_digest import SessionDigest, by_date
from voicelog.analysis.session_scope import SessionScope, scope_of
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import CONTRACT_VERSION, Dog
from voicelog.report.matters_paper import matters_section
from voicelog.report.paper import FEW_REPS, Paper, PaperLine, PaperSection, every_ref, refs_of
from voicelog.report.plan_paper import not_counted_line, plan_section
from voicelog.report.progress_calls import calls_section, times_section
from voicelog.report.progress_levels import levels_section
from voicelog.report.session_plot_data import course_figure
from voicelog.report.state_words import TO_CHECK, VOID, counted_reps
from voicelog.report.wording.dial import describe_steps
from voicelog.report.wording.levels import (
    note_words,
)
from voicelog.report.wording.matters import bad_day_words
from voicelog.report.wording.questions import METHOD, answer_words, question_words
from voicelog.report.wording.readiness import (
    criterion_words,
    evidence_note,
    missing_words,
    now_words,
    step_note,
    verdict_words,
    wants_more,
)
from voicelog.report.wording.records import worded
from voicelog.report.wording.statistics import (
    NO_TREND,
    series_change_words,
    series_trend_words,
)
from voicelog.report.wording.story import story_words
from voicelog.report.words import Face, clean, counted, date_words
from voicelog.safety.settings import Thresholds, changed

__all__ = ["as_json", "build", "build_questions"]


_OF_BUTTON: frozenset[Question] = frozenset(
    {"fair chance", "weaning from the button", "weaning from vibrate"}
)


def build(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
    face: Face = "terminal",
    unread: str = "",
) -> Paper:
    """The paper of one dog. `session_digests` are all its sessions in short, in any order;
    `matters` is its list of open matters (None: as the sessions left them), `face` where it is
    read, `unread` what is said of typed lines that were not understood."""
    session_digests = by_date(session_digests)
    found = overview(session_digests, dog, thresholds, today, matters)
    scope = scope_of(session_digests, today, found.matters)
    collar = uses_collar(session_digests, dog)
    sections = tuple(
        section
        for section in (
            _with_course(
                _begun_by(not_counted_line(dog.name, unread, face), story_section(found)),
                found,
                scope,
                session_digests,
                today,
            ),
            matters_section(found.matters, face),
            _next(found.plan, collar=collar, matters_told=bool(found.matters)),
            _ready(found.readiness, len(session_digests)),
            *([levels_section(found, scope)] if collar else []),
            calls_section(found),
            _change(found, collar=collar),
            times_section(found.times),
            _for_who_asks(questions_section(session_digests, thresholds, collar=collar)),
            _basis(scope, found, session_digests, collar=collar),
        )
        if section.lines or section.figure
    )
    return Paper(
        kind="progress",
        dog=clean(dog.name),
        title=f"Progress of {clean(dog.name)}",
        day="" if today is None else date_words(today),
        sections=sections,
        refs=refs_of(sections, session_digests),
        changed=changed(thresholds),
    )


def _begun_by(first: tuple[PaperLine, ...], section: PaperSection) -> PaperSection:
    return section.model_copy(update={"lines": (*first, *section.lines)}) if first else section


def build_questions(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
) -> Paper:
    """Only what a trainer asks her data, of one dog; arguments as for `build`."""
    session_digests = by_date(session_digests)
    collar = uses_collar(session_digests, dog)
    sections = (questions_section(session_digests, thresholds, collar=collar),)
    return Paper(
        kind="progress",
        dog=clean(dog.name),
        title=f"Questions about {clean(dog.name)}",
        day="" if today is None else date_words(today),
        sections=sections,
        refs=refs_of(sections, session_digests),
        changed=changed(thresholds),
    )


def as_json(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
) -> str:
    """The results as JSON, the ids of the reps beside every number, and where each rep is."""
    found = overview(session_digests, dog, thresholds, today, matters)
    body = {
        "format": CONTRACT_VERSION,
        "day": None if today is None else today.isoformat(),
        **worded(found),
        "questions": [
            worded(one) | {"words": answer_words(one, thresholds.answer_s)}
            for one in _answers(session_digests, thresholds)
        ],
        "changed": changed(thresholds),
        "reps": {
            ref: one.model_dump(mode="json") for ref, one in every_ref(session_digests).items()
        },
    }
    return json.dumps(body, indent=1, ensure_ascii=False) + "\n"


# --- sections --------------------------------------------------------------------------


def story_section(found: DogOverview) -> PaperSection:
    """The story on top: how it goes, what changed, what is open."""
    one = found.story
    reps = () if one.at is None else one.at.reps
    change = () if isinstance(one.change, Unknown) else one.change.reps
    told = story_words(one, found.plan)
    open_reps = tuple(rep for reason in found.plan.stops for rep in reason.reps)
    lines = [PaperLine(label="recall", words=told[0], few=not one.enough, reps=reps)]
    bad = last_bad_day(found.matters, found.plan.day)
    if bad:
        bad_reps = tuple(rep for each in bad for rep in each.matter.rep_ids)
        words = bad_day_words(bad)
        lines.insert(0, PaperLine(label="bad day", words=words, mark="caution", reps=bad_reps))
    if len(told) > 2:
        few = isinstance(one.change, Unknown)
        lines.append(PaperLine(label="change", words=told[1], few=few, reps=change, detail=few))
    stop = "stop" if found.plan.stops else ""
    listed = bool(found.matters)  # right below it
    lines.append(PaperLine(label="open", words=told[-1], mark=stop, reps=open_reps, detail=listed))
    return PaperSection(title="In short", lines=tuple(lines))


def _with_course(
    section: PaperSection,
    found: DogOverview,
    scope: SessionScope,
    session_digests: Sequence[SessionDigest],
    today: date | None,
) -> PaperSection:
    """The story with its picture: the calls and the levels, session by session."""
    drill = found.course[0].drill if found.course else "recall"
    highest = found.ceiling.level if found.plan.names_levels else None
    figure = course_figure(session_digests, scope, drill, highest, today)
    return section.model_copy(update={"figure": figure})


def _next(one: Plan, *, collar: bool, matters_told: bool) -> PaperSection:
    """The plan in short, its reasons, the warm-up and what to watch for only for who asks for more:
    `plan` has all of it. Where there is to be no session its reasons are what there is to know."""
    section = plan_section(one, collar=collar, matters_told=matters_told)
    if not one.session:
        return section
    lines = section.lines[: len(section.lines) - len(one.watch)]
    told = tuple(
        line.model_copy(update={"detail": line.level > 0 or line.label == "warm-up"})
        for line in lines
    )
    watch = _as_details(section.lines[len(lines) :])
    return section.model_copy(update={"lines": (*told, *watch)})


def _for_who_asks(section: PaperSection) -> PaperSection:
    """A section all of which is for who asks for more."""
    return section.model_copy(update={"lines": _as_details(section.lines)})


def _as_details(lines: Sequence[PaperLine]) -> tuple[PaperLine, ...]:
    return tuple(line.model_copy(update={"detail": True}) for line in lines)


def _basis(
    scope: SessionScope,
    found: DogOverview,
    session_digests: Sequence[SessionDigest],
    *,
    collar: bool,
) -> PaperSection:
    reps = [rep for one in session_digests for rep in one.reps]
    if not session_digests:
        return PaperSection(
            title="Based on",
            lines=(
                PaperLine(label="sessions", words="None yet: nothing can be said about this dog."),
            ),
        )
    look = sum(rep.state == "check" for rep in reps)
    void = sum(rep.state == "void" for rep in reps)
    span = (
        f"{date_words(session_digests[0].day)} to {date_words(session_digests[-1].day)}"
        if len(session_digests) > 1
        else date_words(session_digests[0].day)
    )
    unit = session_digests[-1].transmitter
    lines = [
        PaperLine(
            label="sessions",
            words=f"{counted(len(session_digests), 'session')}, "
            f"{counted_reps(rep.state for rep in reps)}; {span}.",
            few=len(reps) < FEW_REPS,
        ),
    ]
    if collar:
        dial = PaperLine(
            label="transmitter",
            detail=True,
            words=f"Levels {unit.lowest} to {unit.top or 'an unknown top'}; "
            f"{describe_steps(unit)}. "
            "Levels of two transmitters are never pooled.",
        )
        lines.append(dial)
    if look or void:
        left = [f"{word} ({many})" for many, word in ((look, TO_CHECK), (void, VOID)) if many]
        words = f"The reps {' and '.join(left)}: counted in no number."
        if look:
            words += f" Readiness takes those {TO_CHECK} as not met."
        lines.append(PaperLine(label="left out", words=words))
    lines += [PaperLine(label="mind", words=note_words(note)) for note in found.notes]
    return PaperSection(title="Based on", lines=tuple(lines))


def _too_little(steps: Sequence[ReadinessStep], sessions: int) -> str:
    """Why nothing is said of any step yet, in a line for all of them; "" where something is. No
    step can be due with fewer sessions than the evidence has to come from."""
    wanted = [one.sessions for step in steps for one in step.criteria
              if isinstance(one, EnoughEvidence)]  # fmt: skip
    if not wanted or sessions >= min(wanted) or any(one.verdict == "ready" for one in steps):
        return ""
    now = "; ".join(f"{step.ladder}: {now_words(step)}" for step in steps)
    return (
        f"Not yet ready for any step: {counted(sessions, 'session')} says too little, "
        f"{min(wanted)} at least are needed. Now: {now}."
    )


def _ready(steps: Sequence[ReadinessStep], sessions: int) -> PaperSection:
    lines: list[PaperLine] = []
    first = next((step for step in steps if step.verdict == "not yet" and wants_more(step)), None)
    for step in steps:
        lines.append(
            PaperLine(
                label=step.ladder,
                words=f"{now_words(step)}. {verdict_words(step)}",
                mark=step.verdict,
            )
        )
        if wants_more(step):
            lines.append(
                PaperLine(
                    label="missing",
                    words=f"{missing_words(step)}.",
                    level=1,
                    detail=step.verdict != "nearly" and step != first,
                )
            )
        for one in step.criteria:
            criterion = criterion_words(one)
            words = f"{criterion.found}. Wanted: {criterion.wanted}."
            lines.append(
                PaperLine(
                    label=criterion.name,
                    words=words,
                    mark="yes" if one.met else "no",
                    level=1,
                    detail=True,
                    reps=one.reps,
                )
            )
        if note := step_note(step):
            lines.append(PaperLine(label="", words=note, level=1, detail=True))
    if few := _too_little(steps, sessions):
        lines = list(_as_details(lines))
        lines.insert(0, PaperLine(label="", words=few, mark="not yet"))
    note = ""
    if steps:
        basis = criterion_words(steps[0].criteria[0]).basis
        note = (
            "No criterion needs the button, and no rep with a stimulus meets one. "
            f"{evidence_note(steps[0])} Basis: {basis}."
        )
    return PaperSection(title="Ready for", lines=tuple(lines), note=note)


def questions_section(
    session_digests: Sequence[SessionDigest], thresholds: Thresholds, *, collar: bool
) -> PaperSection:
    """What a trainer asks her data next; those without an answer only for who asks for more, those
    about the button only where a `collar` is part of the work."""
    lines = [
        PaperLine(
            label=question_words(one.question),
            words=answer_words(one, thresholds.answer_s),
            few=isinstance(one.result, Unknown),
            detail=isinstance(one.result, Unknown),
            reps=one.reps,
        )
        for one in _answers(session_digests, thresholds)
        if collar or one.question not in _OF_BUTTON
    ]
    if all(line.detail for line in lines):
        words = f"None of {len(lines)} questions can be answered yet: too few calls."
        lines.insert(0, PaperLine(label="", words=words, few=True))
    return PaperSection(title="Questions", lines=tuple(lines), note=METHOD)


def _answers(
    session_digests: Sequence[SessionDigest], thresholds: Thresholds
) -> tuple[Answer, ...]:
    return questions(session_digests, thresholds.answer_s, thresholds.mostly_share)


def _change(found: DogOverview, *, collar: bool) -> PaperSection:
    lines = []
    where = ""
    for one in found.course:
        if not one.points or (one.measure == "with the button" and not collar):
            continue
        where = ", ".join(
            (one.drill or "drill not said", f"distraction {one.distraction or 'not said'}")
        )
        few = isinstance(one.trend, Unknown)
        reps = tuple(rep for point in one.points for rep in point.reps)
        lines.append(
            PaperLine(
                label=one.measure,
                words=series_trend_words(one),
                few=few,
                reps=reps,
                detail=isinstance(one.trend, Unknown) or one.trend.p >= NO_TREND,
            )
        )
        if one.measure == "first call":
            few = isinstance(one.change, Unknown)
            words = series_change_words(one)
            none = isinstance(one.change, Unknown) or one.change.signal is None
            lines.append(PaperLine(label="change", words=words, few=few, level=1, detail=none))
    return PaperSection(
        title="Change",
        lines=tuple(lines),
        note=f"One value a session, {where}; across distractions see In short." if where else "",
    )
