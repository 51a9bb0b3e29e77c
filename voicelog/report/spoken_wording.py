"""Everything that a live session may say aloud, in six words at most.

A finding's message is for the evening; what is spoken in the field is shorter, says what to
do, and never asks for a press. A stop begins with "stop".
"""

from __future__ import annotations

from collections.abc import Sequence

from voicelog.analysis.open_matters import OpenMatter, standing
from voicelog.model import Dog, Entry, Finding, Session, Severity
from voicelog.model.domain import STIMULATION
from voicelog.model.phrases import LevelPhrase, Question
from voicelog.report.wording.matters import spoken_matters, spoken_skin
from voicelog.report.words import counted
from voicelog.safety.advice import is_session_over_advice
from voicelog.safety.history import ANSWERED, History

__all__ = [
    "MAX_SPOKEN_WORDS",
    "SAY_WRONG_DOG",
    "SPOKEN_DEVICE_STATES",
    "SPOKEN_WARNINGS",
    "THUMB_OFF",
    "VARIED_WARNINGS",
    "first_words",
    "spoken_answer",
    "spoken_device_state",
    "spoken_question",
    "spoken_start",
    "spoken_warning",
    "without_advice",
]

MAX_SPOKEN_WORDS = 6
"""Words in anything that is spoken to her."""

SAY_WRONG_DOG = "Say wrong dog and name"
"""After "negative" to the dog's name."""

WITHOUT_FIRST = "Without the button first."
"""Last at the start of a dog's work, where nothing bars the button."""

THUMB_OFF = "Thumb off"
"""While a press goes on for too long."""

SPOKEN_WARNINGS: dict[str, str] = {
    "bird": "Stop. Not ready for birds",
    "button-not-falling": "Button use is not falling",
    "climbed": "Levels climbed far today",
    "coat-wet": "Coat is wet. Dry it",
    "contact-poor": "Check contact, say contact solid",
    "creeping": "Levels are creeping lately",
    "ended-failed": "End on something easy",
    "every-call": "Every call had the button",
    "fear-went-on": "It was afraid. Collar off",
    "fit-missing": "No fit check yet",
    "fit-wrong": "Fit is wrong. Refit collar",
    "gun": "Stop. Not ready for gunfire",
    "held-long": "Thumb off. Too much button",
    "kept-on": "Thumb off at the arrival",
    "many-sessions": "Enough sessions for today",
    "no-reaction-rising": "Check contact and fit first",
    "no-rest": "Rest one minute first",
    "no-time-to-answer": "Give it time to answer",
    "not-rolled-back": "Start the reps lower",
    "over-ceiling": "Stop. Above the ceiling",
    "over-range": "Level beyond this transmitter",
    "pressed-after-turn": "Turned already. Leave the button",
    "raised-unfelt": "Raised without contact. Start low",
    "same-site": "Was the collar turned?",
    "start-high": "Started too high. Go lower",
    "step-big": "That step was too big",
    "step-skipped": "A distraction step was skipped",
    "stress-level-again": "That level gave stress before",
    "stress-not-eased": "Stop. Not lowered after stress",
    "stress-rising": "Stress is growing lately",
    "stress-strong": "Thumb off. Rest one minute",
    "stress-twice": "Stop. No more stimulation today",
    "stress-weak": "Weak signs. Ease off",
    "test-failed": "Collar test failed. Mend it",
    "three-failed": "Three failed. Make it easier",
    "too-long": "Long enough. Finish this session",
    "too-many": "Enough presses for this dog",
    "too-young": "Stop. Too young for stimulation",
    "uncued": "No cue heard before stimulation",
    "vibrate-long": "Vibrate too long. Thumb off",
    "vibrate-often": "Enough vibrate for this dog",
    "vibrate-young": "Too young for vibrate yet",
    "warmup-missing": "No vibrate warm-up yet",
    "wear-long": "Worn too long. Collar off",
}
"""Of each rule, what is spoken; five words, since "perhaps" may come before."""

