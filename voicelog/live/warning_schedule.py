"""When a finding is spoken: at the right moment, and a stop until it is acknowledged.

A warning belongs to an incident: this press, this rep, this sign. The next one warns again,
with its advice left out, and the same one only when it has become more severe. While a rep is
open only a stop and a strong sign speak; the others wait for its outcome, for a moment in which
she does not speak, and for each other, and those of one rule are then said as one. A stop is
said twice; then a soft tick follows until "roger", or for two minutes. What no longer stands is
silent at once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from voicelog.live.incidents import Incident, incident
from voicelog.live.outputs import CancelSpeech, Output, PlayTone, SpeakWords
from voicelog.model import Finding
from voicelog.report.spoken_wording import spoken_warning, without_advice
from voicelog.safety.check import rules_with

__all__ = ["WarningSchedule"]

REPEAT_STOP_S = 4.0
"""Seconds after which a stop is said again."""
STOP_TONE_EVERY_S = 5.0
"""Seconds between the ticks that follow it."""
BETWEEN_S = 6.0
"""Seconds from one spoken finding to the next, unless that may not wait."""
LONGEST_S = 120.0
"""Seconds after which an unacknowledged stop falls silent; it stays on the screen."""

_ORDER = {"stop": 0, "caution": 1, "remark": 2}
_AT_ONCE = rules_with("at once")


@dataclass(slots=True)
class _Stop:
    words: str
    incident: Incident
    since_s: float
    again: bool = False

    @property
    def said(self) -> SpeakWords:
        return SpeakWords(self.words, urgent=True, rule=self.incident.rule, incident=self.incident)


@dataclass(slots=True)
class WarningSchedule:
    """Findings waiting for their moment. Times are seconds (s) in the recording."""

    waiting: list[Finding] = field(default_factory=list)
    stops: list[_Stop] = field(default_factory=list)
    spoken: dict[Incident, int] = field(default_factory=dict)
    _standing: set[Incident] = field(default_factory=set)
    _next_s: float = 0.0
    _free_s: float = 0.0

    def update(self, findings: Iterable[Finding]) -> tuple[Output, ...]:
        """Take in what stands now; what no longer stands is not spoken any more."""
        before = self._standing
        fresh: dict[Incident, Finding] = {}
        self._standing = set()
        for finding in findings:
            if finding.struck:
                continue
            key = incident(finding)
            self._standing.add(key)
            if _ORDER[finding.severity] < self.spoken.get(key, 3):
                worse = fresh.get(key)
                if worse is None or _ORDER[finding.severity] < _ORDER[worse.severity]:
                    fresh[key] = finding
        self.waiting = sorted(fresh.values(), key=_rank)
        return self._silenced((before & self.spoken.keys()) - self._standing)

    def long_press(self, finding: Finding) -> tuple[Output, ...]:
        """A press that lasts too long, said while it does; nothing when it was said before."""
        key = incident(finding)
        if key in self.spoken:
            return ()
        self.spoken[key] = _ORDER[finding.severity]
        self._standing.add(key)
        return (SpeakWords("Thumb off", urgent=True, rule=finding.rule, incident=key),)

    def speak(
        self, at_s: float, *, may_remark: bool, held_back: Collection[str] = ()
    ) -> tuple[Output, ...]:
        """What may be said now: every stop and strong sign; where `may_remark`, one other.

        What rests on an entry in `held_back` waits for her answer, unless it may not wait.
        """
        outputs: list[Output] = []
        still: list[Finding] = []
        said: set[tuple[str, str]] = set()
        stopped = any(finding.severity == "stop" for finding in self.waiting)
        for finding in self.waiting:
            key, rule = incident(finding), (finding.session, finding.rule)
            is_stop = finding.severity == "stop"
            at_once = is_stop or finding.rule in _AT_ONCE
            free = may_remark and (rule in said or (not outputs and at_s >= self._free_s))
            if not at_once and not (free and set(held_back).isdisjoint(finding.evidence)):
                still.append(finding)
                continue
            known = any((one.session, one.rule) == rule for one in self.spoken)
            self.spoken[key] = _ORDER[finding.severity]
            words = spoken_warning(finding)
            if known or (finding.rule in _AT_ONCE and stopped):
                words = without_advice(words)
            if is_stop:
                self.stops.append(_Stop(words, key, at_s))
                self._next_s = at_s + REPEAT_STOP_S
            if rule not in said:
                outputs.append(SpeakWords(words, urgent=at_once, rule=finding.rule, incident=key))
                self._free_s = at_s + BETWEEN_S
                said.add(rule)
        self.waiting = still
        return tuple(outputs)

    def tick(self, at_s: float) -> tuple[Output, ...]:
        """The second saying of a stop, and the ticks after it."""
        self.stops = [stop for stop in self.stops if at_s - stop.since_s < LONGEST_S]
        if not self.stops or at_s < self._next_s:
            return ()
        self._next_s = at_s + STOP_TONE_EVERY_S
        again = [stop for stop in self.stops if not stop.again]
        if not again:
            return (PlayTone("waiting"),)
        for stop in again:
            stop.again = True
        return tuple({stop.words: stop.said for stop in again}.values())

    def acknowledge(self) -> tuple[str, ...]:
        """She has heard the stops; the rules of those that were not acknowledged yet."""
        rules = tuple(dict.fromkeys(stop.incident.rule for stop in self.stops))
        self.stops = []
        return rules

    def _silenced(self, over: set[Incident]) -> tuple[Output, ...]:
        """What was said of these falls silent. A stop that comes to stand again is said again."""
        if not over:
            return ()
        for key in over:
            if self.spoken[key] == _ORDER["stop"]:
                del self.spoken[key]
        self.stops = [stop for stop in self.stops if stop.incident not in over]
        return (CancelSpeech(frozenset(over), ticks=not self.stops),)


def _rank(finding: Finding) -> tuple[int, bool]:
    """Thumb off first, then the stops, then the rest; what is sure before what rests on doubt."""
    return (-1 if finding.rule in _AT_ONCE else _ORDER[finding.severity], finding.on_doubt)
