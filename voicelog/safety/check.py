"""Run every rule over a session, and join what the worlds of a session show.

One session is assembled three times: without its doubtful entries (sure), with them
(believed), and with its struck entries still standing. A finding that the sure world shows
is sure; one that only the believed world shows rests on doubt; one that only the standing
world shows was struck. None of them hides another. The sure world has only what is sure of
earlier sessions; what takes the rest of them rests on doubt too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Sequence
from itertools import takewhile

from voicelog.model import Finding, Mark, Session
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.grown import Grown, begins_with, same_until
from voicelog.safety.earlier_doubt import EarlierDoubt
from voicelog.safety.history import History
from voicelog.safety.joined_findings import JoinedFindings, WorldFindings, gravest_first, take_one
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
_NAMES = tuple(rule.name for rule in RULES)
_ENDED_FAILED = frozenset({"ended-failed"})


def rules_with(manner: LiveManner) -> frozenset[str]:
    """The names of the rules that a live session treats in that manner."""
    return frozenset(rule.name for rule in RULES if manner in rule.live)


def check(session: Session, history: History, settings: Settings) -> tuple[Finding, ...]:
    """The findings of one session, stops first; pure, and the same at every call."""
    seen = WorldFindings(RuleWalk(RULES).look(session, history, settings).found)
    return gravest_first(one for name in _NAMES for one in seen.of(name).values())


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
        self._told: dict[tuple[str, str], _MarksTold] = {}
        self._alike: dict[str, tuple[Grown[Mark], Grown[Mark], bool]] = {}
        self._joined: JoinedFindings | None = None
        self._earlier = EarlierDoubt()
        self._of: tuple[object, ...] | None = None
        self._findings: tuple[Finding, ...] = ()
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

        def look(
            role: str, world: Session, unsure: Container[str], past: History = history
        ) -> WatchedSession:
            walk = self._walks.setdefault(
                (role, world.id, running),
                RuleWalk(_AT_ONCE if running else RULES, even=self._even),
            )
            number = None if role == "believed" else here.number
            return walk.look(world, past, settings, unsure, number, of=of)

        certain_past = history.sure or history
        seen_sure = [look("sure", world, frozenset(), certain_past) for world in sure]
        seen_here = seen_plain = None
        alone = next((n for n, world in enumerate(sure) if world is believed), None)
        if alone is None or history.sure is not None:
            seen_here = look("believed", believed, doubtful)
        if history.sure is not None:
            plain = None if alone is None else seen_sure[alone]
            seen_plain = plain or look("plain", believed, doubtful, certain_past)
        struck = _Struck(believed, here, doubtful)
        others = [world for world in standing if not self._is_alike(world, believed)]
        seen_others = [look("standing", world, struck) for world in others]

        looked = [*seen_sure, *filter(None, (seen_here, seen_plain)), *seen_others]
        key = tuple(watched.changed for watched in looked)
        if self._of != key or not begins_with(believed.entries, self._entries):
            self._of = key
            if self._joined is None:
                self._joined = JoinedFindings(_NAMES, believed.id)
            self._findings = self._joined.join(
                [WorldFindings(one.found) for one in seen_sure],
                WorldFindings(self._earlier.told(seen_here.found, seen_plain), doubtful)
                if seen_here
                else None,
                [WorldFindings(one.found, struck) for one in seen_others],
                believed.entries,
                () if AGGRESSION_SIGNS.isdisjoint(here.signs) else _ENDED_FAILED,
            )
        self._entries = believed.entries
        return self._findings

    def _told_of(self, role: str, session: Session) -> _MarksTold:
        return self._told.setdefault((role, session.id), _MarksTold()).of(session.marks)

    def _is_alike(self, world: Session, believed: Session) -> bool:
        """Whether two worlds have the same marks. What was compared before is not compared again,
        be it that they were alike so far or that they differ in it."""
        marks, others = world.marks, believed.marks
        one, other, alike = self._alike.get(world.id, (Grown(), Grown(), True))
        if not (begins_with(marks, one) and begins_with(others, other)):
            one, other, alike = Grown(), Grown(), True
        if not alike:
            return False
        many, most = len(one), min(len(marks), len(others))
        if marks[many:] == others[many:]:
            self._alike[world.id] = marks, others, True
            return True
        same = many + same_until(marks[many:], others[many:])
        upto = min(same + 1, most)  # that much of both tells that they differ, whatever follows
        self._alike[world.id] = marks.until(upto), others.until(upto), same == most
        return False


class _MarksTold:
    """The marks of a session in short: the entries that made them, the names of signs, and the rep
    numbers. Each holds as often as there are marks that tell it, so that marks can go again."""

    def __init__(self) -> None:
        self._marks: Sequence[Mark] = ()
        self.entries: Counter[str] = Counter()
        self.signs: Counter[str] = Counter()
        self._numbers: dict[MarkKey, list[int | None]] = {}

    def of(self, marks: Sequence[Mark]) -> _MarksTold:
        """Itself, for these marks."""
        same = same_until(marks, self._marks)
        gone, new = _without_common_end(self._marks[same:], marks[same:])
        for mark in reversed(gone):
            self._numbers[mark_key(mark)].pop()
            take_one(self.entries, mark.entry)
            if mark.kind == "sign":
                take_one(self.signs, mark.name)
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


class _Doubtful:
    """The entries of a session of which nothing is left without doubt."""

    def __init__(self, here: _MarksTold, sure: Sequence[_MarksTold]) -> None:
        self._here, self._sure = here, sure

    def __contains__(self, entry: object) -> bool:
        return entry in self._here.entries and not any(entry in one.entries for one in self._sure)


class _Struck:
    """The same, and those of which nothing is left since it was struck."""

    def __init__(self, believed: Session, here: _MarksTold, doubtful: Container[str]) -> None:
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


def rule_named(name: str) -> Rule:
    """The rule of that name; KeyError when there is none."""
    return _BY_NAME[name]


_BY_NAME = {rule.name: rule for rule in RULES}
