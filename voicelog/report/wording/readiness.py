"""The steps of readiness and their criteria in words: what was wanted, found and is missing."""

from __future__ import annotations

import math
from typing import NamedTuple

from voicelog.analysis.criterion import (
    ByItself,
    CallCount,
    Criterion,
    EasySessions,
    EnoughEvidence,
    LastCalls,
    LittleButton,
    NoStopStands,
    NoStrongSign,
    WorkedUnder,
)
from voicelog.analysis.readiness import LOOKS, ReadinessStep
from voicelog.analysis.statistics.session_evidence import (
    FULL_RATIO,
    GOOD,
    POOR,
    session_points,
)
from voicelog.report.state_words import TO_CHECK
from voicelog.report.wording.matters import CLOSED_BY
from voicelog.report.words import counted, date_words

__all__ = [
    "NO_SUCH_SESSION",
    "CriterionWords",
    "criterion_words",
    "evidence_note",
    "missing_words",
    "next_words",
    "now_words",
    "step_note",
    "step_words",
    "verdict_words",
    "wants_more",
]

NO_SUCH_SESSION = "no such session"
"""What was found where a dog was never worked like that."""

_COMMON = "common practice, no source"
_EIGHTY = (
    f"{_COMMON}; 80% is the usual mark, and 90 to 100% kept better (Longino et al., Behav Anal "
    "Pract 15:397-405, 2022, human learners)"
)
_POINTS = (
    f"{_COMMON} for the two dogs; the sum of ratios is Wald's and Page's (Ann Math Stat "
    "16:117-186, 1945; Biometrika 41:100-115, 1954)"
)
_SHOWN = 4
"""Sessions of the evidence that are named, the newest."""

_NOT_REACHED = "stage not reached (profile)"
"""Work was noted there, which makes no stage reached: the profile says which are."""

_NOT_SHOWN = "Not yet shown to be ready for it"

