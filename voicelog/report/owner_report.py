"""The owner's report in plain words: two pages for who takes the dog home.

It says what the dog does now and what it cannot do yet, the owner's own words and whistles,
how it was trained and what went wrong, when to stop and whom to contact. There is no level in it
to dial. Whether the collar goes home the log does not hear, so it stands there only when told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from datetime import date
from typing import Literal

from voicelog.analysis.open_matters import OpenMatter, standing
from voicelog.analysis.overview import DogOverview, overview
from voicelog.analysis.readiness import ReadinessStep
from voicelog.analysis.recent_calls import recent_sessions
from voicelog.analysis.session_digest import RepDigest, SessionDigest, by_date, skin_was_bad
from voicelog.analysis.session_scope import (
    has_call_and_outcome,
    reps_that,
    scope_of,
)
from voicelog.analysis.unaided import unaided
from voicelog.model import Dog, FrozenModel
from voicelog.model.domain import RECALL_WORDS, STIMULATION
from voicelog.report.owner_calls import (
    FEW_EXERCISES,
    CallBar,
    call_bars,
    calls_done,
    calls_not_yet,
)
from voicelog.report.summary import FOOTER
from voicelog.report.wording.matters import UNCHECKED, closed_words, owner_matter_words
from voicelog.report.wording.story import owner_story_words
from voicelog.report.words import clean, counted, date_words, listed, times_words
from voicelog.safety.cautions import SHORT
from voicelog.safety.settings import Thresholds

__all__ = ["Collar", "OwnerReport", "build"]

Collar = Literal["home", "stays"]
"""Whether the collar goes home with the dog."""


class OwnerReport(FrozenModel):
    """The report, worded; every list is sentences in reading order."""

    dog: str
    day: str
    ring: str
    """The contact; empty leaves a line to write on."""
    in_short: tuple[str, ...]
    bars: tuple[CallBar, ...]
    does: tuple[str, ...]
    not_yet: tuple[str, ...]
    words: tuple[tuple[str, str], ...]
    """What to say or blow, and what it means to the dog."""
    trained: tuple[str, ...]
    went_wrong: tuple[str, ...]
    go_on: tuple[str, ...]
    stop: tuple[str, ...]
    cautions: tuple[str, ...]
    footer: str = FOOTER


_MATTERS = 3
"""Matters that are told one by one; two pages have no room for more."""
_OTHERS = ("stop", "place", "heel", "steady")
_MEANS = {
    "recall pips": "Several short pips on the whistle: come to me.",
    "long blast": "One long blast: sit and stay where you are.",
    "turn pips": "Two pips: turn and look for the next signal.",
}


def build(
    session_digests: Sequence[SessionDigest],
    dog: Dog,
    thresholds: Thresholds,
    today: date | None = None,
    matters: Sequence[OpenMatter] | None = None,
    *,
    ring: str = "",
    collar: Collar | None = None,
    not_understood: int = 0,
) -> OwnerReport:
    """The report of a dog. `session_digests` are all its sessions in short, in any order;
    `matters` is its list of open matters (None: as the sessions left them), `ring` whom the owner
    rings, `collar` whether it goes home (None: nothing is said of that). `not_understood` are the
    lines of the notes of which nothing was read: they may hold anything, so without their number
    the report says of nothing that it never was."""
    session_digests = by_date(session_digests)
    found = overview(session_digests, dog, thresholds, today, matters)
    scope = scope_of(session_digests, today, found.matters)
    lately = recent_sessions(scope.session_digests, thresholds)
    reps = [rep for one in lately for rep in one.reps]
    name = clean(dog.name)
    bars = call_bars(found.story)
    tried = {
        one.rep.distraction
        for one in reps_that(session_digests, lambda rep: has_call_and_outcome(rep, "recall"))
    }
    return OwnerReport(
        dog=name,
        day="" if today is None else date_words(today),
        ring=clean(ring),
        in_short=owner_story_words(name, found.story, found.plan),
        bars=bars,
        does=_does(name, found, reps, bars),
        not_yet=_not_yet(name, found, bars, tried),
        words=_words(dog, reps),
        trained=_trained(session_digests, collar, not_understood),
        went_wrong=_went_wrong(name, session_digests, found.matters, not_understood),
        go_on=_go_on(name),
        stop=_STOP,
        cautions=tuple(SHORT.splitlines()),
    )


_STOP = (
    "Stop and call the trainer if the dog yelps, freezes, hides, will not come near you, growls or "
    "snaps.",
    "Stop if it pants, yawns, licks its lips or shakes itself again and again in your training.",
    "Stop when you are cross or in a hurry. End on something easy, and try another day.",
    "If the neck is red or sore: nothing on it until it is healed. Sore skin goes to the vet.",
    "Heat: no training in the warm hours; water and shade at once if it stays out of breath.",
)


def _does(
    name: str, found: DogOverview, reps: Sequence[RepDigest], bars: Sequence[CallBar]
) -> tuple[str, ...]:
    lines = list(calls_done(bars))
    if found.story.long_ago and lines:
        weeks = counted(found.story.today.weeks_ago or 0, "week")
        lines.insert(0, f"As of {weeks} ago, when it was last called in training:")
    others: Counter[str | None] = Counter()
    done: Counter[str | None] = Counter()
    for rep in reps:
        if rep.state == "sure" and rep.drill in _OTHERS and rep.outcome not in (None, "unknown"):
            others[rep.drill] += 1
            done[rep.drill] += unaided(rep)
    for drill, many in others.most_common():
        if many >= FEW_EXERCISES and done[drill] >= 0.8 * many:
            lines.append(f"{str(drill).capitalize()}: done {done[drill]} times of {many}.")
    line = next((s for s in found.readiness if s.ladder == "off the line"), None)
    if line is not None and line.state == "reached":
        lines.append("Works without a line.")
    return tuple(lines) or (f"{name} does nothing reliably enough yet to promise it.",)


def _not_yet(
    name: str, found: DogOverview, bars: Sequence[CallBar], tried: Collection[str | None]
) -> tuple[str, ...]:
    steps = [words for step in found.readiness if (words := _step_words(step))]
    lines = (*calls_not_yet(bars, tried), *steps)
    return lines or (f"{name} has done what it was asked in all of the above.",)


def _step_words(step: ReadinessStep) -> str:
    match step.ladder:
        case "birds" if step.state == "not begun":
            return "Birds: not met in training yet."
        case "birds" if step.state == "met":
            return "Birds: met, not worked on yet. Keep the dog away from them for now."
        case "birds" if step.state == "begun":
            return "Birds: worked near them, stage not reached. Keep the dog away from them."
        case "gun" if step.state == "not begun":
            return "Gunfire: not met in training yet. Do not take the dog near shooting."
        case "gun" if step.state == "begun":
            return "Gunfire: worked near it, stage not reached. Do not take the dog near shooting."
        case "off the line" if step.state == "begun":
            return "Off the line: not yet. Keep a long line on the dog wherever it could run off."
        case _:
            return ""


_COME = "Come to me, now. Say it once, in a friendly voice, and praise it."
_ASK = "A word that it knows: have its trainer show you what it means."


def _words(dog: Dog, reps: Sequence[RepDigest]) -> tuple[tuple[str, str], ...]:
    """The dog's own cue words, then the whistles it was called with. What a word means is known
    where its trainer has said it; else of those that call everywhere, and of one to which it came
    in recalls and that was used in no other drill."""
    heard = Counter(rep.cue for rep in reps if rep.cue_by == "voice" and rep.cue)
    spoken = dict.fromkeys([*dog.cues, *(cue for cue, _ in heard.most_common(4))])
    called = [rep for rep in reps if rep.cue_by == "voice"]
    called_in = {rep.cue for rep in called if rep.drill == "recall" and rep.came}
    called_in -= {rep.cue for rep in called if rep.drill in _OTHERS}
    rows = [
        (f"“{clean(cue)}”", _asks(dog, cue) or (_COME if cue in called_in | RECALL_WORDS else _ASK))
        for cue in spoken
        if cue not in _MEANS and cue != "called"
    ]
    blown = Counter(rep.cue for rep in reps if rep.cue_by == "whistle" and rep.cue)
    rows += [(clean(cue), _MEANS.get(cue, "A whistle.")) for cue, _ in blown.most_common()]
    return tuple(rows)


def _asks(dog: Dog, cue: str) -> str:
    """What the trainer says that a cue asks for, as a sentence; empty where nothing was said."""
    meaning = clean(dog.meaning_of(cue)).rstrip(".")
    return f"{meaning[:1].upper()}{meaning[1:]}." if meaning else ""


def _left_out(not_understood: int) -> tuple[str, ...]:
    """That something of the notes is in no count; nothing where all of them were read."""
    if not not_understood:
        return ()
    one = not_understood == 1
    return (
        f"{counted(not_understood, 'line')} of the notes {'was' if one else 'were'} not understood "
        f"and {'is' if one else 'are'} in no number here: ask the trainer what "
        f"{'it says' if one else 'they say'}.",
    )


def _trained(
    session_digests: Sequence[SessionDigest], collar: Collar | None, not_understood: int
) -> tuple[str, ...]:
    left = _left_out(not_understood)
    worked = [one for one in session_digests if any(rep.state != "void" for rep in one.reps)]
    every = sum(rep.state != "void" for one in session_digests for rep in one.reps)
    reps = [rep for one in session_digests for rep in one.reps if rep.state == "sure"]
    if not reps:
        return (*left, "Nothing else is on record." if left else "Nothing is on record.")
    days_worked = [worked[0].day, worked[-1].day]
    span = " to ".join(date_words(day) for day in dict.fromkeys(days_worked))
    unread = every - len(reps)
    left_out = f" ({unread} not reviewed yet, so not counted here)" if unread else ""
    in_all = (
        f"On record: {counted(len(worked), 'session')} with exercises, {counted(every, 'exercise')}"
        f"{left_out}; {span}."
    )
    pressed = [rep for rep in reps if rep.mode in STIMULATION]
    buzz = sum(rep.mode in ("vibrate", "tone") for rep in reps)
    given = Counter(reward for rep in reps for reward in rep.rewards)
    rewards = (
        "Rewards on record: "
        + ", ".join(
            f"{clean(reward)} ({times_words(times)})" for reward, times in given.most_common()
        )
        + "."
        if given
        else "No reward is on record; that may only mean that none was said aloud."
    )
    if not pressed and not buzz:
        none = "No electronic collar is in the notes that were understood."
        return (none if left else "Without an electronic collar.", *left, in_all, rewards)
    days = {one.session for one in session_digests for rep in one.reps if rep.mode in STIMULATION}
    return (
        "With an electronic collar, among other things; you have a right to know.",
        f"Of {counted(len(reps), 'exercise')}, {len(pressed) or 'none'} "
        f"{'was' if len(pressed) == 1 else 'were'} done with stimulation from it (in "
        f"{len(days)} of {counted(len(worked), 'session')} with exercises) "
        f"and {buzz or ('none that was understood' if left else 'none')} with its vibration or "
        "tone; in the others no button was used, or none was said.",
        *left,
        in_all,
        rewards,
        *_of_the_collar(collar),
        "Do not put a collar on to make it come: the words and the whistle are what it knows.",
    )


def _of_the_collar(collar: Collar | None) -> tuple[str, ...]:
    """Whether it goes home; nothing where nobody told."""
    match collar:
        case "home":
            return (
                "The collar goes home with the dog. Use it only where the law allows it, and not "
                "before the trainer has shown you how.",
            )
        case "stays":
            return ("The collar is not part of what you take home.",)
        case None:
            return ()


def _went_wrong(
    name: str,
    session_digests: Sequence[SessionDigest],
    matters: Sequence[OpenMatter],
    not_understood: int,
) -> tuple[str, ...]:
    strong = [
        (one, sign.name)
        for one in session_digests
        for rep in one.reps
        if rep.state != "void"
        for sign in rep.signs
        if sign.class_ == "strong"
    ]
    stops = [one for one in session_digests if one.stops]
    skin = [(one, bad) for one in session_digests if (bad := skin_was_bad(one)) is not None]
    lines = []
    if strong:
        signs = Counter(sign for _, sign in strong)
        many = listed(
            f"{sign} ({times_words(times)})" if times > 1 else sign
            for sign, times in signs.most_common()
        )
        days = counted(len({one.session for one, _ in strong}), "session")
        lines.append(
            f"In {days} {name} showed plain signs of stress: {many}; the last time on "
            f"{date_words(strong[-1][0].day)}."
        )
    if stops:
        lines.append(
            f"The safety rules of the log called for a stop in {counted(len(stops), 'session')}, "
            f"the last on {date_words(stops[-1].day)}."
        )
    if skin:
        lines.append(
            f"The skin under the collar was {skin[-1][1]}, last on {date_words(skin[-1][0].day)}"
            f"{UNCHECKED if skin[-1][0].skin_on_doubt else ''}."
        )
    ignored = sum(
        rep.failed is not None for one in session_digests for rep in one.reps if rep.state == "sure"
    )
    if ignored:
        lines.append(f"It ignored what it was asked, left or broke {times_words(ignored)}.")
    open_ = standing(matters)
    lines += [owner_matter_words(one) for one in open_[:_MATTERS]]
    if len(open_) > _MATTERS:
        more = counted(len(open_) - _MATTERS, "more such matter")
        lines.append(f"{more.capitalize()} not settled yet: ask the trainer.")
    closed = [one for one in matters if one.state == "closed"]
    lines += [f"Settled since: {closed_words(one)}." for one in closed[:_MATTERS]]
    if len(closed) > _MATTERS:
        more = counted(len(closed) - _MATTERS, "more such matter")
        lines.append(f"{more.capitalize()} settled since: ask the trainer.")
    if not lines and not_understood:
        return ("Nothing of that kind is in the notes that were understood.",)
    return tuple(lines) or ("Nothing of that kind is on record.",)


def _go_on(name: str) -> tuple[str, ...]:
    return (
        "Call once. If it does not come, go and get it, or use the line; do not call on and on.",
        "Make it worth coming: praise, food, a game, every time in the first weeks.",
        "Short and often: five good calls in the garden are worth more than twenty in a field.",
        "Make one thing harder at a time: further off, or more going on, never both.",
        f"If {name} fails twice, it was too hard: make it easier, and end on a call it answers.",
    )
