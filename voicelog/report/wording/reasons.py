"""Reasons, limits, the aim and the warm-up of a plan, and the verdict on a litter, in words."""

from __future__ import annotations

from typing import assert_never

from voicelog.analysis.kennel import Litter
from voicelog.analysis.plan import Aim, Plan, WarmUp
from voicelog.analysis.reason import Reason
from voicelog.report.wording.levels import ceiling_words
from voicelog.report.wording.matters import (
    CLOSED_BY,
    EACH_CLOSED_BY,
    SKIN_FIRST,
    earlier_words,
    matter_words,
    stop_words,
)
from voicelog.report.wording.readiness import missing_words, step_words
from voicelog.report.words import counted, date_words, listed
from voicelog.safety.advice import PROFESSIONAL

__all__ = ["aim_words", "bounds_words", "litter_words", "one_line", "reason_words", "warm_up_words"]


def reason_words(one: Reason) -> str:
    """Why something is advised, in one sentence or two."""
    names, day = ", ".join(one.names), date_words(one.day)
    match one.code:
        case "open matter":
            return "A matter is open." if one.matter is None else matter_words(one.matter)
        case "sore skin":
            return f"The skin was sore on {day}, and that is open: collar off, see a vet."
        case "aggression":
            return (
                f"{names.capitalize()} on {day}, and that is open: no session until "
                f"{PROFESSIONAL} has been asked."
            )
        case "enough today":
            return f"{counted(one.count, 'session')} today already: enough."
        case "stop today":
            what = listed(map(stop_words, one.names))
            if not one.count:
                return f"A stop today was closed ({what}): no more work today."
            return f"A stop of today stands ({what})."
        case "strong sign today":
            return "A strong sign today: no more work today."
        case "stop stands":
            if one.count == 1:
                return f"A stop is open: no button until {CLOSED_BY}."
            return f"{one.count} stops are open: no button until {EACH_CLOSED_BY}."
        case "too young":
            return f"{one.count} months old: no button before {one.needed}."
        case "ceiling":
            return _ceiling(one)
        case "skin":
            was = names or "not said to be clear before the collar was put on or used"
            earlier = "" if one.matter is None else earlier_words(one.matter)
            found = f"The skin was {was} on {day}{f' ({earlier})' if earlier else ''}"
            if one.cleared is None:
                return f"{found}, and that is open: no collar until clear."
            return (
                f'{found}. "Skin clear" was noted on {date_words(one.cleared)}; the matter is '
                f"still open, and the collar stays off, until {CLOSED_BY}."
            )
        case "skin to look at" if one.cleared is not None:
            return (
                f'The skin was {names} on {day}. "Skin clear" on the same day does not lift that: '
                f"look again on a later day. {SKIN_FIRST}"
            )
        case "skin to look at":
            return f"The skin was {names} on {day}; no note since says it is clear. {SKIN_FIRST}"
        case "went against":
            return (
                f"The session of {day} went badly for the dog ({names}), and no easy one has been "
                f"since: first one without the button, with {one.needed} or more calls that it "
                "answers at once."
            )
        case "no levels":
            return "This transmitter has no levels."
        case "thin evidence":
            return (
                f"Never above {one.level} at the start, the lowest level: too few reps. At this "
                "distraction or an easier one, with this transmitter, no level has as many as "
                f"{one.needed} answered recalls ({one.mode})."
            )
        case "no date":
            return (
                f"Never above {one.level} at the start, the lowest level: it is not known on "
                f"which days recalls were answered ({one.mode})."
            )
        case "answered low":
            return (
                f"Never above {one.level} at the start: the dog came at that or a lower level in "
                f"{counted(one.count, 'recall')} ({one.mode})."
            )
        case "faded":
            return (
                f"Never above {one.level} at the start: the level that the dog answered "
                f"({one.mode}) is {counted(one.count, 'week')} old ({day}), and one step is taken "
                f"off for every {counted(one.needed, 'week')} (common practice)."
            )
        case "step above answered":
            return (
                f"Never above {one.level}: one step above the level that was needed in "
                f"{one.needed} recalls or more ({one.mode})"
                f"{', with the same taken off' if one.count else ''}."
            )
        case "none answered":
            return (
                f"Never above {one.level}: one step above the lowest level, because too few "
                f"recalls were answered ({one.mode})."
            )
        case "other transmitter":
            return "The profile's transmitter is not that of the last session: levels start over."
        case "no distraction":
            return "No distraction was worked often enough yet: begin with none."
        case "after a stop":
            if one.next == one.at:
                return f"After a stop: no step up; stay at distraction {one.at}."
            return f"After a stop: work at distraction {one.next}, easier than {one.at}."
        case "strong sign there":
            return f"A strong sign at distraction {one.at} on {day}{_eased(one)} {_until_well(one)}"
        case "bad day":
            stops = counted(one.counts[0], "stop") if one.counts and one.counts[0] else ""
            what = listed(filter(None, (*one.names, stops))) or "few calls were answered"
            return (
                f"The session of {day} went badly for the dog ({what}): work at distraction "
                f"{one.next} at most. {_until_well(one)}"
            )
        case "few unaided":
            return (
                f"At distraction {one.at} the dog came unaided in fewer than half of "
                f"{counted(one.count, 'rep')} on {day}{_eased(one)} {_until_well(one)}"
            )
        case "ready":
            return (
                f"Ready for distraction {one.next}: begin there with something easy, and go back "
                "if it is too much."
            )
        case "not ready":
            return (
                f"{'' if one.step is None else step_words(one.step)} Stay at distraction {one.at}."
            )
        case "first sign":
            return f"First sign so far: {names} ({counted(one.count, 'rep')})."
        case "strong sign":
            return f"{names.capitalize()} on {day}. If you see it again: thumb off at once."
        case "weak signs":
            common = ", ".join(
                f"{name} ({many})" for name, many in zip(one.names, one.counts, strict=True)
            )
            return f"Weak signs so far: {common}. Two in one rep: stop there."
        case "no sign":
            return "No sign is on record: note what you see first."
        case "stress":
            return f"Stress on {day}: {names}."
        case "stuck":
            return _stuck(one)
        case "not worked out":
            return (
                f"Could not be worked out ({names}): no button until that is fixed; tell its "
                "makers."
            )
        case _:
            assert_never(one.code)


