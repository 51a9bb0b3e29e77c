"""The one arbiter of everything that may be said or sounded in her ear.

A pure state machine: a typed message in, a new state and what is to happen out. It opens no
device and reads no clock; time is the time heard through (s in the recording) and comes in with
`Moment`, and only a moment makes anything begin. Nothing sounds that did not pass here, so what
goes first, what interrupts what, what is dropped and what is said again is decided in one place,
by the table of `sayings.py`.

All numbers are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, assert_never

from voicelog.live.sayings import MANNERS, Saying, SayingKind

__all__ = [
    "Acknowledged",
    "Answering",
    "ArbiterAction",
    "ArbiterMessage",
    "ArbiterState",
    "Begin",
    "BreakOff",
    "Leave",
    "Moment",
    "Offer",
    "SaidStop",
    "StandingChange",
    "Withdraw",
    "arbitrate",
]

REPEAT_STOP_S = 4.0
"""Seconds from the beginning of a stop to its second saying."""
STOP_TICK_S = 5.0
"""Seconds between the ticks that follow it."""
LONGEST_STOP_S = 120.0
"""Seconds after which a stop that nobody acknowledged falls silent; it stays on the screen."""
BETWEEN_S = 6.0
"""Seconds from the beginning of any finding to that of a remark, or of a caution that waited by
then; one on what happened since waits for no more than its end."""
TOGETHER_S = 2.0
"""Cautions that come within so long (s) are about one thing that she did: an utterance brings some
when it is heard, others once it is decided."""
ANSWER_S = 12.0
"""Seconds after a question in which an answer is taken for one."""
TO_ANSWER_S = 5.0
"""Seconds after a question that are hers, before a caution or remark: with both hands full she may
not answer, and then it would be about what is long over."""
FRESH_S = 15.0
"""Seconds for which a caution is about what happens now; those behind a question do not count."""
KEPT_FREE = 2
"""So many of a minute's words are kept for fresh cautions."""
TALK_IN_REP_S = 6.0
"""Most seconds of talk, of kinds that have a budget, begun in one open rep; equipment that is lost
is said all the same."""
MAX_ASKED = 2
"""How often a question is begun, in all, when it is interrupted."""
KEPT_FOR_LOSS = 4
"""So many of a minute's words on equipment are kept for what is lost."""
_MINUTE_S = 60.0
_FINDINGS = frozenset({"thumb off", "stop", "caution", "remark"})
_MAY_WAIT = frozenset({"caution", "remark"})
_STOP = MANNERS["stop"].rank


@dataclass(frozen=True, slots=True)
class Offer:
    """This may be said. A question takes the place of one that waits, which is then unasked; a
    newer answer breaks off an older one."""

    saying: Saying


@dataclass(frozen=True, slots=True)
class StandingChange:
    """What is other than before in the findings that stand: those that have come to `stand` or of
    which something else is to be said, one for each key, and the keys of those that are `gone`,
    of which nothing more is said. All others stand on as they were told."""

    stand: tuple[Saying, ...] = ()
    gone: tuple[Hashable, ...] = ()


@dataclass(frozen=True, slots=True)
class Withdraw:
    """What is about this key no longer stands, or was answered."""

    key: Hashable


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """She said "roger": the stops that were said are not repeated, and tick no more."""


@dataclass(frozen=True, slots=True)
class Answering:
    """She seems to answer what was asked, not yet decided, or goes on without: no finding waits for
    that question any more, and an answer that is sure is still taken for one."""


@dataclass(frozen=True, slots=True)
class Moment:
    """The time heard through (s), and what holds.

    `rep`: the open rep (None: none is); `talking`: she speaks, what she said is not heard yet, or
    she paused the log; `ended`: the session was ended, and no other begun; `unheard`: the earphone
    is gone.
    """

    at_s: float
    rep: Hashable = None
    talking: bool = False
    ended: bool = False
    unheard: bool = False


ArbiterMessage = Offer | StandingChange | Withdraw | Acknowledged | Answering | Moment


@dataclass(frozen=True, slots=True)
class Begin:
    """Sound it, after what began in the same moment; `words` are the ones chosen."""

    saying: Saying
    words: str


@dataclass(frozen=True, slots=True)
class BreakOff:
    """Be silent at once about this key, also of what waits at the device."""

    key: Hashable


@dataclass(frozen=True, slots=True)
class Leave:
    """This will not be said: too late, the session has ended, a newer question took its place, or
    it was interrupted too often."""

    saying: Saying
    why: Literal["late", "ended", "displaced", "interrupted"]


ArbiterAction = Begin | BreakOff | Leave


