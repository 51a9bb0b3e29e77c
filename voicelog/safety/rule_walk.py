"""Rules that look at a session as it grows: at what is new, from what they kept of the rest.

What they found in marks that are settled stays found. Where a mark, or what is known beside it (is
it doubtful, which rep is it of), is not what it was, they go on from before that.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import takewhile

from voicelog.model import Finding, Mark, Session
from voicelog.model.grown import Grown, same_until
from voicelog.safety.history import History
from voicelog.safety.rule import Rule
from voicelog.safety.rule_context import RepNumber, RuleContext
from voicelog.safety.settings import Settings
from voicelog.session.kept_states import KeptStates, Sequences

__all__ = ["RuleWalk", "WatchedSession"]

Told = dict[str, dict[str, Finding]]
"""Findings by rule and anchor."""


@dataclass(slots=True)
class WatchedSession:
    """A session as far as the rules have seen it; `found` is by rule and anchor, and `changed`
    another object each time that it has changed."""

    view: RuleContext
    found: dict[str, Mapping[str, Finding]] = field(default_factory=dict)
    changed: object = field(default_factory=object)

    def look(self, rules: Sequence[Rule], told: Told, *, on_the_way: bool = False) -> None:
        """Let the `rules` look at what the view has taken in last; `on_the_way` to the end of the
        session, those that look at all of it wait. `told` is what each found last."""
        for rule in rules:
            if on_the_way and rule.whole:
                continue
            known = self.found.get(rule.name, {})
            found = rule.see(self.view, known, told[rule.name])
            if found is not known:
                self.found[rule.name] = found
                self.changed = object()

    def copied(self) -> WatchedSession:
        """The same, to go on with beside this one."""
        return WatchedSession(self.view.copied(), dict(self.found), self.changed)


class RuleWalk:
    """What `rules` find in one session, each time there is more of it, or some of it is other;
    `even` is that of `KeptStates`."""

    def __init__(self, rules: Sequence[Rule], *, even: int | None = None) -> None:
        self._rules, self._even = tuple(rules), even
        self._given: tuple[object, ...] | None = None
        self._kept: KeptStates[WatchedSession]
        self._reps: Sequence[object] = ()
        self._doubts: Grown[bool] = Grown()
        self._last: Sequences = ()
        self._told: Told = {rule.name: {} for rule in self._rules}
        self._marked: dict[tuple[bool, object], tuple[bool, object]] = {}  # one object of each

    def look(
        self,
        session: Session,
        history: History,
        settings: Settings,
        doubtful: Container[str] = frozenset(),
        number: RepNumber | None = None,
        *,
        of: Sequences = (),
    ) -> WatchedSession:
        """What they find in the session by now.

        Args:
            session: the same as before, with more in it.
            history: of its dog; where it, the settings, the dog or what held at the start has
                changed, all is looked at anew.
            settings: with the dog's own.
            doubtful: entries that may raise a finding and never clear one.
            number: the rep number that people are shown for a mark.
            of: what `doubtful` and `number` rest on, as sequences that grow; of an even walk, what
                they say of each mark is compared.
        """
        start_s = session.start_s
        held = tuple(takewhile(lambda one: one.at_s <= start_s, session.conditions))
        given = (session.dog, start_s, held, history, settings)
        thresholds = settings.for_dog(session.dog.name)

        def begin() -> WatchedSession:
            return WatchedSession(RuleContext(session, history, thresholds))

        if given != self._given:
            self._given = given
            self._kept = KeptStates(begin, WatchedSession.copied, even=self._even)
        same = same_until(session.reps, self._reps)
        later = (rep.doubtful for rep in session.reps[same:])
        self._reps, self._doubts = session.reps, self._doubts.then(same, later)
        if self._even is not None:
            marked = [(one.entry in doubtful, number and number(one)) for one in session.marks]
            of = (tuple([self._marked.setdefault(pair, pair) for pair in marked]),)
        of = (session.marks, self._doubts, *of)
        watched = self._kept.resume(*of)
        whole = self._on_the_way(watched, session, doubtful, number, of)
        if not whole or not watched.view.take(session, doubtful, number):
            watched = begin()
            watched.view.take(session, doubtful, number)
        watched.look(self._rules, self._told)
        self._kept.keep(watched, *of)
        self._last = of
        return watched

    def _on_the_way(
        self,
        watched: WatchedSession,
        session: Session,
        doubtful: Container[str],
        number: RepNumber | None,
        of: Sequences,
    ) -> bool:
        """Look at the session in pieces, to its last but one, and keep states between them; whether
        nothing has to be looked at anew."""
        if self._even is None:
            return True
        _, doubts, told = of
        marks = session.marks
        taken = reps = 0
        while (place := _breath_end(marks, watched.view.taken + self._even)) < len(marks):
            if not watched.view.take(session, doubtful, number, place):
                return False
            watched.look(self._rules, self._told, on_the_way=True)
            numbered = [mark.rep for mark in marks[taken:place] if mark.rep is not None]
            taken, reps = place, max([reps, *numbered])
            self._kept.keep_on_the_way(watched, marks[:place], doubts[:reps], told[:place])
        return True

    def ahead(self, session: Session) -> Mapping[str, Mapping[str, Finding]]:
        """What they would find in a `session` that goes on from the one last looked at; nothing of
        it is kept. Of doubt nothing is known in it."""
        watched = self._kept.resume(*self._last)
        self._kept.keep(watched, *self._last)
        beside = watched.copied()
        beside.view.take(session)
        beside.look(self._rules, self._told)
        return beside.found


def _breath_end(marks: Sequence[Mark], place: int) -> int:
    """The first place from this one on that parts no breath: a rule may look for a word anywhere in
    one."""
    while 0 < place < len(marks) and marks[place].entry == marks[place - 1].entry:
        place += 1
    return place
