"""Findings as the arbiter takes them: of which kind each is, what it is about, what is said."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from voicelog.live.incidents import incident
from voicelog.live.sayings import Saying, SayingKind
from voicelog.live.tones import tone_s
from voicelog.model import Finding
from voicelog.report.spoken_wording import THUMB_OFF, spoken_warning, without_advice
from voicelog.safety.check import rules_with

__all__ = ["finding_sayings"]

_AT_ONCE = rules_with("at once")
_WHILE_PRESSED = rules_with("while pressed")


def finding_sayings(
    findings: Sequence[Finding], pressed: str | None, spoken_s: Callable[[str], float]
) -> tuple[Saying, ...]:
    """A saying for each finding that stands; a struck one stands no more.

    `pressed` is the entry of the press that goes on now, None where none does: what goes wrong by
    it is "thumb off". `spoken_s` says how long (s) words last.
    """
    stopped = {
        entry
        for finding in findings
        if finding.severity == "stop" and not finding.struck
        for entry in finding.evidence
    }
    return tuple(
        _saying(finding, pressed, stopped, spoken_s) for finding in findings if not finding.struck
    )


def _saying(
    finding: Finding, pressed: str | None, stopped: set[str], spoken_s: Callable[[str], float]
) -> Saying:
    key = incident(finding)
    words = spoken_warning(finding)
    short = without_advice(words)
    kind: SayingKind = finding.severity
    if finding.rule in _AT_ONCE:
        kind = "thumb off"
        if not stopped.isdisjoint(finding.evidence):
            words = short  # the stop that follows has the advice
    elif finding.rule in _WHILE_PRESSED and pressed and finding.evidence[:1] == (pressed,):
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