_MISSING_BUTTON = {
    "": "",
    "less of it": "sessions with less use of the button",
    "more sessions": "more sessions in which the button is seldom used",
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
    """A criterion in words. Raises TypeError for a kind that has none. `one` holds its numbers."""
    match one:
        case EnoughEvidence():
            return _evidence(one)
        case LastCalls():
            return _last_calls(one)
        case NoStrongSign():
            with_one = f"{counted(len(one.reps), 'rep')} with one ({', '.join(one.signs)})"
            return CriterionWords(
                name="no strong sign",
                wanted=f"no strong sign in the last {one.sessions} such sessions, nor since",
                found=with_one if one.reps else "none" if one.seen else NO_SUCH_SESSION,
                missing="sessions without a strong sign" if one.seen and not one.met else "",
            )
        case LittleButton():
            return _little_button(one)
        case ByItself():
            return CriterionWords(
                name="by itself",
                wanted="no line help, no peeling off and no breaking in the last "
                f"{one.sessions} such sessions",
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
                name="no open stop",
                wanted=f"no stop that is open; {CLOSED_BY}",
                found=f"{counted(len(one.days), 'open stop')} "
                f"({', '.join(dict.fromkeys(map(date_words, one.days)))})",
                missing="the open stops to be closed, with a reason",
            )
    raise TypeError(f"no words for {type(one).__name__}")


def _evidence(one: EnoughEvidence) -> CriterionWords:
    if one.where is None:
        return CriterionWords(
            name="evidence",
            wanted=f"{one.wanted:.0f} points",
            found="no distraction has enough recalls with it said yet",
            missing="more recalls with the distraction said",
            basis=_POINTS,
        )
    where = _where(one.where)
    weeks = counted(one.days // 7, "week") if one.days % 7 == 0 else counted(one.days, "day")
    return CriterionWords(
        name="steady" if one.where.kind == "drill steady" else "evidence",
        wanted=f"{one.wanted:.0f} points {where}, of the last {weeks} and at least "
        f"{counted(one.sessions, 'session')}",
        found=_evidence_found(one, where),
        missing="" if one.met else _evidence_missing(one, where),
        basis=_POINTS,
    )


def _evidence_found(one: EnoughEvidence, where: str) -> str:
    left_out = _left_out(one)
    words = f"{math.floor(one.points)} of {one.wanted:.0f} points"
    if one.counts:
        before = len(one.counts) - _SHOWN
        words += f": {counted(before, 'session')} before, then " if before > 0 else ": "
        words += "; ".join(map(_calls, one.counts[-_SHOWN:]))
    else:
        words = f"no call {where}" if not left_out else words
    if one.full is not None:
        words += f"; there was enough on {date_words(one.full)}, and the calls since took it back"
    return f"{words}; not counted: {left_out}" if left_out else words


def _left_out(one: EnoughEvidence) -> str:
    """The sessions that do not count, and why; "" where all do."""
    told = [
        f"{counted(one.old, 'session')} too long ago" if one.old else "",
        f"{counted(one.undated, 'session')} without a date" if one.undated else "",
    ]
    return " and ".join(filter(None, told))


def _evidence_missing(one: EnoughEvidence, where: str) -> str:
    """So many more good sessions; they are the example, not the only way. Where there was none that
    counts, how many there would have to be says little, so only what they are is told."""
    if not one.counts:
        left = _left_out(one)
        return f"calls {where} (not one counts yet{f': {left}' if left else ''})"
    nine, eight = _sessions_left(one, 9), _sessions_left(one, 8)
    longer = f" (about {eight} sessions with 8 of 10)" if eight > nine else ""
    return f"about {counted(nine, 'more session')} with 9 of 10 calls unaided{longer}, {where}"


def _sessions_left(one: EnoughEvidence, met: int) -> int:
    """How many more sessions it takes with so many of ten calls unaided in each."""
    last = one.counts[-1:]
    before = (last[0].met, last[0].of) if last else (0, 0)
    points, more = one.points, 0
    while points < one.wanted - 1e-9:
        points += max(session_points(met, 10, before), session_points(met, 10) - points)
        more, before = more + 1, (met, 10)
    return max(more, one.sessions - len(one.counts))


def _last_calls(one: LastCalls) -> CriterionWords:
    where = _where(one.where)
    wanted = f"{one.passes} of the last {one.of} calls unaided, {where}"
    return CriterionWords(
        name="steady now" if one.where.kind == "drill steady" else "last calls",
        wanted=wanted,
        found=f"{one.found} of {one.among}" if one.among else NO_SUCH_SESSION,
        missing=wanted if one.among and not one.met else "",
        basis=_EIGHTY,
    )


def _where(where: WorkedUnder) -> str:
    match where.kind:
        case "distraction":
            return f"at {where.distraction}"
        case "distraction or above":
            return f"at {where.distraction} distraction or above"
        case "trailing line":
            if not where.distraction:
                return "with a trailing line, distraction not said"
            return f"with a trailing line, at {where.distraction}"
        case "drill steady":
            return "in drill steady"
        case "among birds" | "with gunfire":
            return where.kind


def _calls(one: CallCount) -> str:
    """A day's calls, those to check too: how many were met, what they are worth, and why some were
    not. How many the dog came to is said of the sure ones alone, where the calls are counted."""
    reasons = {
        TO_CHECK: one.doubtful,
        "with a stimulus": one.stimulated,
        "button not said": one.unsaid,
        "outcome not said": one.unended,
    }
    beside = ", ".join(f"{count} {why}" for why, count in reasons.items() if count)
    words = f"{one.met} of {counted(one.of, 'call')} unaided on {date_words(one.day)}"
    return f"{words} ({_points(one.points)}{f'; not met: {beside}' if beside else ''})"


def _points(points: float) -> str:
    """What a day's calls are worth: "12 points", "33 points taken off"."""
    whole = round(points)
    return f"{counted(abs(whole), 'point')}{' taken off' if whole < 0 else ''}"


def _little_button(one: LittleButton) -> CriterionWords:
    found = ", then ".join(
        f"{count.used} of {count.of}{f' (and {count.unsaid} not said)' if count.unsaid else ''}"
        for count in one.counts
    )
    return CriterionWords(
        name="little button",
        wanted=f"the button in at most {one.most} of the last {one.of} calls of each of the last "
        f"{one.sessions} such sessions, and not rising",
        found=(f"{found}, rising" if one.rising else found) or NO_SUCH_SESSION,
        missing=_MISSING_BUTTON[one.missing],
    )


# --- steps -----------------------------------------------------------------------------


def step_words(step: ReadinessStep) -> str:
    """The verdict on a step, and what is missing for it."""
    words = verdict_words(step)
    if not wants_more(step):
        return words
    return f"{words.rstrip('.')}; missing: {missing_words(step)}."


def wants_more(step: ReadinessStep) -> bool:
    """Whether something is missing for a step: at the top of the ladder there is none to take, and
    what is not met there is no reason to work there."""
    return step.verdict in ("nearly", "not yet") and not _is_top(step)


def _is_top(step: ReadinessStep) -> bool:
    return step.ladder == "distraction" and step.state == "at" and not step.next


def verdict_words(step: ReadinessStep) -> str:
    """The verdict on a step alone."""
    following = next_words(step)
    if step.state == "not said":
        return "No step can be judged yet."
    fell = any(isinstance(one, EnoughEvidence) and one.full for one in step.criteria)
    if _is_top(step) and step.verdict != "at the top":
        how = "Fell back, and not shown to be ready for it any more" if fell else _NOT_SHOWN
        return f"The top of the ladder. {how}: {_last_there(step)}."
    match step.verdict:
        case "at the top":
            return "The top of the ladder, its criteria met: nothing is above it."
        case "ready":
            return f"Ready for {following}."
        case "nearly":
            how = "Nearly ready"
        case "not yet":
            how = "Not yet ready"
    how = "Fell back, and not ready any more" if fell else how
    return f"{how} for {following}."


def _last_there(step: ReadinessStep) -> str:
    """How the last calls there went."""
    last = next((one for one in step.criteria if isinstance(one, LastCalls)), None)
    if last is None or not last.among:
        return "its calls there are too long ago, or without a date"
    return f"{last.found} of the last {counted(last.among, 'call')} there unaided"


def evidence_note(step: ReadinessStep) -> str:
    """What points are, and how often luck has enough of them."""
    ten = ", ".join(
        f"{met} of 10 unaided {_points(session_points(met, 10))}" for met in (10, 9, 8, 7, 5)
    )
    twice = session_points(10, 10, (10, 10))
    return (
        "Points say how much likelier a session is from a dog that comes unaided at "
        f"{100 * GOOD.rate:.0f} calls in 100 than from one that comes at {100 * POOR.rate:.0f}, "
        f"good and bad days allowed for: {ten}; never under 0, never over 100, which is "
        f"{FULL_RATIO:.0f} to 1. Good days come in runs, so a session after a good one earns less: "
        f"10 of 10 after 10 of 10 {_points(twice)}. All calls of one day are one session. A dog "
        f"that comes at six in ten is called ready by luck in at most {step.chance:.0%} of "
        f"simulated cases within {LOOKS} sessions, looked at after each; the other criteria make "
        "it fewer."
    )


def missing_words(step: ReadinessStep) -> str:
    """What would have to happen for the step."""
    missing = [criterion_words(one).missing for one in step.criteria if not one.met]
    return "; ".join(dict.fromkeys(filter(None, missing)))


def now_words(step: ReadinessStep) -> str:
    """Where the dog is on the ladder. `step` is the one worked at."""
    reached = step.state == "reached"
    match step.ladder:
        case "distraction":
            return step.at or "too few recalls at any yet"
        case "birds":
            if step.state == "not begun":
                return "no bird yet"
            if step.state == "met":
                return "met birds, no work on them yet"
            return "stage reached (profile)" if reached else f"worked among birds, {_NOT_REACHED}"
        case "gun":
            if step.state == "not begun":
                return "no gunfire yet"
            far = "with gunfire, distance not said"
            if step.shot_m is not None:
                far = f"last shot at {step.shot_m:.0f} m"
            return f"{far}, {'stage reached (profile)' if reached else _NOT_REACHED}"
        case "off the line":
            if reached:
                return "off the line (profile)"
            return f"line {step.at}" if step.at else "line not said"


def next_words(step: ReadinessStep) -> str:
    """What the step leads to."""
    begun = step.state not in ("not begun", "met")
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
    """What is to be known of the ladder; "" where that is nothing. `step` is as judged."""
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
