"""When a finding is spoken: at the right moment, once, and a stop until it is acknowledged.

While a rep is open only a stop speaks; the others wait for its outcome, for a moment in
which she does not speak, and for each other. Each rule speaks once a session, and once more
only when it has become more severe. A stop is said twice; then a soft tick follows until
"roger", or for two minutes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from voicelog.field.acts import Act, Play, Say
from voicelog.field.wording import warning
from voicelog.model import Finding

__all__ = ["Manners"]

AGAIN_S = 4.0
"""Seconds after which a stop is said again."""
TICK_S = 5.0
"""Seconds between the ticks that follow it."""
BETWEEN_S = 6.0
"""Seconds from one spoken finding to the next, unless that is a stop."""
LONGEST_S = 120.0
"""Seconds after which an unacknowledged stop falls silent; it stays on the screen."""

_ORDER = {"stop": 0, "caution": 1, "remark": 2}


@dataclass(slots=True)
class _Stop:
    words: str
    rule: str
    since_s: float
    again: bool = False


@dataclass(slots=True)
class Manners:
    """Findings waiting for their moment. Times are seconds (s) in the recording."""

    waiting: list[Finding] = field(default_factory=list)
    stops: list[_Stop] = field(default_factory=list)
    spoken: dict[tuple[str, str], int] = field(default_factory=dict)
    _next_s: float = 0.0
    _free_s: float = 0.0

    def found(self, findings: Iterable[Finding]) -> None:
        """Take in what stands now; what no longer stands is not spoken any more."""
        fresh: dict[tuple[str, str], Finding] = {}
        for finding in findings:
            key = finding.session, finding.rule
            if not finding.struck and _ORDER[finding.severity] < self.spoken.get(key, 3):
                worse = fresh.get(key)
                if worse is None or _ORDER[finding.severity] < _ORDER[worse.severity]:
                    fresh[key] = finding
        self.waiting = sorted(fresh.values(), key=lambda one: _ORDER[one.severity])

    def speak(
        self, at_s: float, *, may_remark: bool, held_back: Collection[str] = ()
    ) -> tuple[Act, ...]:
        """What may be said now: every stop; where `may_remark`, one of the others.

        What rests on an entry in `held_back` waits for her answer.
        """
        acts: list[Act] = []
        still: list[Finding] = []
        for finding in self.waiting:
            is_stop = finding.severity == "stop"
            free = may_remark and not acts and at_s >= self._free_s
            if not is_stop and not (free and set(held_back).isdisjoint(finding.evidence)):
                still.append(finding)
                continue
            self.spoken[finding.session, finding.rule] = _ORDER[finding.severity]
            words = warning(finding)
            acts.append(Say(words, urgent=is_stop, rule=finding.rule))
            self._free_s = at_s + BETWEEN_S
            if is_stop:
                self.stops.append(_Stop(words, finding.rule, at_s))
                self._next_s = at_s + AGAIN_S
        self.waiting = still
        return tuple(acts)

    def tick(self, at_s: float) -> tuple[Act, ...]:
        """The second saying of a stop, and the ticks after it."""
        self.stops = [stop for stop in self.stops if at_s - stop.since_s < LONGEST_S]
        if not self.stops or at_s < self._next_s:
            return ()
        self._next_s = at_s + TICK_S
        again = [stop for stop in self.stops if not stop.again]
        if not again:
            return (Play("waiting"),)
        for stop in again:
            stop.again = True
        return tuple(Say(stop.words, urgent=True, rule=stop.rule) for stop in again)

    def roger(self) -> tuple[str, ...]:
        """She has heard the stops; the rules of those that were not acknowledged yet."""
        rules = tuple(stop.rule for stop in self.stops)
        self.stops = []
        return rules