VARIED_WARNINGS = {
    ("heat", "remark"): "It is getting warm",
    ("heat", "caution"): "Hot. Water, shade, shorter work",
    ("heat", "stop"): "Stop. Too hot for work",
    ("unwell", "remark"): "Not well. Rest today",
    ("unwell", "caution"): "Not well. No button today",
    ("unwell", "stop"): "Stop. No button today",
}
"""Of a rule that weighs differently, what is spoken of each weight."""

_OVER: dict[Severity, str] = {
    "stop": "Stop. Session over, see vet",
    "caution": "Thumb off. Session is over",
    "remark": "The session is over",
}
"""What is spoken of any finding once the dog growled, snapped or bit."""

SPOKEN_DEVICE_STATES = {
    "gone": "Microphone gone",
    "stuck": "Microphone stuck. Start listening again",
    "silent": "Microphone is silent",
    "overloaded": "Microphone overloaded. Turn it down",
    "back": "Microphone back",
    "changed": "Microphone changed. Do sound check",
    "fainter": "Voice fainter. Check the microphone",
    "louder": "Voice louder. Check the microphone",
    "as before": "Voice as before",
    "earphone gone": "Earphone gone",
    "earphone back": "Earphone back",
    "disk full": "Disk full. Free some space",
    "disk back": "Disk writes again. All kept",
    "listening": "Listening",
    "one listener": "Listening. More to check tonight",
    "deaf": "Hearing test failed. Recording only",
    "ear gone": "Hearing stopped. Recording goes on",
    "ear back": "Hearing back",
    "careful gone": "Hearing worse. More to check",
    "slow": "Hearing late. More to check",
    "clock": "The clock was changed",
    "slept": "Machine slept",
}
"""What happened to the equipment, as spoken."""


def spoken_device_state(state: str, missed_s: float = 0.0) -> str:
    """What happened to the equipment (`state`, as the live session names it), in six words at most:
    "Microphone back. 12 seconds not heard", where sound of so long (`missed_s`, s) is missing; for
    hearing that is back, "Hearing back. 40 seconds late"."""
    words = SPOKEN_DEVICE_STATES[state]
    if round(missed_s) < 1:
        return words
    long = counted(round(missed_s), "second")
    if missed_s >= 100.0:
        long = counted(round(missed_s / 60.0), "minute")
    return f"{words}. {long} {'late' if state == 'ear back' else 'not heard'}"


def spoken_warning(finding: Finding) -> str:
    """What is spoken for a finding. A strong sign that is not sure is named after the advice."""
    if finding.rule == "stress-strong" and finding.on_doubt and ": " in finding.message:
        sign = finding.message.rpartition(": ")[2].rstrip(".").partition(",")[0]
        return first_words(f"Thumb off, perhaps {sign}")
    if is_session_over_advice(finding.advice):
        return _perhaps(_OVER[finding.severity], finding)
    varied = VARIED_WARNINGS.get((finding.rule, finding.severity))
    words = SPOKEN_WARNINGS.get(finding.rule) or varied
    if words is None:
        if finding.rule == "skin":
            sore = "sore" in finding.message
            words = "Stop. Skin sore, see vet" if sore else "Stop. Collar off, skin red"
        else:
            words = f"{finding.severity} {finding.rule.replace('-', ' ')}"
    return _perhaps(words, finding)


def _perhaps(words: str, finding: Finding) -> str:
    if finding.on_doubt:
        words = f"Perhaps {words[0].lower()}{words[1:]}"
    return first_words(words)


def without_advice(words: str) -> str:
    """A warning said before, without its advice; what a stop says stays whole. `words` are a spoken
    warning."""
    first = words.partition(". ")[0]
    return words if first.casefold().endswith("stop") else first