def _eased(one: Reason) -> str:
    if one.next == one.at:
        return f": stay at distraction {one.next}, and make it easier."
    return f": make it easier, at distraction {one.next}."


def _until_well(one: Reason) -> str:
    return (
        f"No step up before a later day has gone well ({one.needed} calls or more, and at least "
        "half of all, answered at once, unaided)."
    )


def _ceiling(one: Reason) -> str:
    if one.ceiling is None:
        return ""
    bound = "" if one.ceiling.level is None else f"Never above {one.ceiling.level}: "
    why = ceiling_words(one.ceiling)
    return f"{bound}{why[0].lower() if bound else why[0]}{why[1:]}"


def _stuck(one: Reason) -> str:
    missing = "" if one.step is None else missing_words(one.step)
    ahead = "the next" if one.step is None else f"distraction {one.step.next}"
    return (
        f"{counted(one.count, 'session')} at distraction {one.at} and not ready for {ahead}"
        f"{f'; missing: {missing}' if missing else ''}."
    )


def warm_up_words(one: WarmUp) -> str:
    """How to begin. `one` is its code."""
    easy = "Two easy recalls without the button."
    match one:
        case "easy":
            return easy
        case "not on vibrate":
            return f"{easy} No vibrate: it has shown a strong sign at it."
        case "on vibrate":
            return f"{easy} Where the button is used at all, no level comes before vibrate."


def aim_words(one: Aim) -> str:
    """What the session is for. `one` is its code."""
    match one.code:
        case "settle the stop":
            return (
                "An easy session without the button: end on a call that the dog knows. What is "
                f"open waits until {CLOSED_BY}."
            )
        case "see without the button":
            return "See what the dog does without the button. Say the distraction and each call."
        case "next step":
            return f"See whether distraction {one.next} is too much. End after a good rep."
        case "first calls":
            return (
                f"At least {one.passes} of {one.of} calls answered at once, unaided; with more "
                "the next step comes sooner. End on something the dog knows."
            )


def bounds_words(one: Plan) -> str:
    """The levels never to go above, at the start and later; `one` is a plan with a button."""
    thin = " (too few reps)" if one.thin else ""
    if one.start == one.most:
        return f"never above {one.most}{thin}"
    return f"never above {one.start} at the start{thin}, never above {one.most} later"


def one_line(one: Plan) -> str:
    """The plan in one line, for a list of dogs: no level, since it has them from all sessions."""
    if not one.session:
        return "no session today"
    if one.stops:
        return f"distraction {one.distraction}, no button: a stop is open"
    return f"distraction {one.distraction}, {'without the' if one.button else 'no'} button"


def litter_words(one: Litter) -> str:
    """The verdict on a litter, or why there is none. `one` holds its numbers."""
    if one.first_call is None:
        return (
            f"{counted(len(one.pups), 'pup')}, {one.of} of them with recalls: too few to say "
            f"anything of a litter ({one.needed} are needed)."
        )
    low, middle, high = one.first_call
    return (
        f"First call unaided, of {one.of} pups: from {low:.0%} to {high:.0%}, the middle one "
        f"{middle:.0%}. One kennel and its handlers raised them: it says as much of them as of "
        "the litter."
    )
