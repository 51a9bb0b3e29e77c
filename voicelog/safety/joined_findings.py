"""What the worlds of one session show, joined: no finding hides another, and each is told once.

Where nothing has changed in what a rule found, what was joined of it is kept, and every finding
that is still the same is still the same object: so a note that brings one finding costs as much
beside three hundred as beside three.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from operator import is_, itemgetter, ne

from voicelog.model import Finding
from voicelog.model.grown import same_until
from voicelog.safety.advice import is_session_over_advice

__all__ = ["JoinedFindings", "WorldFindings", "gravest_first", "take_one"]

_ORDER = {"stop": 0, "caution": 1, "remark": 2}
_ENDED_FAILED = "ended-failed"

Found = Mapping[str, Finding]
"""What one rule found in one world, by anchor."""
_NOTHING: Found = {}


def gravest_first(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Stops, then cautions, then remarks, those of one severity in the order they have in
    `found`."""
    return tuple(sorted(found, key=lambda finding: _ORDER[finding.severity]))


def take_one(counts: Counter[str], name: str) -> None:
    """Count one less of that name; with none left it is not in `counts` any more."""
    counts[name] -= 1
    if not counts[name]:
        del counts[name]


class WorldFindings:
    """What the rules found in one world, by rule and anchor; `doubtful` are the entries that clear
    nothing in it."""

    def __init__(self, found: Mapping[str, Found], doubtful: Container[str] = ()) -> None:
        self._found = found
        self._without = frozenset({_ENDED_FAILED}) if self._has_sure_stop(doubtful) else frozenset()

    @property
    def telling(self) -> Iterator[str]:
        """The names of the rules that found something."""
        return (rule for rule, found in self._found.items() if found)

    def of(self, rule: str) -> Found:
        """What the rule of that name found. That it ended badly is not told beside a sure stop."""
        return _NOTHING if rule in self._without else self._found.get(rule, _NOTHING)

    def _has_sure_stop(self, doubtful: Container[str]) -> bool:
        return bool(self._found.get(_ENDED_FAILED)) and any(
            finding.severity == "stop" and not any(entry in doubtful for entry in finding.evidence)
            for some in self._found.values()
            for finding in some.values()
        )


@dataclass(frozen=True, slots=True)
class _Worlds:
    """What one rule found in each world of a session."""

    sure: tuple[Found, ...] = ()
    here: Found | None = None
    others: tuple[Found, ...] = ()

    @property
    def shape(self) -> tuple[int, bool, int]:
        """How many worlds of each kind there are."""
        return len(self.sure), self.here is not None, len(self.others)

    @property
    def all(self) -> tuple[Found, ...]:
        """All of them, in order."""
        return (*self.sure, *(() if self.here is None else (self.here,)), *self.others)

    def same(self, other: _Worlds) -> bool:
        """Whether these are the same objects."""
        return self.shape == other.shape and all(map(is_, self.all, other.all))

    def after(self, before: _Worlds) -> _Worlds | None:
        """What is new in them, where all that was found `before` stands first as it was."""
        if self.shape != before.shape:
            return None
        new = list(map(_after, self.all, before.all))
        if None in new:
            return None
        many, here = len(self.sure), self.here is not None
        found = [one for one in new if one is not None]
        return _Worlds(
            tuple(found[:many]), found[many] if here else None, tuple(found[many + here :])
        )


def _after(now: Found, before: Found) -> Found | None:
    if now is before:
        return _NOTHING
    many = len(before)
    first = islice(now.values(), many)
    if len(now) < many or any(map(ne, now, before)) or not all(map(is_, first, before.values())):
        return None
    return dict(islice(now.items(), many, None))


Part = tuple[int, int, tuple[Finding, ...]]
"""The findings of one severity (its rank) that one world (its place) shows first."""


@dataclass(slots=True)
class _Joined:
    """What was joined of one rule, and of what. `whole`: nothing was left out for its entry; `seen`
    is each finding by its anchor, with the place of the world that shows it first; `made` are the
    findings that were made, with what of: by the object of that and how they differ."""

    of: _Worlds = field(default_factory=_Worlds)
    whole: bool = True
    seen: dict[str, tuple[int, Finding]] = field(default_factory=dict)
    parts: dict[tuple[int, int], tuple[Finding, ...]] = field(default_factory=dict)
    made: dict[tuple[int, str], tuple[Finding, Finding]] = field(default_factory=dict)


