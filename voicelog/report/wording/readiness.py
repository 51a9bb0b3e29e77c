"""The steps of readiness and their criteria in words: what was wanted, found and is missing."""

from __future__ import annotations

from typing import NamedTuple

from voicelog.analysis.criterion import (
    ByItself,
    CallCount,
    Criterion,
    EasySessions,
    FirstCalls,
    LittleButton,
    NoStopStands,
    NoStrongSign,
    WorkedUnder,
)
from voicelog.analysis.readiness import ReadinessStep
from voicelog.report.state_words import TO_CHECK
from voicelog.report.wording.matters import CLOSED_BY
from voicelog.report.words import counted, date_words

__all__ = [
    "NO_SUCH_SESSION",
    "CriterionWords",
    "criterion_words",
    "missing_words",
    "next_words",
    "now_words",
    "step_note",
    "step_words",
]

NO_SUCH_SESSION = "no such session"
"""What was found where a dog was never worked like that."""

_COMMON = "common practice, no source"
_EIGHTY = (
    f"{_COMMON}; 80% is the usual mark, and 90 to 100% kept better (Longino et al., Behav Anal "
    "Pract 15:397-405, 2022, human learners)"
)
_MISSING_BUTTON = {
    "": "",
    "less of it": "sessions with less of the button",
    "more sessions": "more such sessions",
    "the word that none was used": "say 'no button' where none was used: what is not said is not "
    "counted as none",
}


class CriterionWords(NamedTuple):
    """A criterion in words. `missing` is what would have to happen; "" where it is met."""

    name: str
    wanted: str
    found: str
    missing: str
    basis: str = _COMMON


def criterion_words(one: Criterion) -> CriterionWords:
    """A criterion in words. Raises TypeError for a kind that has none."""
    match one:
        case FirstCalls():
            return _first_calls(one)
        case NoStrongSign():
            with_one = f"{counted(len(one.reps), 'rep')} with one ({', '.join(one.signs)})"
            return CriterionWords(
                name="no strong sign",
                wanted="no strong sign in those sessions, nor since",
                found=with_one if one.reps else "none" if one.seen else NO_SUCH_SESSION,
                missing="sessions without a strong sign" if one.seen and not one.met else "",
            )
        case LittleButton():
            return _little_button(one)
        case ByItself():
            return CriterionWords(
                name="by itself",
                wanted="no line help, no peeling off and no breaking in those sessions",
                found=f"{len(one.reps)} of those" if one.seen else NO_SUCH_SESSION,
                missing="" if one.met else "sessions in which the dog needs no line and stays",
            )
        case EasySessions():
            return CriterionWords(
                name="easy sessions",
                wanted="two sessions in a row without stress, every rep but one at most met "
                "unaided",
                found=f"{one.run} in a row, the last on {date_words(one.day)}",
                missing="" if one.met else counted(2 - one.run, "more easy session"),
            )
        case NoStopStands():
            return CriterionWords(
                name="no stop stands",
                wanted=f"after a stop, {CLOSED_BY}",
                found=f"a stop stands ({', '.join(map(date_words, one.days))})",
                missing=f"that {CLOSED_BY}",
            )
    raise TypeError(f"no words for {type(one).__name__}")


def _first_calls(one: FirstCalls) -> CriterionWords:
    if one.where is None:
        what = "a distraction said for it"
        return CriterionWords(
            name="first call",
            wanted=f"{one.passes} of {one.of} at the first call, unaided",
            found=f"no recall with {what}",
            missing=f"{one.of} recalls with {what}",
        )
    where = _where(one.where)
    if one.met:
        missing = ""
    elif not one.counts:
        missing = f"{counted(one.sessions, 'session')} of {one.of} calls {where}"
    else:
        missing = (
            f"{counted(one.sessions - one.run, 'more session')} in a row with {one.passes} of "
            f"{one.of} at the first call, unaided, {where}"
        )
    return CriterionWords(
        name="steady" if one.where.kind == "drill steady" else "first call",
        wanted=f"{one.passes} of the last {one.of} at the first call, unaided, {where}, in each "
        f"of {counted(one.sessions, 'session')} in a row",
        found="; ".join(map(_calls, one.counts)) or f"no call {where}",
        missing=missing,
        basis=_EIGHTY,
    )