@dataclass(frozen=True, slots=True)
class SaidStop:
    """A stop that she did not acknowledge: when it was said first (s), and how often by now."""

    saying: Saying
    since_s: float
    times: int = 1


@dataclass(frozen=True, slots=True)
class _Waiting:
    """What waits since `since_s`, begun and broken off `tries` times; `free_s`: when it was last
    held back by a question (s), from which on it counts as fresh; `behind`: it waited already when
    the last finding began."""

    saying: Saying
    since_s: float
    tries: int = 0
    free_s: float = 0.0
    behind: bool = False


@dataclass(frozen=True, slots=True)
class _Sounding:
    """What sounds until `until_s`; `covers` are all that it was said for, itself included."""

    covers: tuple[_Waiting, ...]
    until_s: float
    opens_group: bool
    again: bool

    @property
    def saying(self) -> Saying:
        return self.covers[0].saying


@dataclass(frozen=True, slots=True)
class ArbiterState:
    """All that the arbiter knows. Times are seconds (s) in the recording.

    `standing`: the keys of the findings that stand; `told`: the findings that were said, by key,
    with the rank at which they were; `groups`: those whose advice was said. `asked`: the question
    that waits for her answer; `answering`: she seems to be giving it, or goes on without.
    `unasked` counts the questions that never came to be asked, `finding_s` is when a finding began
    last, `begun` what began of kinds with a budget in the last minute, and when, `rep_talk_s` how
    long those in the open rep last together.
    """

    at_s: float = 0.0
    waiting: tuple[_Waiting, ...] = ()
    sounding: tuple[_Sounding, ...] = ()
    stops: tuple[SaidStop, ...] = ()
    standing: frozenset[Hashable] = frozenset()
    told: Mapping[Hashable, int] = field(default_factory=dict)
    groups: frozenset[Hashable] = frozenset()
    asked: Saying | None = None
    asked_until_s: float = 0.0
    answering: bool = False
    unasked: int = 0
    finding_s: float = -BETWEEN_S
    begun: tuple[tuple[float, SayingKind], ...] = ()
    rep: Hashable = None
    rep_talk_s: float = 0.0
    next_tick_s: float = 0.0
    unheard: bool = False


def arbitrate(
    state: ArbiterState, message: ArbiterMessage
) -> tuple[ArbiterState, tuple[ArbiterAction, ...]]:
    """The state after `message`, and what is to happen, in order. `state` stays as it is."""
    work = _Work(state)
    match message:
        case Offer(saying):
            work.offer(saying)
        case StandingChange(stand, gone):
            work.change(stand, gone)
        case Withdraw(key):
            work.withdraw(key)
        case Acknowledged():
            work.acknowledge()
        case Answering():
            work.answering()
        case Moment():
            work.pass_to(message)
        case _:
            assert_never(message)
    return work.state, tuple(work.actions)