class JoinedFindings:
    """The findings of one session (its id), each time that the rules found more in its worlds, or
    other things. `rules` are names, in the order in which those of one severity are listed."""

    def __init__(self, rules: Sequence[str], session: str) -> None:
        self._rules, self._session = rules, session
        self._joined: dict[str, _Joined] = {}
        self._entries: Sequence[str] = ()
        self._counts: Counter[str] = Counter()

    def join(
        self,
        sure: Sequence[WorldFindings],
        here: WorldFindings | None,
        others: Sequence[WorldFindings],
        entries: Sequence[str],
        without: Container[str] = (),
    ) -> tuple[Finding, ...]:
        """The findings, stops first.

        `sure` are the worlds without doubtful entries, `here` is the one with them (None where it
        is one of those), `others` are those with struck entries; `entries` are the session's: of
        another world, only what rests on one of them at last is told. Rules in `without` tell
        nothing.
        """
        self._count(entries)
        parts: list[tuple[int, int, int, tuple[Finding, ...]]] = []
        worlds = [*sure, *([] if here is None else [here]), *others]
        telling = self._joined.keys() | {rule for world in worlds for rule in world.telling}
        for place, rule in enumerate(self._rules):
            if rule not in telling:
                continue
            now = _Worlds(
                tuple([world.of(rule) for world in sure]),
                None if here is None else here.of(rule),
                tuple([world.of(rule) for world in others]),
            )
            known = self._joined.get(rule)
            if known is None or not (known.whole and known.of.same(now)):
                known = self._joined[rule] = self._join(now, known or _Joined())
            if rule not in without:
                parts += [(*where, place, found) for where, found in known.parts.items()]
        parts.sort(key=itemgetter(0, 1, 2))
        return tuple(chain.from_iterable(found for *_, found in parts))

    def _count(self, entries: Sequence[str]) -> None:
        """Count these entries; where one is gone, all is to be joined anew."""
        same = same_until(entries, self._entries)
        for entry in self._entries[same:]:
            take_one(self._counts, entry)
            self._joined.clear()
        self._counts.update(entries[same:])
        self._entries = entries

    def _join(self, now: _Worlds, before: _Joined) -> _Joined:
        """What is new is joined with the rest; where it bears on that, all is joined anew."""
        new = now.after(before.of) if before.whole else None
        if new is not None and self._add(before, new):
            before.of = now
            return before
        joined = _Joined(made=before.made)
        self._add(joined, now)
        used = {id(finding) for _, finding in joined.seen.values()}
        joined.made = {how: one for how, one in joined.made.items() if id(one[1]) in used}
        joined.of = now
        return joined

    def _add(self, joined: _Joined, new: _Worlds) -> bool:
        """Add what is new in the worlds; False where it bears on what was joined already."""
        added: dict[str, None] = {}
        seen = joined.seen

        def see(anchor: str, world: int, finding: Finding) -> None:
            seen[anchor] = world, finding
            added[anchor] = None

        for world, found in enumerate(new.sure):
            for anchor, finding in self._told(joined, found):
                if anchor not in seen:
                    see(anchor, world, self._made(joined, finding, "sure", session=self._session))
                elif seen[anchor][0] > world:
                    return False
        here = len(new.sure)
        for anchor, finding in (new.here or _NOTHING).items():
            if anchor not in seen:
                see(anchor, here, self._made(joined, finding, "doubt", on_doubt=True))
            elif seen[anchor][0] > here:
                return False
            if is_session_over_advice(finding.advice):
                if anchor not in added:
                    return False
                world, one = seen[anchor]
                see(anchor, world, self._made(joined, one, "over", advice=finding.advice))
        for world, found in enumerate(new.others, here + 1):
            for anchor, finding in self._told(joined, found):
                if anchor not in seen:
                    changed = {"struck": True, "session": self._session}
                    see(anchor, world, self._made(joined, finding, "struck", **changed))
                elif seen[anchor][0] > world:
                    return False
        parts: dict[tuple[int, int], list[Finding]] = {}
        for anchor in added:
            world, finding = seen[anchor]
            parts.setdefault((_ORDER[finding.severity], world), []).append(finding)
        for where, some in parts.items():
            joined.parts[where] = (*joined.parts.get(where, ()), *some)
        return True

    def _told(self, joined: _Joined, found: Found) -> Iterator[tuple[str, Finding]]:
        for anchor, finding in found.items():
            if finding.evidence and finding.evidence[-1] not in self._counts:
                joined.whole = False
            else:
                yield anchor, finding

    def _made(self, joined: _Joined, finding: Finding, how: str, **changed: object) -> Finding:
        """The finding as it is told, the same object each time."""
        if all(getattr(finding, name) == value for name, value in changed.items()):
            return finding
        one = joined.made.get((id(finding), how))
        if one is None or one[0] is not finding:
            one = joined.made[id(finding), how] = finding, finding.model_copy(update=changed)
        return one[1]
