"""A rep being built: everything said of it so far, and the Rep it comes to.

Its methods are what a phrase can do to a rep that it belongs to; to which rep a phrase belongs
is `utterance_builder`'s to say, and what it replaces when it corrects one `corrections`'.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

from voicelog.model import (
    CueBy,
    Dog,
    Doubt,
    Entry,
    LevelMark,
    Mode,
    Outcome,
    PressTimes,
    Rep,
    RepTimes,
    SignMark,
)
from voicelog.model.domain import FAILED, FIND_LEVEL, NOT_COMING
from voicelog.model.phrases import (
    CueCountPhrase,
    CuePhrase,
    OutcomePhrase,
    RewardPhrase,
    SignPhrase,
)

__all__ = ["Press", "RepBuilder"]

_ARRIVED = frozenset({"complied", "slow", "partial"})
_OF_OUTCOME: frozenset[Doubt] = frozenset({"no outcome", "missed", "late"})
"""Doubts that are settled where nobody knows how a rep ended: nothing more is to be found out."""
_HELD = frozenset({"vibrate", "tone", "continuous"})
WEAK_SIGNS_FOR_STRESS = 2  # different ones in one rep; common practice, no source


@dataclass(slots=True)
class Press:
    """One press of the button: when, how, at which level, and when it is known to end."""

    at_s: float
    entry: str
    mode: Mode
    level: int | None
    rung: bool = False
    """Whether it was said as a rung of a ladder: "up to three", "notch up"."""
    ended_s: float | None = None

    def end(self, at_s: float) -> None:
        """It is known to end then (s in the recording). `at_s` is when the entry that says so
        begins."""
        self.ended_s = at_s


@dataclass(slots=True)
class RepBuilder:
    """A rep in the making; only its own methods change it.

    Times are seconds in the recording, of the narrator's words and not of the dog. `collar_on` is
    what was said of the collar, None where nothing was. `shared`: one "no button" may be of this
    rep or of the one before or after it, `shares_with` the number of the one before where that was
    so when this was opened, `left_at` when it was said of this one in a breath after its outcome:
    from when to when, s. `failed_first`: what the dog did before it came or was helped;
    `presses_before`: how many presses there were when `outcome` was said. `not_known`: a person
    says that nobody knows how it ended; what is said of that all the same stands.
    """

    number: int
    id: str
    start_s: float
    end_s: float
    collar_on: bool | None
    drill: str | None = None
    distraction: str | None = None
    distance: float | None = None
    distance_unit: str | None = None
    cue: str | None = None
    cue_by: CueBy | None = None
    cues: int = 0
    cue_at: tuple[float, str] | None = None
    last_cue_s: float | None = None
    no_button: bool = False
    shared: bool = False
    shares_with: int | None = None
    left_at: tuple[float, float] | None = None
    presses: list[Press] = field(default_factory=list)
    outcome: Outcome | None = None
    outcome_at: tuple[float, str] | None = None
    outcome_word: str | None = None
    failed_first: Outcome | None = None
    presses_before: int = 0
    turned_at: tuple[float, str] | None = None
    signs: list[SignMark] = field(default_factory=list)
    rewards: list[str] = field(default_factory=list)
    entries: dict[str, None] = field(default_factory=dict)
    doubts: dict[Doubt, None] = field(default_factory=dict)
    void: bool = False
    not_known: bool = False

    @property
    def has_stimulus(self) -> bool:
        """Whether it was said what the thumb did, be it nothing."""
        return self.no_button or bool(self.presses)

    @property
    def is_unfelt(self) -> bool:
        """Whether the dog showed nothing of what was pressed."""
        shown = self.outcome != "ignored" and not (
            self.signs and all(mark.class_ == "none" for mark in self.signs)
        )
        return bool(self.presses) and not shown

    @property
    def ends_looks_back(self) -> bool:
        """Whether nobody who looks back over reps looks further than this one: for the mode of the
        last press with a level, for since when the collar was on, for what was not felt."""
        return self.last_level_press is not None and bool(self.collar_on) and not self.is_unfelt

    @property
    def is_pressed(self) -> bool:
        """Whether the last press is one that lasts and was not said to be over."""
        last = self.presses[-1] if self.presses else None
        return last is not None and last.mode in _HELD and last.ended_s is None

    @property
    def is_pressed_since(self) -> bool:
        """Whether the dog failed, was pressed since, and nothing was said of what came of it."""
        return self.outcome in FAILED and len(self.presses) > self.presses_before

    @property
    def exercise(self) -> str | None:
        """The drill that the rep is of: what a dog did that sat or stayed in a recall is none."""
        done = self.outcome in _ARRIVED and self.drill == "recall"
        return NOT_COMING.get(self.outcome_word or "", self.drill) if done else self.drill

    @property
    def last_level_press(self) -> Press | None:
        """The last press with a level."""
        return next((p for p in reversed(self.presses) if p.level is not None), None)

    @property
    def level(self) -> int | None:
        """The level in force now."""
        return None if self.last_level_press is None else self.last_level_press.level

    def give_cue(self, entry: Entry, phrase: CuePhrase | CueCountPhrase) -> None:
        """The dog was called, or it was said how often; the first cue is the rep's. `entry` has it
        as `phrase`."""
        if isinstance(phrase, CueCountPhrase):
            self.cues = max(self.cues, phrase.cues)
        else:
            if self.cue is None:
                self.cue, self.cue_by = phrase.cue, phrase.cue_by
            self.cues += 1
        if self.cue_at is None:
            self.cue_at = (entry.start_s, entry.id)
        self.last_cue_s = entry.start_s
        self.extend(entry)

    def add_sign(self, entry: Entry, phrase: SignPhrase) -> None:
        """The body showed something, at the level in force. `entry` has it as `phrase`."""
        self.signs.append(
            SignMark.model_validate(
                {
                    "at_s": entry.start_s,
                    "sign": phrase.sign,
                    "class": phrase.class_,
                    "level": self.level,
                }
            )
        )

    def add_reward(self, phrase: RewardPhrase) -> None:
        """The dog was given something for it. `phrase` says what."""
        self.rewards.append(phrase.reward)

    def turn(self, entry: Entry, *, timed: bool = True) -> None:
        """The dog turned; the first time counts. `entry` says so; where it is not `timed`, nothing
        tells when that was."""
        if self.turned_at is None and timed:
            self.turned_at = (entry.start_s, entry.id)
        self.extend(entry)

    def end(self, entry: Entry, phrase: OutcomePhrase, *, timed: bool = True) -> None:
        """It was said how the rep ended: `entry` says it as `phrase`; where it is not `timed`,
        nothing tells when that was."""
        self.outcome, self.outcome_word = phrase.outcome, phrase.word
        self.outcome_at = (entry.start_s, entry.id) if timed else None
        self.presses_before = len(self.presses)

    def fail_first(self, outcome: Outcome) -> None:
        """Before it ended as it did, the dog did this: `outcome`, one of `FAILED`."""
        self.failed_first = outcome

    def refine(self, outcome: Outcome) -> None:
        """It ended as was said, and `outcome` says how: slowly, or part of the way. When it ended
        stays."""
        self.outcome = outcome

    def extend(self, entry: Entry) -> None:
        """The rep lasts at least to the end of what was said of it. `entry` tells of it."""
        self.end_s = max(self.end_s, entry.end_s)

    def end_press(self, at_s: float, entry: str) -> None:
        """The last press ended when `entry` was spoken; one breath has no times inside. `at_s` is
        when that was."""
        if self.presses and self.presses[-1].ended_s is None and self.presses[-1].entry != entry:
            self.presses[-1].end(at_s)

    def add_press(self, press: Press) -> None:
        """The button was pressed. `press` is open until its end is said."""
        self.presses.append(press)

    def leave_button(self) -> None:
        """It was said that no button was used, and of this rep."""
        self.no_button = True
        self.keep_button()

    def leave_button_at(self, entry: Entry) -> None:
        """It was said so by `entry`, after the outcome."""
        self.leave_button()
        if self.outcome_at is not None and self.outcome_at[1] != entry.id:
            self.left_at = entry.start_s, entry.end_s

    def share_button(self, before: int | None = None) -> None:
        """The "no button" may be of this rep or of another, the one of the number `before` where it
        was said before this rep: neither is known to have been without."""
        self.shared, self.shares_with = True, before

    def keep_button(self) -> None:
        """What was said of the button is of this rep, or of the other, and known."""
        self.shared, self.shares_with = False, None
        self.settle("two reps")

    def put_collar_on(self) -> None:
        """A press tells that the collar was on."""
        self.collar_on = True

    def add_entry(self, entry: Entry) -> None:
        """The entry told of this rep."""
        self.entries[entry.id] = None

    def doubt(self, why: Doubt) -> None:
        """Not all of it is sure. `why` is what a person is asked about."""
        self.doubts[why] = None

    def settle(self, *whys: Doubt) -> None:
        """These doubts are gone: a correction has said what is so."""
        for why in whys:
            self.doubts.pop(why, None)

    def strike(self) -> None:
        """It was taken back, or the dog felt nothing of it: it counts in nothing."""
        self.void = True

    def abandon(self) -> None:
        """Nothing was said of how it ended, and that is doubtful."""
        self.outcome = "unknown"
        self.doubt("no outcome")

    def renumber(self, number: int) -> None:
        """Its place in the session's count. `number` counts from 1."""
        self.number = number

    def copied(self) -> RepBuilder:
        """The same rep in the making, to go on with beside this one."""
        return replace(
            self,
            presses=[replace(press) for press in self.presses],
            signs=list(self.signs),
            rewards=list(self.rewards),
            entries=dict(self.entries),
            doubts=dict(self.doubts),
        )

    def all_told(self) -> tuple[object, ...]:
        """All that was told of it, as values that do not change: what it comes to rests on these,
        on its session and dog, and on its number."""
        return (
            self.id, self.start_s, self.end_s, self.collar_on, self.drill,
            self.distraction, self.distance, self.distance_unit, self.cue, self.cue_by, self.cues,
            self.cue_at, self.no_button, self.shared, self.outcome, self.outcome_at,
            self.outcome_word, self.failed_first, self.presses_before, self.turned_at, self.void,
            self.not_known,
            tuple([(one.at_s, one.mode, one.level, one.ended_s) for one in self.presses]),
            tuple(self.signs), tuple(self.rewards), tuple(self.entries), tuple(self.doubts),
        )  # fmt: skip

    # --- what a correction does ----------------------------------------------------------

    def forget(self, kinds: Collection[str], *, cue_words: bool) -> None:
        """Give up what was said of these kinds of phrase, to be said anew.

        `cue_words`: with "cue", the cue's own words too and not only how often it was given.
        """
        if "cue" in kinds:
            if cue_words:
                self.cue, self.cue_by = None, None
            self.cues = 0
        if "stimulus" in kinds:
            self.presses, self.no_button = [], False
            self.keep_button()
            self.settle("button")
        if "sign" in kinds:
            self.signs = []
        if "reward" in kinds:
            self.rewards = []
        if "outcome" in kinds:
            self.failed_first = None

    def drop_press(self, press: Press) -> None:
        """Give up one press; the others stay, and what "no button" said against it is settled."""
        self.presses.remove(press)
        self.settle("button")

    def order_presses(self, ended_s: float | None) -> None:
        """Presses in order of time once one was said anew, the last said: it ended as the one whose
        place it has (`ended_s`, None where that was not said)."""
        if ended_s is not None:
            self.presses[-1].end(ended_s)
        self.presses.sort(key=lambda press: press.at_s)

    def set_cue_times(self, first: tuple[float, str] | None, last_s: float | None) -> None:
        """When it was called first, and by which entry, and when last (s in the recording).
        `last_s` and the first are None where no cue was heard."""
        self.cue_at, self.last_cue_s = first, last_s

    def correct_outcome(self, phrase: OutcomePhrase) -> None:
        """It ended so; that settles a doubt, and says nothing of when. `phrase` replaces what was
        said. A "no button" that may be of another rep is then not of this one, unless it is said
        again."""
        self.outcome, self.outcome_word = phrase.outcome, phrase.word
        if self.shared:
            self.no_button, self.shared, self.shares_with = False, False, None
        self.settle("missed", "edit", "no outcome", "late", "outcomes", "two reps")

    def correct_signs(self, **fields: float | None) -> None:
        """These fields of every sign of it hold instead of what they were."""
        self.signs = [mark.model_copy(update=fields) for mark in self.signs]

    def correct_signs_at(self, press: Press) -> None:
        """The level in force now holds for what was seen at a press that was given up."""
        self.signs = [
            mark.model_copy(update={"level": self.level})
            if mark.at_s >= press.at_s and mark.level == press.level
            else mark
            for mark in self.signs
        ]

    def mode(self, *, has_collar: bool) -> Mode:
        """The mode of the last press with a level, else of the last press, else what was
        said or follows of no press at all. `has_collar`: whether the dog is one with a collar, so
        that it may be on where nothing was said of it."""
        for press in reversed(self.presses):
            if press.level is not None:
                return press.mode
        if self.presses:
            return self.presses[-1].mode
        may_be_on = self.may_be_on(has_collar=has_collar)
        return "none" if self.no_button or not may_be_on else "unknown"

    def may_be_on(self, *, has_collar: bool) -> bool:
        """Whether the collar may be on. `has_collar` as for `mode`."""
        return has_collar if self.collar_on is None else self.collar_on

    def since_cue(self, moment: tuple[float, str] | None) -> float | None:
        """Seconds from the first cue to a word in another utterance, else None; None too where both
        stand at the same moment (typed lines without times). `moment` is a time (s) and the entry
        that said it."""
        if self.cue_at is None or moment is None or self.cue_at[1] == moment[1]:
            return None
        elapsed = moment[0] - self.cue_at[0]
        return round(elapsed, 3) if elapsed > 0 else None

    def longest_press(self) -> float | None:
        """Seconds of the longest held press whose end was said, else None."""
        timed = [
            p.ended_s - p.at_s
            for p in self.presses
            if p.mode in _HELD and p.ended_s is not None and p.ended_s > p.at_s
        ]
        return round(max(timed), 3) if timed else None

    def times(self) -> RepTimes:
        """The moments that were said; a tap's end never is."""
        arrived = self.outcome_at if self.outcome in _ARRIVED else None
        return RepTimes(
            cue_at_s=self.cue_at[0] if self.cue_at else None,
            presses=tuple(
                PressTimes(
                    on_at_s=press.at_s,
                    off_at_s=press.ended_s if press.mode in _HELD else None,
                    mode=press.mode,
                    level=press.level,
                )
                for press in self.presses
            ),
            turned_at_s=self.turned_at[0] if self.turned_at else None,
            arrived_at_s=arrived[0] if arrived else None,
        )

    def build(self, session: str, dog: Dog, *, has_collar: bool) -> Rep:
        """The rep of a session's id and of a dog that it comes to. A level that the dog's
        transmitter cannot give is to be checked. `has_collar`: whether the dog is one with a
        collar."""
        unit = dog.transmitter
        doubts, outcome = dict(self.doubts), self.outcome
        if self.not_known and outcome in (None, "unknown") and self.drill != FIND_LEVEL:
            outcome = "unknown"
            doubts = {why: None for why in doubts if why not in _OF_OUTCOME}
        if any(
            press.level is not None and not unit.lowest <= press.level <= unit.highest
            for press in self.presses
        ):
            doubts["level"] = None
        if self.shared and self.may_be_on(has_collar=has_collar):
            doubts["two reps"] = None
        levels = tuple(
            LevelMark(at_s=press.at_s, level=press.level)
            for press in self.presses
            if press.level is not None
        )
        weak = {mark.sign for mark in self.signs if mark.class_ == "weak"}
        stress = any(mark.class_ == "strong" for mark in self.signs)
        return Rep(
            number=self.number,
            id=self.id,
            session=session,
            dog=dog.name,
            drill=self.exercise,
            start_s=self.start_s,
            end_s=self.end_s,
            cue=self.cue,
            cue_by=self.cue_by,
            cues=self.cues,
            mode=self.mode(has_collar=has_collar),
            levels=levels,
            peak_level=max((mark.level for mark in levels), default=None),
            end_level=levels[-1].level if levels else None,
            outcome=outcome,
            signs=tuple(mark.sign for mark in self.signs),
            sign_marks=tuple(self.signs),
            stress=stress or len(weak) >= WEAK_SIGNS_FOR_STRESS,
            turned_s=self.since_cue(self.turned_at),
            latency_s=self.since_cue(self.outcome_at) if self.outcome in _ARRIVED else None,
            stimulus_s=self.longest_press(),
            rewards=tuple(self.rewards),
            distraction=self.distraction,
            distance=self.distance,
            distance_unit=self.distance_unit,
            entries=tuple(self.entries),
            doubtful=bool(doubts),
            doubts=tuple(doubts),
            void=self.void,
            times=self.times(),
            failed_first=self.failed_first,
        )