class _Work:
    """One message's work on a state; it lives for one call of `arbitrate`."""

    def __init__(self, state: ArbiterState) -> None:
        self.state = state
        self.actions: list[ArbiterAction] = []

    # --- messages ----------------------------------------------------------------------------

    def offer(self, saying: Saying) -> None:
        if saying.kind == "question":
            self.state = replace(self.state, asked=None)
            for one in self.state.waiting:
                if one.saying.kind == "question" and one.saying.key != saying.key:
                    self._leave(one, "displaced")
        if saying.kind == "answer":
            for sound in self.state.sounding:
                if sound.saying.kind == "answer":
                    self._silence(sound)
        rest = tuple(one for one in self.state.waiting if one.saying.key != saying.key)
        self.state = replace(self.state, waiting=(*rest, _Waiting(saying, self.state.at_s)))

    def change(self, stand: Iterable[Saying], gone: Collection[Hashable]) -> None:
        """What is the same costs nothing here: there may be hundreds that stand."""
        changed = {saying.key: saying for saying in stand}
        standing = self.state.standing
        if not standing.issuperset(changed):
            standing |= changed.keys()
        if gone:
            standing = standing.difference(gone)
            self._end_of(standing, gone)
        told = self.state.told
        waiting = []
        for one in self.state.waiting:
            if one.saying.kind not in _FINDINGS:
                waiting.append(one)
            elif (saying := changed.pop(one.saying.key, None)) is not None:
                if _rank(saying) < told.get(saying.key, len(MANNERS)):
                    waiting.append(replace(one, saying=saying))
            elif one.saying.key in standing:
                waiting.append(one)
        waiting += [
            _Waiting(saying, self.state.at_s)
            for key, saying in changed.items()
            if _rank(saying) < told.get(key, len(MANNERS))
        ]
        self.state = replace(self.state, standing=standing, waiting=tuple(waiting))

    def _end_of(self, standing: Container[Hashable], gone: Collection[Hashable]) -> None:
        """Be silent about what is gone, as far as nothing else of it stands."""
        for sound in self.state.sounding:
            if sound.saying.kind in _FINDINGS and not any(
                one.saying.key in standing for one in sound.covers
            ):
                self._silence(sound)
        over = [stop.saying.key for stop in self.state.stops if stop.saying.key not in standing]
        broken = {action.key for action in self.actions if isinstance(action, BreakOff)}
        self.actions += [BreakOff(key) for key in over if key not in broken]
        told = self.state.told
        again = [key for key in gone if told.get(key) == _STOP]  # when it comes to stand again
        if again:
            told = {key: rank for key, rank in told.items() if key not in again}
        stops = tuple(stop for stop in self.state.stops if stop.saying.key in standing)
        self.state = replace(self.state, told=told, stops=stops)

    def withdraw(self, key: Hashable) -> None:
        rest = tuple(one for one in self.state.waiting if one.saying.key != key)
        asked = self.state.asked
        self.state = replace(
            self.state, waiting=rest, asked=None if asked and asked.key == key else asked
        )
        for sound in self.state.sounding:
            if sound.saying.key == key:
                self._silence(sound)

    def acknowledge(self) -> None:
        self.state = replace(self.state, stops=())
        for sound in self.state.sounding:
            if sound.again:
                self._silence(sound)

    def answering(self) -> None:
        self.state = replace(self.state, answering=self.state.asked is not None)

    def pass_to(self, moment: Moment) -> None:
        at_s = max(self.state.at_s, moment.at_s)
        if self.state.unheard and not moment.unheard:  # what was only shown is said now
            self.state = replace(
                self.state,
                stops=tuple(replace(stop, since_s=at_s, times=0) for stop in self.state.stops),
            )
        self.state = replace(
            self.state,
            at_s=at_s,
            sounding=tuple(one for one in self.state.sounding if one.until_s > at_s),
            begun=tuple(one for one in self.state.begun if one[0] > at_s - _MINUTE_S),
            rep=moment.rep,
            rep_talk_s=self.state.rep_talk_s if moment.rep == self.state.rep else 0.0,
            unheard=moment.unheard,
        )
        if moment.ended or at_s > self.state.asked_until_s:
            self.state = replace(self.state, asked=None)
        self._drop(moment)
        self._hold(moment)
        self._follow_stops(moment)
        while self._begin_next(moment):
            pass
        ticks = (one for one in self.state.waiting if one.saying.kind != "tick")
        self.state = replace(self.state, waiting=tuple(ticks))

    # --- a moment ------------------------------------------------------------------------------

    def _drop(self, moment: Moment) -> None:
        for one in self.state.waiting:
            manner = MANNERS[one.saying.kind]
            if moment.ended and not manner.after_end:
                self._leave(one, "ended")
            elif manner.stale_s is not None and self.state.at_s - one.since_s > manner.stale_s:
                self._leave(one, "late")

    def _leave(
        self, one: _Waiting, why: Literal["late", "ended", "displaced", "interrupted"]
    ) -> None:
        saying = one.saying
        told = dict(self.state.told)
        if saying.kind in _FINDINGS:  # it is on the screen and on paper, and not said later
            told[saying.key] = _rank(saying)
        self.state = replace(
            self.state,
            waiting=tuple(other for other in self.state.waiting if other is not one),
            unasked=self.state.unasked + (saying.kind == "question"),
            told=told,
        )
        self.actions.append(Leave(saying, why))

    def _follow_stops(self, moment: Moment) -> None:
        """The second saying of each stop, then ticks; after the session's end only what is left
        of the sayings."""
        at_s = self.state.at_s
        self.state = replace(
            self.state,
            stops=tuple(
                stop
                for stop in self.state.stops
                if at_s - stop.since_s < LONGEST_STOP_S and not (moment.ended and stop.times > 1)
            ),
        )
        stops = self.state.stops
        if stops and all(stop.times > 1 for stop in stops) and at_s >= self.state.next_tick_s:
            tick = Saying("tick", ("tick", "waiting"), tone="waiting")
            self.state = replace(
                self.state,
                waiting=(*self.state.waiting, _Waiting(tick, at_s)),
                next_tick_s=at_s + STOP_TICK_S,
            )

    def _repeats(self) -> list[_Waiting]:
        """The stops to be said again, those with the same words once."""
        due = [
            stop
            for stop in self.state.stops
            if stop.times < 2 and self.state.at_s - stop.since_s >= REPEAT_STOP_S * stop.times
        ]
        return [_Waiting(stop.saying, stop.since_s) for stop in due]

    def _begin_next(self, moment: Moment) -> bool:
        """Begin the first that may; whether there was one."""
        repeats = self._repeats()
        candidates = [*self.state.waiting, *repeats]
        newest_s = max((one.since_s for one in candidates), default=0.0)
        for one in sorted(candidates, key=lambda one: self._turn(one, newest_s)):
            if not self._may(one, moment):
                continue
            interrupts = MANNERS[one.saying.kind].interrupts
            voiced = [sound for sound in self.state.sounding if sound.saying.words]
            if all(sound.saying.kind in interrupts for sound in voiced):
                for sound in voiced:
                    self._interrupt(sound)
                self._begin(one, again=any(one is repeat for repeat in repeats))
                return True
        return False

    def _turn(self, one: _Waiting, newest_s: float) -> tuple[int, bool, bool, int, float]:
        """What goes first: by rank, what is sure, and of what may wait what is newest, since it is
        about what she does now; of what came with that, what is about this press or rep and was
        not told of another yet, then what was told, then what is about the whole session."""
        rank, saying = _rank(one.saying), one.saying
        if saying.kind not in _MAY_WAIT:
            return rank, saying.unsure, False, 0, 0.0
        older = one.since_s < newest_s - TOGETHER_S
        told = saying.group is not None and saying.group in self.state.groups
        kind = 0 if older else 2 if saying.general else int(told)
        return rank, saying.unsure, older, kind, -one.since_s

    def _may(self, one: _Waiting, moment: Moment) -> bool:
        saying, manner = one.saying, MANNERS[one.saying.kind]
        state = self.state
        if (
            (moment.rep is not None and not manner.in_rep)
            or (moment.talking and not manner.over_her)
            or (moment.unheard and not manner.unheard)
        ):
            return False
        if not self._in_budget(one, moment):
            return False
        if saying.kind == "reading":
            return state.asked is None
        if saying.kind not in _MAY_WAIT:
            return True
        if self._hers():
            return False
        now = saying.kind == "caution" and not one.behind
        if not now and state.at_s < state.finding_s + BETWEEN_S:
            return False
        return saying.rests_on.isdisjoint(self._asking(moment))

    def _asking(self, moment: Moment) -> set[str]:
        """The keys of the questions for which what rests on them waits."""
        state = self.state
        asking = {
            str(one.saying.key)
            for one in state.waiting
            if one.saying.kind == "question" and self._in_budget(one, moment)
        }
        if state.asked and self._hers():
            asking.add(str(state.asked.key))
        return asking

    def _hers(self) -> bool:
        """Whether something was asked just now, which she has not begun to answer."""
        state = self.state
        waits = state.asked is not None and not state.answering
        return waits and state.at_s < state.asked_until_s - ANSWER_S + TO_ANSWER_S

    def _hold(self, moment: Moment) -> None:
        """A caution does not grow old while a question holds it back: it would lose its share of
        the budget for having waited as it should."""
        asking = self._asking(moment)
        if not asking:
            return
        at_s = self.state.at_s
        waiting = (
            one if one.saying.rests_on.isdisjoint(asking) else replace(one, free_s=at_s)
            for one in self.state.waiting
        )
        self.state = replace(self.state, waiting=tuple(waiting))

    def _in_budget(self, one: _Waiting, moment: Moment) -> bool:
        state, saying = self.state, one.saying
        limit = MANNERS[saying.kind].budget
        if limit is None:
            return True
        talked = moment.rep is not None and state.rep_talk_s + saying.seconds > TALK_IN_REP_S
        too_long = talked and saying.kind != "trouble"  # what is lost is said in any rep
        sharing = sum(MANNERS[kind].budget == limit for _, kind in state.begun)
        fresh = saying.kind == "caution" and state.at_s - max(one.since_s, one.free_s) <= FRESH_S
        kept = 0 if fresh or saying.kind == "trouble" else KEPT_FREE
        if saying.kind == "news":
            kept = KEPT_FOR_LOSS
        return sharing < limit - kept and not too_long

    def _begin(self, one: _Waiting, *, again: bool) -> None:
        state, saying = self.state, one.saying
        known = saying.group is not None and saying.group in state.groups
        words, seconds = saying.words, saying.seconds
        if known and saying.short and not again:
            words, seconds = saying.short, saying.short_s
        covers = (one, *self._alike(one, again=again))
        covered = {it.saying.key for it in covers}
        waiting = tuple(it for it in state.waiting if it.saying.key not in covered)
        begins_s = max([state.at_s, *(sound.until_s for sound in state.sounding)])
        finding = saying.kind in _FINDINGS
        spaced = finding and not again
        told = dict(state.told)
        if finding:
            told |= {it.saying.key: _rank(it.saying) for it in covers}
        self.state = replace(
            self.state,
            waiting=tuple(replace(it, behind=True) for it in waiting) if spaced else waiting,
            sounding=(
                *state.sounding,
                _Sounding(covers, begins_s + seconds, finding and not known, again),
            ),
            told=told,
            groups=state.groups | {saying.group} if finding and saying.group else state.groups,
            finding_s=state.at_s if spaced else state.finding_s,
        )
        if saying.kind == "stop":
            self._note_stops(covers, words, again=again)
        if saying.kind == "question":
            self.state = replace(
                self.state,
                asked=saying,
                asked_until_s=begins_s + seconds + ANSWER_S,
                answering=False,
            )
        if MANNERS[saying.kind].budget is not None:
            talks = state.rep is not None and saying.kind != "trouble"
            in_rep = seconds if talks else 0.0
            self.state = replace(
                self.state,
                begun=(*state.begun, (state.at_s, saying.kind)),
                rep_talk_s=state.rep_talk_s + in_rep,
            )
        self.actions.append(Begin(saying, words))

    def _alike(self, one: _Waiting, *, again: bool) -> tuple[_Waiting, ...]:
        """Those that are said with it: of its kind and group, where what is sure speaks for what
        is not; or when repeated, of its words."""
        if again:
            return tuple(
                it
                for it in self._repeats()
                if it.saying.words == one.saying.words and it.saying.key != one.saying.key
            )
        if one.saying.group is None or one.saying.kind not in _FINDINGS:
            return ()
        alike = (one.saying.kind, one.saying.group)
        return tuple(
            it
            for it in self.state.waiting
            if it is not one
            and (it.saying.kind, it.saying.group) == alike
            and (it.saying.unsure or not one.saying.unsure)
        )

    def _note_stops(self, covers: tuple[_Waiting, ...], words: str, *, again: bool) -> None:
        """Keep that a stop was said; one more of a rule that still waits is its second saying."""
        at_s, covered = self.state.at_s, {one.saying.key for one in covers}
        group = covers[0].saying.group
        stops = tuple(
            replace(stop, times=stop.times + 1)
            if (stop.saying.key in covered if again else group and stop.saying.group == group)
            else stop
            for stop in self.state.stops
        )
        if not again:
            times = 2 if any(stop.times > 1 and stop.saying.group == group for stop in stops) else 1
            stops += tuple(
                SaidStop(replace(one.saying, words=words), at_s, times) for one in covers
            )
        self.state = replace(self.state, stops=stops, next_tick_s=at_s + STOP_TICK_S)

    def _silence(self, sound: _Sounding) -> None:
        rest = tuple(one for one in self.state.sounding if one is not sound)
        self.state = replace(self.state, sounding=rest)
        self.actions.append(BreakOff(sound.saying.key))

    def _interrupt(self, sound: _Sounding) -> None:
        """Break it off, and let it wait to be said again, as if it had not been begun."""
        self._silence(sound)
        state, saying = self.state, sound.saying
        if saying.kind == "question":
            self.state = replace(self.state, asked=None)
        keys = {one.saying.key for one in sound.covers}
        if saying.kind == "stop" and sound.again:  # its first saying was whole; it is due again
            due = (
                replace(stop, times=stop.times - 1) if stop.saying.key in keys else stop
                for stop in state.stops
            )
            self.state = replace(self.state, stops=tuple(due))
            return
        stops = tuple(stop for stop in state.stops if stop.saying.key not in keys)
        self.state = replace(self.state, stops=stops)
        if sound.opens_group:
            self.state = replace(self.state, groups=self.state.groups - {saying.group})
        if saying.kind in _FINDINGS:
            self.state = replace(
                self.state, told={key: rank for key, rank in state.told.items() if key not in keys}
            )
        tried = tuple(replace(one, tries=one.tries + 1) for one in sound.covers)
        if saying.kind == "question" and tried[0].tries >= MAX_ASKED:
            self._leave(tried[0], "interrupted")
        elif MANNERS[saying.kind].again:
            self.state = replace(self.state, waiting=(*self.state.waiting, *tried))


def _rank(saying: Saying) -> int:
    return MANNERS[saying.kind].rank