def first_words(words: str) -> str:
    """The first words, as many as may be spoken."""
    kept = words.split()
    return " ".join(kept[:MAX_SPOKEN_WORDS])


def spoken_question(entry: Entry) -> str:
    """A question whether this is what she said; a level alone where there is one. `entry` is the
    note that is asked about."""
    for phrase in entry.phrases:
        if isinstance(phrase, LevelPhrase):
            return f"{first_words(phrase.words)}?"
    return f"{first_words(entry.reading)}?"


def spoken_start(
    dog: Dog,
    ceiling: int | None,
    matters: Sequence[OpenMatter] = (),
    skin: str | None = None,
) -> str:
    """What is said when a dog's work begins: "Bracken. Collar 4. Ceiling 6. Without the button
    first."

    `matters` is its list of open matters; where none stands nothing is said of them, and where one
    bars the button the last sentence is "Stop open, no button." `skin` is how it was said to be
    last; red or sore, it is to be looked at first, also where its matter was closed. Nor is
    anything said of a collar where the profile of `dog` has none and no `ceiling` was set.
    """
    open_ = (spoken_matters(matters), spoken_skin(skin, matters))
    name = first_words(dog.name or "no dog")
    if ceiling is None and not dog.has_collar:
        return " ".join(filter(None, (f"{name}.", *open_)))
    collar = f"Collar {dog.collar_number}" if dog.collar_number is not None else "No collar number"
    limit = f"Ceiling {ceiling}" if ceiling is not None else "No ceiling"
    start = first_words(f"{name}. {collar}. {limit}.")
    barred = bool(open_[1]) or any(one.is_stop for one in standing(matters))
    return " ".join(filter(None, (start, *open_, "" if barred else WITHOUT_FIRST)))


def spoken_answer(
    ask: Question,
    *,
    session: Session | None,
    level: int | None,
    ceiling: int | None,
    notes: Sequence[Entry],
    history: History,
    said: str,
    matters: Sequence[OpenMatter] = (),
) -> str:
    """The answer to "say ..."; `ask` is what she asks for, as the grammar names it.

    `session` is the one under way, `level` the one last pressed or dialled, `ceiling` the one
    that holds; `notes` are the understood ones, oldest first, `said` what was spoken last,
    `matters` the dog's list of open matters.
    """
    if ask == "again":
        return said or "Nothing was said yet"
    if ask == "open" and session is not None:
        told = spoken_matters(matters) or spoken_skin(_skin(session, history), matters)
        return told.rstrip(".") or "Nothing is open"
    if session is None or (not session.dog.name and not session.reps):
        return "No session yet"
    if ask == "level":
        return "No level yet" if level is None else f"Level {level}"
    if ask == "ceiling":
        return "No ceiling" if ceiling is None else f"Ceiling {ceiling}"
    if ask == "count":
        reps = [rep for rep in session.reps if not rep.void]
        free = sum(rep.mode == "none" for rep in reps)
        return f"{len(reps)} {'rep' if len(reps) == 1 else 'reps'}, {free} no button"
    if ask == "working level":
        answered = _working_level(session, history)
        return "No working level yet" if answered is None else f"Answered at level {answered}"
    return first_words(notes[-1].reading) if notes else "Nothing yet"


def _skin(session: Session, history: History) -> str | None:
    """How the skin was said to be last, in this session or before it."""
    said = [
        str(mark.value) for mark in session.marks if (mark.kind, mark.name) == ("equipment", "skin")
    ]
    return said[-1] if said else history.skin


def _working_level(session: Session, history: History) -> int | None:
    """The level last answered at the distraction that holds, today or before."""
    distraction = session.condition("distraction")
    for rep in reversed(session.reps):
        fits = rep.distraction == distraction and not rep.doubtful and not rep.void
        if fits and rep.mode in STIMULATION and rep.outcome in ANSWERED:
            return rep.end_level
    same = history.transmitter == session.dog.transmitter
    return history.answered.get(distraction or "") if same else None