def _where(where: WorkedUnder) -> str:
    match where.kind:
        case "distraction":
            return f"at {where.distraction}"
        case "distraction or above":
            return f"at {where.distraction} distraction or above"
        case "trailing line":
            return f"line trailing, at {where.distraction or 'no distraction said'}"
        case "drill steady":
            return "in drill steady"


def _calls(one: CallCount) -> str:
    reasons = {
        TO_CHECK: one.doubtful,
        "with a stimulus": one.stimulated,
        "button not said": one.unsaid,
    }
    beside = ", ".join(f"{count} {why}" for why, count in reasons.items() if count)
    words = f"{one.met} of {one.of} on {date_words(one.day)}"
    return f"{words} (beside them came: {beside})" if beside else words


def _little_button(one: LittleButton) -> CriterionWords:
    found = ", then ".join(
        f"{count.used} of {count.of}{f' (and {count.unsaid} not said)' if count.unsaid else ''}"
        for count in one.counts
    )
    return CriterionWords(
        name="little button",
        wanted=f"the button in at most {one.most} of those {one.of}, and not rising",
        found=(f"{found}, rising" if one.rising else found) or NO_SUCH_SESSION,
        missing=_MISSING_BUTTON[one.missing],
    )


# --- steps -----------------------------------------------------------------------------


def step_words(step: ReadinessStep) -> str:
    """The verdict on a step, and what is missing for it."""
    following = next_words(step)
    match step.verdict:
        case "at the top":
            return "The top of the ladder: nothing above it; keep it there."
        case "ready":
            return f"Ready for {following}."
        case "nearly":
            return f"Nearly ready for {following}; missing: {missing_words(step)}."
        case "not yet":
            return f"Not yet ready for {following}; missing: {missing_words(step)}."


def missing_words(step: ReadinessStep) -> str:
    """What would have to happen for the step."""
    missing = [criterion_words(one).missing for one in step.criteria if not one.met]
    return "; ".join(dict.fromkeys(filter(None, missing)))


def now_words(step: ReadinessStep) -> str:
    """Where the dog is on the ladder."""
    reached = step.state == "reached"
    match step.ladder:
        case "distraction":
            return step.at or "no distraction said"
        case "birds":
            if step.state == "not begun":
                return "no bird yet"
            return "stage reached (profile)" if reached else "among birds"
        case "gun":
            if step.state == "not begun":
                return "no gunfire yet"
            far = "with gunfire, distance not said"
            if step.shot_m is not None:
                far = f"last shot at {step.shot_m:.0f} m"
            return f"{far}, stage reached (profile)" if reached else far
        case "off the line":
            if reached:
                return "off the line (profile)"
            return f"line {step.at}" if step.at else "line not said"


def next_words(step: ReadinessStep) -> str:
    """What the step leads to."""
    begun = step.state != "not begun"
    match step.ladder:
        case "distraction":
            return step.next
        case "birds":
            return "the next rung of the ladder" if begun else "a dead bird"
        case "gun":
            return "nearer, or louder, never both" if begun else "a soft shot, a helper far off"
        case "off the line":
            return "the same work without a line"


def step_note(step: ReadinessStep) -> str:
    """What is to be known of the ladder; "" where that is nothing."""
    match step.ladder:
        case "distraction":
            if step.state == "at":
                return ""
            return "Say the distraction ('distraction none'): without it no step can be judged."
        case "birds":
            return (
                "Ladder: dead, clipped, planted, flown; one rung after two easy sessions. The log "
                "does not hear which bird it was. No button on birds until the profile says "
                "'bird'."
            )
        case "gun":
            return (
                "Ladder: a helper far off, softer to louder, nearer only after two easy sessions. "
                "A flinch ends it for the day. No button with gunfire until the profile says "
                "'gun'."
            )
        case "off the line":
            return ""
