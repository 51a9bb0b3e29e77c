"""A session being built: what holds, what happened, which rep is open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import islice, takewhile
from typing import TypeVar

from voicelog.model import (
    Condition,
    Dog,
    Entry,
    Mark,
    MarkKind,
    Mode,
    Rep,
    Roster,
    Session,
    Slot,
)
from voicelog.model.grown import Grown, begins_with
from voicelog.model.phrases import (
    ConditionPhrase,
    CueCountPhrase,
    CuePhrase,
    EquipmentPhrase,
    HandlerPhrase,
    LevelPhrase,
    ModePhrase,
    NotchPhrase,
    OutcomePhrase,
    RewardPhrase,
    SignPhrase,
    phrase_slots,
)
from voicelog.session.other_dogs import VoiceCall, entries_naming_other_dogs, is_pause
from voicelog.session.rep_builder import Press, RepBuilder

__all__ = ["SessionBuilder", "ToldReps", "is_rung"]

EARLY_S = 6.0
"""How soon after "no button" another rep must be begun for that to be said of it perhaps; common
practice, no source."""
_MEASURED = {"distance", "shot"}
_RUNGS = frozenset({"up", "down", "back", "notch up", "notch down"})
_WAS_ON = frozenset({"stripped", "turned", "slipped"})
_IS_OFF = frozenset({"stripped", "none"})
Value = TypeVar("Value")
_KEPT_BY_NEXT_DOG = frozenset({"location", "temperature", "humidity", "handler"})


class ToldReps:
    """What the reps of a recording came to last, by their ids, and its marks: one of which the same
    is told again is the same object, so that whoever compares sessions sees at once what is other.
    The `marks` may be shared by several."""

    def __init__(self, marks: dict[tuple[object, ...], Mark] | None = None) -> None:
        self._known: dict[tuple[str, bool], tuple[tuple[object, ...], Rep]] = {}
        self._marks = {} if marks is None else marks

    def mark(
        self, entry: Entry, kind: MarkKind, name: str, value: Slot | None, rep: int | None
    ) -> Mark:
        """A mark of `entry`, of the rep of that number where it is of one."""
        of = (entry.start_s, entry.id, kind, name, type(value), value, rep)
        known = self._marks.get(of)
        if known is None:
            known = self._marks[of] = Mark(
                at_s=entry.start_s, entry=entry.id, kind=kind, name=name, value=value, rep=rep
            )
        return known

    def rep(self, told: RepBuilder, session: str, dog: Dog, *, has_collar: bool) -> Rep:
        """As `RepBuilder.build`."""
        of = (told.all_told(), session, dog)
        known, rep = self._known.get((told.id, has_collar), ((), None))
        if rep is None or known != of:
            rep = told.build(session, dog, has_collar=has_collar)
        elif rep.number != told.number:
            rep = rep.model_copy(update={"number": told.number})
        self._known[told.id, has_collar] = of, rep
        return rep


@dataclass(slots=True)
class SessionBuilder:
    """A session in the making; only its own methods change it, and a rep only by the rep's.

    `open` is the rep still waiting for its outcome, `closed` the last one that has it; `left_after`
    the one of which "no button" was said after that, as long as no other was opened.
    `placed` are the entries that did something here. `current_level` is the level last pressed
    or set. `calls` are the dogs called by voice, of each entry that called any. `collar_on` is
    what was told so far of the collar, None where nothing was: then it is as the dog's profile has
    it. `of_stranger`: the dog was named, and no dog of the roster has that name.

    `made` is the session that it came to last, until more is said here; `_has_collar` with which
    kind of dog, and `_collar_in_reps` whether it was on in any rep. The reps with a number in
    `_mine` are in no copy (see `own`), and what the first of all come to is `_built`. `_others` is
    what is known of the first `_others_of` entries, see `_naming_other_dogs`. `told` is shared with
    all that go on from the same beginning.
    """

    id: str
    recording: str
    dog: Dog
    start_s: float
    end_s: float
    temperature_unit: str
    told: ToldReps = field(default_factory=ToldReps)
    conditions: Grown[Condition] = field(default_factory=Grown)
    marks: Grown[Mark] = field(default_factory=Grown)
    reps: list[RepBuilder] = field(default_factory=list)
    entries: dict[str, Entry] = field(default_factory=dict)
    placed: dict[str, None] = field(default_factory=dict)
    flagged: dict[str, None] = field(default_factory=dict)
    calls: dict[str, list[VoiceCall]] = field(default_factory=dict)
    open: RepBuilder | None = None
    closed: RepBuilder | None = None
    left_after: RepBuilder | None = None
    collar_on: bool | None = None
    current_level: int | None = None
    of_stranger: bool = False
    made: Session | None = None
    _held: dict[str, Condition] = field(default_factory=dict)
    _has_collar: bool = False
    _collar_in_reps: bool = False
    _mine: set[int] = field(default_factory=set)
    _built: Grown[Rep] = field(default_factory=Grown)
    _entry_ids: Grown[str] = field(default_factory=Grown)
    _placed_ids: Grown[str] = field(default_factory=Grown)
    _others: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _others_of: int = 0

    def value(self, name: str) -> str | None:
        """What holds now under this name, or None."""
        held = self._held.get(name)
        return None if held is None else held.value

    def _hold(self, condition: Condition) -> None:
        self.conditions = self.conditions.added(condition)
        self._held[condition.name] = condition

    @property
    def finding_level(self) -> bool:
        """Whether the drill is the search for the level the dog first notices."""
        return self.value("drill") == "find level"

    def mark(
        self,
        entry: Entry,
        kind: MarkKind,
        name: str,
        value: Slot | None = None,
        rep: RepBuilder | None = None,
    ) -> None:
        """Add to the timeline."""
        number = rep.number if rep else None
        self.marks = self.marks.added(self.told.mark(entry, kind, name, value, number))

    def set_conditions(
        self, entry: Entry, phrase: EquipmentPhrase | ConditionPhrase | HandlerPhrase
    ) -> None:
        """Conditions and equipment hold from here on."""
        kind: MarkKind = "equipment" if isinstance(phrase, EquipmentPhrase) else "condition"
        for name, value in phrase_slots(phrase).items():
            if name in ("unit", "do"):
                continue
            unit = self._unit(name, phrase)
            self._hold(Condition(at_s=entry.start_s, name=name, value=str(value), unit=unit))
            self.mark(entry, kind, name, value)
        if isinstance(phrase, EquipmentPhrase):
            self._tell_collar(phrase)
            if phrase.contact == "none":
                self._void_unfelt()
        elif isinstance(phrase, ConditionPhrase) and phrase.ceiling is not None:
            self._expect_collar()
        self.place(entry)

    def forget_handler(self, entry: Entry) -> None:
        """Somebody else works the dog from `entry` on, and who is not known."""
        if self.value("handler"):
            self._hold(Condition(at_s=entry.start_s, name="handler", value="", unit=None))
        self.place(entry)

    def _tell_collar(self, phrase: EquipmentPhrase) -> None:
        """Whether the collar is on from here. What comes off, turns or slips was on before."""
        if phrase.collar in _WAS_ON and self.collar_on is None:
            self._wear_collar_until_told()
        if phrase.collar in _IS_OFF:
            self.collar_on = False
        elif any((phrase.collar, phrase.fit is not None, phrase.contact, phrase.test)):
            self.collar_on = True
        elif phrase.collar_number is not None:
            self._expect_collar()

    def _expect_collar(self) -> None:
        """It was told that there is a collar: unless it was said to be off, it may be on."""
        if self.collar_on is None:
            self.collar_on = True

    def _unit(
        self, name: str, phrase: EquipmentPhrase | ConditionPhrase | HandlerPhrase
    ) -> str | None:
        if name in _MEASURED and isinstance(phrase, ConditionPhrase):
            return phrase.unit
        return {"temperature": self.temperature_unit, "humidity": "%"}.get(name)

    def _void_unfelt(self) -> None:
        """Without contact the dog felt nothing: what it "ignored" just before says nothing."""
        for rep in self.reps[::-1]:
            if not rep.is_unfelt:
                return
            self.own(rep).strike()

    def carry_over(self, previous: Iterable[Condition], start_s: float) -> None:
        """What the next dog keeps of the last one's conditions: place, weather, handler."""
        newest = {c.name: c for c in previous if c.name in _KEPT_BY_NEXT_DOG}
        for condition in newest.values():
            self._hold(condition.model_copy(update={"at_s": start_s}))

    def open_rep(self, entry: Entry) -> RepBuilder:
        """Open the next rep under what holds now. `entry` is the one that opens it."""
        distance = self._held.get("distance")
        own = f"{entry.id}."
        opened_here = len(list(takewhile(lambda rep: rep.id.startswith(own), reversed(self.reps))))
        name = f"{entry.id}.{opened_here + 1}"
        rep = RepBuilder(
            number=len(self.reps) + 1,
            id=name,
            not_known=name in entry.not_known,
            start_s=entry.start_s,
            end_s=entry.end_s,
            collar_on=self.collar_on,
            drill=self.value("drill"),
            distraction=self.value("distraction"),
            distance=float(distance.value) if distance else None,
            distance_unit=distance.unit if distance else None,
        )
        self.reps.append(rep)
        self._mine.add(rep.number)
        self._collar_in_reps |= bool(self.collar_on)
        before = self.left_after
        self.open, self.left_after = rep, None
        said = None if before is None or before.presses else before.left_at
        if before is not None and said is not None and entry.start_s - said[1] <= EARLY_S:
            self.own(before).share_button()
            rep.share_button(before.number)
        return rep

    def leave_button(self, rep: RepBuilder) -> None:
        """ "No button" was said of `rep`, before its outcome or with it."""
        self.settle_shared(rep, pressed=False)
        rep.leave_button()

    def settle_shared(self, rep: RepBuilder, *, pressed: bool) -> None:
        """What the thumb did in `rep` is told: an earlier "no button" was of the rep before, where
        this one was `pressed`, or where it was said nearer to that one's end."""
        if rep.shares_with is None:
            return
        before = self.own(self.reps[rep.shares_with - 1])
        said, end_s = before.left_at, before.outcome_at
        nearer = (
            said is not None
            and end_s is not None
            and said[0] - end_s[0] <= rep.start_s - said[1] + 1e-9
        )
        if before.shared and (pressed or nearer):
            before.keep_button()
        rep.keep_button()

    def close_rep(self, entry: Entry, phrase: OutcomePhrase | None, *, timed: bool = True) -> None:
        """Close the open rep with what was said of it; in the search for a level, nothing is.
        `timed`: whether the words tell when that was. `entry` has it as `phrase`, None where
        nothing was said."""
        rep = self.open
        if rep is None:
            return
        if phrase is not None:
            rep.end(entry, phrase, timed=timed)
            self.mark_outcome(entry, phrase, rep)
        rep.extend(entry)
        self.settle_rep()

    def abandon_rep(self) -> None:
        """Close the open rep without knowing how it ended; that is doubtful."""
        if self.open is not None:
            self.open.abandon()
            self.settle_rep()

    def settle_rep(self) -> None:
        """Nothing more is waited for in the open rep. One that the session's end cuts short has
        no outcome: it was not said."""
        if self.open is not None:
            self.open, self.closed = None, self.open

    # --- phrases that tell of a rep ------------------------------------------------------

    def give_cue(self, rep: RepBuilder, entry: Entry, phrase: CuePhrase | CueCountPhrase) -> None:
        """A cue of `rep`: `entry` has it as `phrase`."""
        rep.give_cue(entry, phrase)
        if isinstance(phrase, CuePhrase):
            self.mark(entry, "cue", phrase.cue, phrase.cue_by, rep)
        else:
            self.mark(entry, "cue", "called", None, rep)

    def add_sign(self, rep: RepBuilder, entry: Entry, phrase: SignPhrase) -> None:
        """A sign seen in `rep`: `entry` has it as `phrase`."""
        rep.add_sign(entry, phrase)
        self.mark(entry, "sign", phrase.sign, phrase.class_, rep)

    def add_reward(self, rep: RepBuilder, entry: Entry, phrase: RewardPhrase) -> None:
        """A reward for `rep`: `entry` has it as `phrase`."""
        rep.add_reward(phrase)
        self.mark(entry, "reward", phrase.reward, None, rep)

    def add_press(
        self,
        rep: RepBuilder,
        entry: Entry,
        at_s: float,
        mode: Mode,
        level: int | None,
        *,
        rung: bool = False,
    ) -> None:
        """A press in `rep`, from `at_s` on, as `entry` says: its `mode`, and its `level` where it
        has one; a `rung` is one of a ladder."""
        self.settle_shared(rep, pressed=True)
        rep.add_press(Press(at_s, entry.id, mode, level, rung))
        self.mark(entry, "press", mode, level, rep)

    def press_now(
        self, rep: RepBuilder, entry: Entry, mode: Mode, level: int | None, *, rung: bool = False
    ) -> None:
        """A press in `rep` as the entry begins: the collar is on, and the level in force. `mode` is
        how, `level` None where none is known; a `rung` is one of a ladder."""
        self.add_press(rep, entry, entry.start_s, mode, level, rung=rung)
        self._wear_collar_until_told()
        rep.put_collar_on()
        self.collar_on = self._collar_in_reps = True
        if level is not None:
            self.set_level(level)

    def _wear_collar_until_told(self) -> None:
        """It turns out that the collar is on, and not since when. Where nothing was said of it, or
        that it was off, it may have been on in the reps since as well: a call in them is not known
        to have been without the button."""
        if self.collar_on:
            return
        for rep in self.reps[::-1]:
            if rep.collar_on:
                break
            self.own(rep).put_collar_on()
            self._collar_in_reps = True

    def dial(self, entry: Entry, level: int) -> None:
        """The dial is set to a level, which is not pressed. `entry` is the one that says so."""
        self._expect_collar()
        self.set_level(level)
        self.mark(entry, "dial", "dial", level, self.open)

    def set_level(self, level: int) -> None:
        """The level last pressed or set."""
        self.current_level = level

    def mark_outcome(self, entry: Entry, phrase: OutcomePhrase, rep: RepBuilder) -> None:
        """The outcome of `rep` on the timeline, with the word said for it: `entry` has it as
        `phrase`."""
        self.mark(entry, "outcome", phrase.outcome, phrase.word or phrase.outcome, rep)
        if phrase.game is not None:
            game = Condition(at_s=entry.start_s, name="game", value=phrase.game, unit=None)
            self._hold(game)
            self.mark(entry, "condition", "game", phrase.game)

    def mode_and_level(
        self, rep: RepBuilder | None, phrase: ModePhrase | LevelPhrase | NotchPhrase
    ) -> tuple[Mode | None, int | None]:
        """Mode and level of a stimulus (`phrase`) in `rep`; no mode when it names no level one can
        know."""
        if isinstance(phrase, ModePhrase):
            return phrase.do, None
        if isinstance(phrase, LevelPhrase):
            return phrase.mode or self._mode_unsaid(rep, is_rung(phrase)), phrase.level
        if self.current_level is None:
            return None, None
        unit = self.dog.transmitter
        notch = unit.step or 1
        moved = self.current_level + (notch if phrase.do == "notch up" else -notch)
        level = min(max(moved, unit.lowest), max(unit.highest, self.current_level))
        return self._mode_unsaid(rep, True), level

    def _mode_unsaid(self, rep: RepBuilder | None, is_ladder: bool) -> Mode:
        """A ladder goes on in the mode it began with, also in the next call; "level N" alone is the
        dog's default."""
        if is_ladder:
            for told in (*([rep] if rep else []), *reversed(self.reps)):
                for press in reversed(told.presses):
                    if press.level is not None:
                        return press.mode
        return self.dog.default_mode

    # --- what the recording does with it -------------------------------------------------

    def include(self, entry: Entry) -> None:
        """The entry fell in this session."""
        self.adopt(entry)
        self.end_s = max(self.end_s, entry.end_s)

    def place(self, entry: Entry) -> None:
        """The entry did something here."""
        if entry.id not in self.placed:
            self.placed[entry.id] = None
            self._placed_ids = self._placed_ids.added(entry.id)

    def adopt(self, entry: Entry) -> None:
        """A person moved the entry here; when the session ended is not changed by it."""
        if entry.id not in self.entries:
            self._entry_ids = self._entry_ids.added(entry.id)
        self.entries[entry.id] = entry

    def flag(self, entry: str) -> None:
        """The trainer flagged an entry, by its id."""
        self.flagged[entry] = None

    def change_dog(self, dog: Dog, *, of_stranger: bool = False) -> None:
        """It is another dog than was said: "wrong dog"."""
        self.dog, self.of_stranger = dog, of_stranger
        self._built, self._others, self._others_of = Grown(), {}, 0

    def add_call(self, entry: Entry, call: VoiceCall) -> None:
        """The entry calls a dog by voice. `call` is one of them."""
        self.calls.setdefault(entry.id, []).append(call)

    def set_calls(self, entry: Entry, calls: list[VoiceCall]) -> None:
        """The dogs that the entry calls are these and no others."""
        self.calls[entry.id] = calls

    def replace_marks(self, marks: Grown[Mark]) -> None:
        """The timeline as a correction leaves it. `marks` are all of the session, in order."""
        self.marks = marks

    def strike_rep(self, rep_id: str | None) -> None:
        """The rep of that id, if there is one, is taken back. `rep_id`: None strikes none."""
        for rep in tuple(self.reps):
            if rep.id == rep_id:
                self.own(rep).strike()

    def leave_button_after(self, rep: RepBuilder, entry: Entry) -> None:
        """ "No button" was said of a rep that has its outcome, by `entry`; pressed, it is to be
        checked."""
        if rep.presses:
            rep.doubt("button")
        self.settle_shared(rep, pressed=False)
        rep.leave_button_at(entry)
        rep.extend(entry)
        self.left_after = rep

    def doubt_open_rep(self) -> None:
        """A word of the open rep may have been missed."""
        if self.open is not None:
            self.open.doubt("missed")

    def doubt_rep(self, number: int | None = None) -> None:
        """A doubtful strike or correction may be about the rep of this number, else the last."""
        named = [rep for rep in self.reps if rep.number == number]
        for rep in named or self.reps[-1:]:
            self.own(rep).doubt("edit")

    def take_over(self, unnamed: SessionBuilder) -> None:
        """What was said before any dog was named is said of the first one. `unnamed` is that
        session; it is over."""
        self.start_s = unnamed.start_s
        self.conditions, self.marks = unnamed.conditions, unnamed.marks
        self._held = unnamed._held
        self.entries, self.placed = unnamed.entries, unnamed.placed
        self._entry_ids, self._placed_ids = unnamed._entry_ids, unnamed._placed_ids
        self.collar_on = unnamed.collar_on

    def trial(self, entry: Entry) -> SessionBuilder:
        """A session without reps in which what holds now holds: to try an entry in."""
        return SessionBuilder(
            id=self.id,
            recording=self.recording,
            dog=self.dog,
            start_s=entry.start_s,
            end_s=entry.end_s,
            temperature_unit=self.temperature_unit,
            conditions=self.conditions,
            _held=dict(self._held),
            collar_on=self.collar_on,
            current_level=self.current_level,
        )

    def keep_void(self, reps: Iterable[RepBuilder]) -> None:
        """Keep struck reps in the list, void, each with the next number."""
        for rep in reps:
            rep.renumber(len(self.reps) + 1)
            rep.strike()
            self.reps.append(rep)
            self._mine.add(rep.number)
            self._collar_in_reps |= bool(rep.collar_on)

    # --- what is kept of it --------------------------------------------------------------

    def own(self, rep: RepBuilder) -> RepBuilder:
        """The rep of this session that may be changed in place of `rep`, one of its own: a copy
        where a kept state may have it too."""
        if rep.number in self._mine:
            return rep
        place = rep.number - 1
        self._mine.add(rep.number)
        self.reps[place] = rep.copied()
        self._built = self._built.until(place)
        return self.reps[place]

    def copied(self) -> SessionBuilder:
        """The same session in the making, to go on with beside this one. Reps that are over are
        shared with it."""
        self._see_collar(has_collar=self._has_collar or self.dog.has_collar)
        first = min((rep.number - 1 for rep in self._live), default=len(self.reps))
        over = (
            self.told.rep(rep, self.id, self.dog, has_collar=self._has_collar)
            for rep in self.reps[len(self._built) : first]
        )
        self._built = self._built.added(*over)
        own = {rep.number: rep.copied() for rep in self._live}
        self._mine = set(own)
        return replace(
            self,
            reps=self._reps_with(own),
            entries=dict(self.entries),
            placed=dict(self.placed),
            flagged=dict(self.flagged),
            calls=dict(self.calls),
            open=own[self.open.number] if self.open else None,
            closed=own[self.closed.number] if self.closed else None,
            left_after=own[self.left_after.number] if self.left_after else None,
            _held=dict(self._held),
            _mine=set(own),
        )

    def stands_as(self, then: SessionBuilder) -> bool:
        """Whether the same entries do the same here as in `then`, a session of the same id and dog,
        but for those that aim at what lies further back than what is compared: what holds, and
        the reps back to one where every look back ends."""
        return (
            self._standing() == then._standing()
            and tuple(self._held.items()) == tuple(then._held.items())
            and self._last_reps_are(then)
        )

    def _standing(self) -> tuple[object, ...]:
        live = (self.open, self.closed, self.left_after)
        return (
            self.start_s, self.end_s, self.collar_on, self.current_level, self.of_stranger,
            self._collar_in_reps, len(self.reps), tuple(self.flagged),
            tuple(None if rep is None else rep.number for rep in live),
        )  # fmt: skip

    def _last_reps_are(self, then: SessionBuilder) -> bool:
        live = self._live
        first = min([len(self.reps), *(rep.shares_with or rep.number for rep in live)])
        for rep, other in zip(reversed(self.reps), reversed(then.reps), strict=True):
            if rep != other:
                return False
            if rep.number <= first and rep.ends_looks_back:
                return True
        return True

    def with_tail(
        self, then: SessionBuilder, later: SessionBuilder, whole: SessionBuilder | None = None
    ) -> SessionBuilder | None:
        """What this comes to, where it `stands_as` the state `then` that came to `later`; None
        where something was done on the way to what lies before. `whole` is what it comes to with
        more after that, where it is known. `later` is used up, and so is this once it has come to
        anything."""
        many = len(self.reps)
        live = {rep.number for rep in then._live}
        if (
            then.dog != later.dog
            or then.of_stranger != later.of_stranger
            or any(rep.number <= many and rep.number not in live for rep in later._live)
            or any(
                here is not there
                for here, there in zip(then.reps, later.reps, strict=False)
                if here.number not in live
            )
            or not begins_with(later.marks, then.marks)
            or not begins_with(later.conditions, then.conditions)
        ):
            return None
        self._see_collar(has_collar=later._has_collar)
        first = min([many, len(later._built), *(number - 1 for number in live)])
        over = (
            self.told.rep(rep, self.id, self.dog, has_collar=self._has_collar)
            for rep in self.reps[len(self._built) : first]
        )
        built = self._built.until(first).added(*over)
        cut = whole or self
        reps = [
            there if here.number in live else here
            for here, there in zip(self.reps, later.reps, strict=False)
        ]
        return replace(
            later,
            conditions=_tailed(self.conditions, then.conditions, later.conditions, cut.conditions),
            marks=_tailed(self.marks, then.marks, later.marks, cut.marks),
            reps=[*reps, *later.reps[many:]],
            entries=self.entries | _after(then.entries, later.entries),
            placed=self.placed | _after(then.placed, later.placed),
            calls=self.calls | _after(then.calls, later.calls),
            made=None,
            _mine={rep.number for rep in later._live},
            _built=_tailed(built, later._built.until(first), later._built, cut._built),
            _entry_ids=_tailed(self._entry_ids, then._entry_ids, later._entry_ids, cut._entry_ids),
            _placed_ids=_tailed(
                self._placed_ids, then._placed_ids, later._placed_ids, cut._placed_ids
            ),
            _others=self._others,
            _others_of=self._others_of,
        )

    def _see_collar(self, *, has_collar: bool) -> None:
        """What reps come to rests on whether the dog is one with a collar."""
        if has_collar != self._has_collar:
            self._has_collar, self._built, self.made = has_collar, Grown(), None

    def _reps_with(self, own: Mapping[int, RepBuilder]) -> list[RepBuilder]:
        reps = list(self.reps)
        for number, rep in own.items():
            reps[number - 1] = rep
        return reps

    def make_anew(self) -> None:
        """Something was said here."""
        self.made = None

    @property
    def _live(self) -> list[RepBuilder]:
        return [rep for rep in (self.open, self.closed, self.left_after) if rep is not None]

    def _naming_other_dogs(self, roster: Roster) -> dict[str, tuple[str, ...]]:
        """The entries that may be of another dog. What lies before the last pause is not looked at
        again: no breath goes over a pause."""
        many = len(self.entries) - self._others_of
        tail = tuple(islice(reversed(self.entries.values()), many))[::-1]
        found = entries_naming_other_dogs(self.dog, self.calls, tail, self.placed, roster)
        pauses = (at for at in range(len(tail) - 1, 0, -1) if is_pause(tail[at - 1], tail[at]))
        over = next(pauses, 0)
        before = {entry.id for entry in tail[:over]}
        others = self._others | found
        self._others = self._others | {name: dogs for name, dogs in found.items() if name in before}
        self._others_of += over
        return others

    @property
    def tells_of_collar(self) -> bool:
        """Whether anything here tells that the dog has a collar."""
        return bool(self.collar_on) or self._collar_in_reps

    def build(self, roster: Roster, *, wore: bool) -> Session:
        """What it comes to. `roster` has the names and cues of all dogs. `wore`: whether the dog
        had a collar earlier that day."""
        has_collar = wore or self.dog.has_collar
        self._see_collar(has_collar=has_collar)
        if self.made is None:
            later = self.reps[len(self._built) :]
            told = (self.told.rep(one, self.id, self.dog, has_collar=has_collar) for one in later)
            self.made = Session.model_construct(  # of parts that were checked when they were made
                id=self.id,
                recording=self.recording,
                dog=self.dog,
                start_s=self.start_s,
                end_s=self.end_s,
                conditions=self.conditions,
                marks=self.marks,
                reps=self._built.added(*told),
                entries=self._entry_ids,
                placed=self._placed_ids,
                flagged=tuple(self.flagged),
                others=self._naming_other_dogs(roster),
            )
        return self.made


def _tailed(
    here: Grown[Value], then: Grown[Value], later: Grown[Value], whole: Grown[Value]
) -> Grown[Value]:
    """What is `here`, and after it what came to `then` until it was `later`; cut from the `whole`
    where that begins so, to share it."""
    tail = later[len(then) :]
    many = len(here) + len(tail)
    if many <= len(whole) and whole[len(here) : many] == tail and begins_with(whole, here):
        return whole.until(many)
    return here.added(*tail)


def _after(then: Mapping[str, Value], later: Mapping[str, Value]) -> dict[str, Value]:
    """What was put into `later` since it was as `then`."""
    return dict(islice(later.items(), len(then), None))


def is_rung(phrase: ModePhrase | LevelPhrase | NotchPhrase) -> bool:
    """Whether a stimulus goes on from the one before: "up to three", "notch down". `phrase` tells
    of it."""
    return phrase.do in _RUNGS
