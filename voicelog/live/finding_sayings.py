"""Findings as the arbiter takes them: of which kind each is, what it is about, what is said."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from voicelog.live.incidents import incident
from voicelog.live.sayings import Saying, SayingKind
from voicelog.live.tones import tone_s
from voicelog.model import Finding
from voicelog.report.spoken_wording import THUMB_OFF, spoken_warning, without_advice
from voicelog.safety.check import rules_with

__all__ = ["FindingSayings"]

_AT_ONCE = rules_with("at once")
_WHILE_PRESSED = rules_with("while pressed")


class FindingSayings:
    """Asked each time that there are more findings: what is said of one stays. `spoken_s` says how
    long (s) words last."""

    def __init__(self, spoken_s: Callable[[str], float]) -> None:
        self._spoken_s = spoken_s
        self._known: dict[int, tuple[Finding, tuple[bool, bool], Saying]] = {}

    def sayings(self, findings: Sequence[Finding], pressed: str | None) -> tuple[Saying, ...]:
        """A saying for each finding that stands; a struck one stands no more. `pressed` is the
        entry of the press that goes on now, None where none does: what goes wrong by it is "thumb
        off"."""
        stopped = {
            entry
            for finding in findings
            if finding.severity == "stop" and not finding.struck
            for entry in finding.evidence
        }
        known: dict[int, tuple[Finding, tuple[bool, bool], Saying]] = {}
        for finding in findings:
            if finding.struck:
                continue
            how = (
                finding.rule in _AT_ONCE and not stopped.isdisjoint(finding.evidence),
                finding.rule in _WHILE_PRESSED
                and pressed is not None
                and finding.evidence[:1] == (pressed,),
            )
            before = self._known.get(id(finding))
            if before is None or before[0] is not finding or before[1] != how:
                before = finding, how, _saying(finding, *how, self._spoken_s)
            known[id(finding)] = before
        self._known = known
        return tuple(saying for _, _, saying in known.values())


def _saying(
    finding: Finding, with_stop: bool, goes_on: bool, spoken_s: Callable[[str], float]
) -> Saying:
    key = incident(finding)
    words = spoken_warning(finding)
    short = without_advice(words)
    kind: SayingKind = finding.severity
    if finding.rule in _AT_ONCE:
        kind = "thumb off"
        if with_stop:
            words = short  # the stop that follows has the advice
    elif goes_on:
        kind, words = "thumb off", THUMB_OFF
        short = words
    before_s = tone_s("stop") if kind == "stop" else 0.0
    return Saying(
        kind,
        key,
        words,
        before_s + spoken_s(words),
        tone="stop" if kind == "stop" else None,
        group=(finding.session, finding.rule),
        short=short,
        short_s=before_s + spoken_s(short),
        rests_on=frozenset(finding.evidence),
        unsure=finding.on_doubt,
    )
