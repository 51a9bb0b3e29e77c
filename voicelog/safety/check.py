"""Run every rule over a session, and join what the worlds of a session show.

One session is assembled three times: without its doubtful entries (sure), with them
(believed), and with its struck entries still standing. A finding that the sure world shows
is sure; one that only the believed world shows rests on doubt; one that only the standing
world shows was struck. None of them hides another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Sequence
from itertools import takewhile

from voicelog.model import Finding, Mark, Session
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.grown import begins_with, same_until
from voicelog.safety.advice import is_session_over_advice
from voicelog.safety.history import History
from voicelog.safety.rule import LiveManner, Rule
from voicelog.safety.rule_context import MarkKey, mark_key
from voicelog.safety.rule_walk import RuleWalk, WatchedSession
from voicelog.safety.rules import (
    across_sessions,
    contingency,
    ending,
    fit,
    health,
    heat,
    level,
    limits,
    press,
    rising_levels,
    skin,
    stage,
    start,
    stress,
    vibrate,
    weak_signs,
)
from voicelog.safety.settings import Settings

__all__ = [
    "RULES",
    "FindingsWalk",
    "check",
    "findings",
    "gravest_first",
    "rule_named",
    "rules_with",
]

RULES: tuple[Rule, ...] = (
    *stress.RULES,
    *weak_signs.RULES,
    *skin.RULES,
    *stage.RULES,
    *level.RULES,
    *start.RULES,
    *fit.RULES,
    *press.RULES,
    *contingency.RULES,
    *rising_levels.RULES,
    *vibrate.RULES,
    *limits.RULES,
    *health.RULES,
    *heat.RULES,
    *across_sessions.RULES,
    *ending.RULES,
)
"""Every rule, in the order in which findings of one severity are listed."""

_AT_ONCE = tuple(rule for rule in RULES if rule.decided == "at once")
_ORDER = {"stop": 0, "caution": 1, "remark": 2}

Seen = dict[tuple[str, str], Finding]


def rules_with(manner: LiveManner) -> frozenset[str]:
    """The names of the rules that a live session treats in that manner."""
    return frozenset(rule.name for rule in RULES if manner in rule.live)


def check(session: Session, history: History, settings: Settings) -> tuple[Finding, ...]:
    """The findings of one session, stops first; pure, and the same at every call."""
    return gravest_first(_seen(RuleWalk(RULES).look(session, history, settings), ()).values())


def findings(
    sure: Sequence[Session],
    believed: Session,
    standing: Sequence[Session],
    history: History,
    settings: Settings,
    *,
    running: bool = False,
) -> tuple[Finding, ...]:
    """The findings of a session with doubtful or struck entries, stops first.

    `sure` and `standing` are the sessions of those worlds that overlap this one: one each as
    a rule, none or more where a doubtful or struck entry began or ended a session. Rep
    numbers are those of `believed`, and a struck rep keeps its own. Of a session that is still
    `running`, the rules that its end decides are not asked.
    """
    walk = FindingsWalk()
    return walk.findings(sure, believed, standing, history, settings, running=running)


class FindingsWalk:
    """The findings of one session, each time there is more of it, or some of it is other; `even`
    is that of `KeptStates`."""

    def __init__(self, *, even: int | None = None) -> None:
        self._even = even
        self._walks: dict[tuple[str, str, bool], RuleWalk] = {}
        self._told: dict[tuple[str, str], _Told] = {}
        self._alike: dict[str, tuple[Sequence[Mark], Sequence[Mark]]] = {}
        self._joined: tuple[tuple[object, ...], tuple[Finding, ...]] = ((), ())
        self._entries: Sequence[str] = ()

    def findings(
        self,
        sure: Sequence[Session],
        believed: Session,
        standing: Sequence[Session],
        history: History,
        settings: Settings,
        *,
        running: bool = False,
    ) -> tuple[Finding, ...]:
        """As the function of that name has them."""
        here = self._told_of("believed", believed)
        certain = [self._told_of("sure", world) for world in sure]
        doubtful: Container[str] = _Doubtful(here, certain)
        if self._even is not None:  # much is looked at again: each mark by many rules
            certainly = set().union(*(one.entries for one in certain))
            doubtful = frozenset(here.entries.keys() - certainly)
        of = (believed.marks, *(world.marks for world in sure))

        def look(role: str, world: Session, unsure: Container[str]) -> WatchedSession:
            walk = self._walks.setdefault(
                (role, world.id, running),
                RuleWalk(_AT_ONCE if running else RULES, even=self._even),
            )
            number = None if role == "believed" else here.number
            return walk.look(world, history, settings, unsure, number, of=of)

        seen_sure = [look("sure", world, frozenset()) for world in sure]
        seen_here = None
        if not any(world is believed for world in sure):
            seen_here = look("believed", believed, doubtful)
        struck = _Struck(believed, here, doubtful)
        others = [world for world in standing if not self._is_alike(world, believed)]
        seen_others = [look("standing", world, struck) for world in others]

        looked = [*seen_sure, *([seen_here] if seen_here else []), *seen_others]
        key = tuple(watched.changed for watched in looked)
        if self._joined[0] != key or not begins_with(believed.entries, self._entries):
            entries = set(believed.entries)
            seen: Seen = {}
            for watched in seen_sure:
                for name, finding in _seen(watched, ()).items():
                    if entries.issuperset(finding.evidence[-1:]):
                        seen.setdefault(name, _with(finding, session=believed.id))
            for name, finding in _seen(seen_here, doubtful).items() if seen_here else ():
                known = seen.get(name)
                if known is None:
                    known = seen[name] = _with(finding, on_doubt=True)
                if is_session_over_advice(finding.advice):
                    seen[name] = _with(known, advice=finding.advice)
            for watched in seen_others:
                for name, finding in _seen(watched, struck).items():
                    if name not in seen and entries.issuperset(finding.evidence[-1:]):
                        seen[name] = _with(finding, struck=True, session=believed.id)
            if not AGGRESSION_SIGNS.isdisjoint(here.signs):
                seen.pop(("ended-failed", ""), None)
            self._joined = key, gravest_first(seen.values())
        self._entries = believed.entries
        return self._joined[1]

    def _told_of(self, role: str, session: Session) -> _Told:
        return self._told.setdefault((role, session.id), _Told()).of(session.marks)

    def _is_alike(self, world: Session, believed: Session) -> bool:
        """Whether two worlds have the same marks; what was the same before is not compared."""
        one, other = self._alike.get(world.id, ((), ()))
        many = len(one)
        if not (begins_with(world.marks, one) and begins_with(believed.marks, other)):
            many = 0
        alike = world.marks[many:] == believed.marks[many:]
        self._alike[world.id] = (world.marks, believed.marks) if alike else ((), ())
        return alike


class _Told:
    """The marks of a session in short: the entries that made them, the names of signs, and the rep
    numbers. Each holds as often as there are marks that tell it, so that marks can go again."""

    def __init__(self) -> None:
        self._marks: Sequence[Mark] = ()
        self.entries: Counter[str] = Counter()
        self.signs: Counter[str] = Counter()
        self._numbers: dict[MarkKey, list[int | None]] = {}

    def of(self, marks: Sequence[Mark]) -> _Told:
        """Itself, for these marks."""
        same = same_until(marks, self._marks)
        gone, new = _without_common_end(self._marks[same:], marks[same:])
        for mark in reversed(gone):
            self._numbers[mark_key(mark)].pop()
            _take_one(self.entries, mark.entry)
            if mark.kind == "sign":
                _take_one(self.signs, mark.name)
        for mark in new:
            self._numbers.setdefault(mark_key(mark), []).append(mark.rep)
            self.entries[mark.entry] += 1
            if mark.kind == "sign":
                self.signs[mark.name] += 1
        self._marks = marks
        return self

    def number(self, mark: Mark) -> int | None:
        """The number of the rep that has the mark here; its own where none has."""
        numbers = self._numbers.get(mark_key(mark))
        return numbers[-1] if numbers else mark.rep


def _without_common_end(
    then: Sequence[Mark], now: Sequence[Mark]
) -> tuple[Sequence[Mark], Sequence[Mark]]:
    """Both without the very marks that both end with, as far as no entry has marks in the rest and
    in that end: of one entry the order is kept."""
    pairs = zip(reversed(then), reversed(now), strict=False)
    many = sum(1 for _ in takewhile(lambda pair: pair[0] is pair[1], pairs))
    rest = {mark.entry for mark in (*then[: len(then) - many], *now[: len(now) - many])}
    end = now[len(now) - many :]
    last = next((at for at in range(many, 0, -1) if end[at - 1].entry in rest), 0)
    kept = many - last
    return then[: len(then) - kept], now[: len(now) - kept]


def _take_one(counts: Counter[str], name: str) -> None:
    counts[name] -= 1
    if not counts[name]:
        del counts[name]


class _Doubtful:
    """The entries of a session of which nothing is left without doubt."""

    def __init__(self, here: _Told, sure: Sequence[_Told]) -> None:
        self._here, self._sure = here, sure

    def __contains__(self, entry: object) -> bool:
        return entry in self._here.entries and not any(entry in one.entries for one in self._sure)


class _Struck:
    """The same, and those of which nothing is left since it was struck."""

    def __init__(self, believed: Session, here: _Told, doubtful: Container[str]) -> None:
        self._believed, self._here, self._doubtful = believed, here, doubtful
        self._entries: set[str] | None = None

    def __contains__(self, entry: object) -> bool:
        if entry in self._doubtful:
            return True
        if entry in self._here.entries:
            return False
        if self._entries is None:
            self._entries = set(self._believed.entries)
        return entry in self._entries


def _with(finding: Finding, **changed: object) -> Finding:
    same = all(getattr(finding, name) == value for name, value in changed.items())
    return finding if same else finding.model_copy(update=changed)


def rule_named(name: str) -> Rule:
    """The rule of that name; KeyError when there is none."""
    return _BY_NAME[name]


_BY_NAME = {rule.name: rule for rule in RULES}


def _seen(watched: WatchedSession, doubtful: Container[str]) -> Seen:
    seen: Seen = {}
    for rule in RULES:
        for anchor, finding in watched.found.get(rule.name, {}).items():
            seen[rule.name, anchor] = finding
    if ("ended-failed", "") in seen and any(
        finding.severity == "stop" and not any(entry in doubtful for entry in finding.evidence)
        for finding in seen.values()
    ):
        seen.pop(("ended-failed", ""), None)
    return seen


def gravest_first(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Stops, then cautions, then remarks, those of one severity in the order they have in
    `found`."""
    return tuple(sorted(found, key=lambda finding: _ORDER[finding.severity]))
