"""Findings as the arbiter takes them: of which kind each is, what it is about, what is said.

In a long hard session hundreds stand. What is said of one depends on it, on the stops that rest on
the same entry, and on the press that goes on; so only what one of these changes is looked at again,
and the arbiter is told of nothing else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Container, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import compress

from voicelog.live.arbiter import StandingChange
from voicelog.live.incidents import incident
from voicelog.live.sayings import MANNERS, Saying, SayingKind
from voicelog.live.tones import tone_s
from voicelog.model import Finding
from voicelog.report.spoken_wording import THUMB_OFF, spoken_warning, without_advice
from voicelog.safety.check import RULES, rules_with
from voicelog.safety.joined_findings import take_one

__all__ = ["FindingSayings", "sayings_on"]

_AT_ONCE = rules_with("at once")
_WHILE_PRESSED = rules_with("while pressed")
_AT_END = frozenset(rule.name for rule in RULES if rule.decided == "session end")


def sayings_on(
    utterance: str, findings: Sequence[Finding], spoken_s: Callable[[str], float]
) -> tuple[Saying, ...]:
    """What is said of the `findings` that rest on the utterance of that id and are not struck;
    `spoken_s` says how long (s) words last."""
    stopped = {entry for finding in findings if _stops(finding) for entry in finding.evidence}
    return tuple(
        _saying(finding, _with_stop(finding, stopped), False, spoken_s)
        for finding in findings
        if utterance in finding.evidence and not finding.struck
    )


@dataclass(slots=True)
class _Said:
    """A finding that may stand, how it is said, and what."""

    finding: Finding
    how: tuple[bool, bool] | None = None
    saying: Saying | None = None


class FindingSayings:
    """Told each time that there are other findings, or another press goes on. `spoken_s` says how
    long (s) words last."""

    def __init__(self, spoken_s: Callable[[str], float]) -> None:
        self._spoken_s = spoken_s
        self._running: str | None = None
        self._pressed: str | None = None
        self._undecided: tuple[Saying, ...] = ()
        self._standing: dict[Hashable, Saying] = {}
        self._begin_anew()

    def _begin_anew(self) -> None:
        self._kept: dict[int, Finding] = {}
        self._said: dict[int, _Said] = {}
        self._stopped: Counter[str] = Counter()
        self._resting: dict[str, dict[int, None]] = {}
        self._by_key: dict[Hashable, dict[int, Saying]] = {}

    @property
    def standing(self) -> Mapping[Hashable, Saying]:
        """What is said of each thing that findings are about, as far as they stand."""
        return self._standing

    def change(
        self,
        findings: Sequence[Finding],
        running: str | None = None,
        pressed: str | None = None,
        undecided: tuple[Saying, ...] = (),
    ) -> StandingChange | None:
        """What the arbiter is to be told of the findings that stand now; None where nothing is
        other than before. One that is the same should be the same object.

        Args:
            findings: all there are; a struck one stands no more.
            running: the session (its id) under way, whose end decides nothing yet.
            pressed: the entry of the press that goes on now, None where none does: what goes wrong
                by it is "thumb off".
            undecided: what is said on top of that, of an utterance that is not decided.
        """
        keys: dict[Hashable, None] = {}
        if running != self._running:
            keys |= dict.fromkeys(self._standing)
            self._running = running
            self._begin_anew()
        names = tuple(map(id, findings))
        now = set(names)
        gone = self._kept.keys() - now
        new = compress(findings, map((now - self._kept.keys()).__contains__, names))
        looked: dict[int, None] = {}
        for name in tuple(compress(self._kept, map(gone.__contains__, self._kept))):
            keys |= self._remove(name, looked)
        for finding in tuple(new):
            self._add(finding, looked)
        if pressed != self._pressed:
            for entry in (self._pressed, pressed):
                looked |= self._resting.get(entry or "", {})
            self._pressed = pressed
        for name in looked:
            keys |= self._say(name)
        for saying in self._undecided:
            keys |= self._take_back(id(saying), saying)
        self._undecided = undecided
        for saying in undecided:
            keys |= self._offer(id(saying), saying)
        return self._choose(keys)

    def _remove(self, name: int, looked: dict[int, None]) -> dict[Hashable, None]:
        """Forget a finding; the key of what was said of it. What the end of a stop bears on is to
        be `looked` at."""
        del self._kept[name]
        said = self._said.pop(name, None)
        if said is None:
            return {}
        for entry in said.finding.evidence:
            self._resting[entry].pop(name, None)
            if _stops(said.finding):
                take_one(self._stopped, entry)
                looked |= self._resting[entry]
        return self._take_back(name, said.saying) if said.saying else {}

    def _add(self, finding: Finding, looked: dict[int, None]) -> None:
        name = id(finding)
        self._kept[name] = finding
        waits = finding.rule in _AT_END and finding.session == self._running
        if finding.struck or waits:
            return
        self._said[name] = _Said(finding)
        looked[name] = None
        for entry in finding.evidence:
            if _stops(finding):
                looked |= self._resting.get(entry, {})
                self._stopped[entry] += 1
            self._resting.setdefault(entry, {})[name] = None

    def _say(self, name: int) -> dict[Hashable, None]:
        """Find out what is said of a finding; the keys of it, where that has changed."""
        said = self._said.get(name)
        if said is None:
            return {}
        finding = said.finding
        goes_on = (
            finding.rule in _WHILE_PRESSED
            and self._pressed is not None
            and finding.evidence[:1] == (self._pressed,)
        )
        how = _with_stop(finding, self._stopped), goes_on
        if how == said.how:
            return {}
        said.how, said.saying = how, _saying(finding, *how, self._spoken_s)
        return self._offer(name, said.saying)

    def _offer(self, name: int, saying: Saying) -> dict[Hashable, None]:
        self._by_key.setdefault(saying.key, {})[name] = saying
        return {saying.key: None}

    def _take_back(self, name: int, saying: Saying) -> dict[Hashable, None]:
        self._by_key.get(saying.key, {}).pop(name, None)
        return {saying.key: None}

    def _choose(self, keys: Iterable[Hashable]) -> StandingChange | None:
        """Of each of these keys, what is said from now on."""
        stand, gone = [], []
        for key in keys:
            before = self._standing.pop(key, None)
            offered = self._by_key.get(key)
            if offered:
                chosen, *others = offered.values()
                if others:
                    chosen = min(offered.values(), key=_preference)
                self._standing[key] = chosen
                if chosen != before:
                    stand.append(chosen)
            else:
                self._by_key.pop(key, None)
                if before is not None:
                    gone.append(key)
        return StandingChange(tuple(stand), tuple(gone)) if stand or gone else None


def _preference(saying: Saying) -> tuple[object, ...]:
    """Of what may be said of one thing, the smallest is said: what goes first, and what is sure."""
    rests_on = sorted(saying.rests_on)
    return MANNERS[saying.kind].rank, saying.unsure, saying.words, saying.short, rests_on


def _stops(finding: Finding) -> bool:
    return finding.severity == "stop" and not finding.struck


def _with_stop(finding: Finding, stopped: Container[str]) -> bool:
    """Whether a stop that has the advice is said with it."""
    return finding.rule in _AT_ONCE and any(entry in stopped for entry in finding.evidence)


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
        general=not key.entry,
    )
