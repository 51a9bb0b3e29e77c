"""What the button teaches: it ends when the dog does what was asked, and begins after a chance to.

Moments are the narrator's and right only to within her error, so each rule asks whether most of
the time that may lie between two words is on the wrong side (`RuleContext.mostly_above`). Of what
was said in one breath nothing is known, and nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from voicelog.model import Mark, TimeInterval
from voicelog.safety.rule import RuleMatch, press_words, rule
from voicelog.safety.rule_context import RuleContext

__all__ = ["RULES"]

_ARRIVED = frozenset({"complied", "slow", "partial"})
_ERROR = ("mostly_share", "narrator_s")


@dataclass(slots=True)
class _Arrived:
    held: list[Mark] = field(default_factory=list)
    arrived: list[Mark] = field(default_factory=list)


@rule("kept-on", "caution", "arrival_s", *_ERROR)
def kept_on(view: RuleContext) -> Iterator[RuleMatch]:
    """A press that lasts went on after the dog had arrived."""
    limit_s = view.thresholds.arrival_s
    now = view.kept(_Arrived)
    for mark, _, _ in view.timeline:
        if mark.kind == "press":
            if view.sure(mark):
                now.held, now.arrived = [], []
            if mark.name != "momentary":
                now.held.append(mark)
        elif mark.kind == "outcome" and mark.name in _ARRIVED:
            now.arrived.append(mark)
        elif mark.kind == "off":
            pressed = [press for press in now.held if press.rep == mark.rep]
            for came in now.arrived:
                span = view.mostly_above(came, mark, limit_s) if came.rep == mark.rep else None
                if span is not None and pressed:
                    yield RuleMatch(
                        mark.entry,
                        (came, mark),
                        f"{press_words(pressed[-1])} stayed on {_span(span)} after the dog had "
                        f"arrived{view.where(mark)}.",
                        "Thumb off at the moment the dog does what was asked, and say it then.",
                    )
            if view.sure(mark):
                now.held = []


@dataclass(slots=True)
class _Turned:
    marks: list[Mark] = field(default_factory=list)


@rule("pressed-after-turn", "caution", *_ERROR)
def pressed_after_turn(view: RuleContext) -> Iterator[RuleMatch]:
    """A press that began after the dog had turned, and was not called again since."""
    turned = view.kept(_Turned)
    for mark, _, _ in view.timeline:
        if mark.kind == "turned":
            turned.marks.append(mark)
        elif mark.kind == "cue" and view.sure(mark):
            turned.marks = []
        elif mark.kind == "press":
            for turn in turned.marks:
                if turn.rep == mark.rep and view.mostly_above(turn, mark, 0.0) is not None:
                    yield RuleMatch(
                        mark.entry,
                        (turn, mark),
                        f"{press_words(mark)} was used{view.where(mark)} after the dog had turned.",
                        "Once the dog turns, leave the button alone. Where it turns away again, "
                        "call it again first.",
                    )


@dataclass(slots=True)
class _FirstOfReps:
    """The first call and the first press of each rep, with every doubtful one before it."""

    called: dict[int | None, tuple[Mark, ...]] = field(default_factory=dict)
    pressed: dict[int | None, tuple[Mark, ...]] = field(default_factory=dict)


@rule("no-time-to-answer", "remark", "answer_s", *_ERROR, once=True)
def no_time_to_answer(view: RuleContext) -> Iterator[RuleMatch]:
    """The first press of a rep came with the first call, or before it."""
    limit_s = view.thresholds.answer_s
    first_of = view.kept(_FirstOfReps)
    for mark, press, _ in view.timeline:
        if mark.kind == "cue" and mark.name != "called":
            mine, others = first_of.called, first_of.pressed
        elif press is not None and not view.in_search(press):
            mine, others = first_of.pressed, first_of.called
        else:
            continue
        before = mine.get(mark.rep, ())
        if any(map(view.sure, before)):
            continue
        mine[mark.rep] = (*before, mark)
        for other in others.get(mark.rep, ()):
            cue, first = (other, mark) if press is not None else (mark, other)
            if view.mostly_below(cue, first, limit_s) is not None:
                yield RuleMatch(
                    mark.entry,
                    (other, mark),
                    f"{press_words(first)} was used{view.where(first)} with the call or before it, "
                    "so that the dog could not answer first.",
                    f"Call, and give the dog {limit_s:g} s to answer; the best rep needs no "
                    "button.",
                )


@dataclass(slots=True)
class _SessionCalls:
    """Calls in order, and the last press of each rep."""

    cues: list[Mark] = field(default_factory=list)
    pressed: dict[int | None, Mark] = field(default_factory=dict)


@rule("every-call", "remark", "every_calls", decided="session end", once=True, anew=True)
def every_call(view: RuleContext) -> Iterator[RuleMatch]:
    """Every call of a session had the button. A doubtful call without it clears nothing."""
    least = view.thresholds.every_calls
    calls = view.kept(_SessionCalls)
    for mark, press, _ in view.timeline:
        if mark.kind == "cue":
            calls.cues.append(mark)
        elif press is not None and not view.in_search(press):
            calls.pressed[mark.rep] = mark
    if view.press_count < least:
        return
    found: dict[int | None, Mark] = {}
    for mark in calls.cues:
        if mark.rep in calls.pressed:
            found.setdefault(mark.rep, calls.pressed[mark.rep])
        elif view.sure(mark):
            return
    if len(found) >= least:
        marks = tuple(found.values())
        yield RuleMatch(
            marks[-1].entry,
            marks,
            f"All {len(marks)} calls of the session had the button.",
            "Call at least every second time without the button, so that you see what the dog "
            "does by itself; make it easier where it would not come.",
        )


def _span(span: TimeInterval) -> str:
    """A length of time, in whole seconds: "2 to 6 s"."""
    least, most = round(max(0.0, span.lo_s)), round(span.hi_s)
    return f"up to {most} s" if least == 0 else f"{least} to {most} s"


RULES = (kept_on, pressed_after_turn, no_time_to_answer, every_call)
