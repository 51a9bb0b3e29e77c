"""Sessions for the safety tests, written down in the order in which they happen.

`Field()` takes what is said, one entry a call, 3 s apart, and lays it out as assembled
sessions: a press or a cue opens a rep, an outcome closes it, a sign belongs to the open or
just closed rep. All dogs are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from voicelog.model import Condition, Dog, LevelMark, Mark, Rep, Session, Slot

GAP_S = 3.0


@dataclass(frozen=True)
class Said:
    """One mark as said, before it has a rep."""

    entry: str
    at_s: float
    kind: str
    name: str
    value: Slot | None
    unit: str | None = None


@dataclass
class Field:
    """A session in the making; every method is one entry unless `together`."""

    dog: Dog = field(default_factory=lambda: Dog(name="Juno"))
    now_s: float = 0.0
    said: list[Said] = field(default_factory=list)
    doubtful: set[str] = field(default_factory=set)
    struck: set[str] = field(default_factory=set)
    count: int = 0
    minutes: float | None = None
    _hold: bool = False

    def say(self, kind: str, name: str, value: Slot | None = None, unit: str | None = None):
        if not self._hold:
            self.count += 1
            self.now_s += GAP_S
        self._hold = False
        self.said.append(Said(f"e{self.count}", self.now_s, kind, name, value, unit))
        return self

    def together(self):
        """The next thing is said in the same breath as the last."""
        self._hold = True
        return self

    def doubt(self):
        """The last entry is doubtful."""
        self.doubtful.add(f"e{self.count}")
        return self

    def strike(self):
        """The last entry was struck."""
        self.struck.add(f"e{self.count}")
        return self

    def wait(self, seconds: float):
        self.now_s += seconds - GAP_S
        return self

    def lasts(self, minutes: float):
        """The session ends this long after its start."""
        self.minutes = minutes
        return self

    def fitted(self):
        return self.say("equipment", "collar", "fitted")

    def collar(self, what: str):
        return self.say("equipment", "collar", what)

    def fit(self, fingers: Slot = 2):
        return self.say("equipment", "fit", fingers)

    def contact(self, what: str):
        return self.say("equipment", "contact", what)

    def skin(self, what: str):
        return self.say("equipment", "skin", what)

    def set(self, name: str, value: Slot, unit: str | None = None):
        return self.say("condition", name, value, unit)

    def cue(self, words: str = "here"):
        return self.say("cue", words, "voice")

    def press(self, level: int, mode: str = "continuous"):
        return self.say("press", mode, level)

    def vibrate(self):
        return self.say("press", "vibrate")

    def off(self):
        return self.say("off", "thumb off")

    def sign(self, name: str, class_: str):
        return self.say("sign", name, class_)

    def strong(self, name: str = "yelped"):
        return self.sign(name, "strong")

    def weak(self, name: str = "whined"):
        return self.sign(name, "weak")

    def nothing(self):
        return self.sign("nothing", "none")

    def out(self, outcome: str = "complied"):
        return self.say("outcome", outcome)

    def reward(self, what: str = "praised"):
        return self.say("reward", what)

    def rep(self, level: int | None = None, outcome: str = "complied"):
        """A whole recall: cue, level or no button, outcome."""
        self.cue()
        if level is not None:
            self.press(level)
        return self.out(outcome)

    def session(self) -> Session:
        """The session with its doubtful entries believed and without the struck ones."""
        return self._without(self.struck)

    def sure(self) -> Session:
        return self._without(self.struck | self.doubtful)

    def standing(self) -> Session:
        return self._without(set())

    def prefix(self, entries: int) -> Session:
        """The session as it stood after so many entries."""
        later = {f"e{number}" for number in range(entries + 1, self.count + 1)}
        return self._without(later | self.struck)

    def _without(self, absent: set[str]) -> Session:
        said = [one for one in self.said if one.entry not in absent]
        marks: list[Mark] = []
        number, is_open = 0, False
        for one in said:
            rep = None
            if one.kind in ("cue", "press") and not is_open:
                number, is_open = number + 1, True
            if one.kind not in ("condition", "equipment") and number:
                rep = number
            if one.kind == "outcome":
                is_open = False
            marks.append(
                Mark(
                    at_s=one.at_s,
                    entry=one.entry,
                    kind=one.kind,
                    name=one.name,
                    value=one.value,
                    rep=rep,
                )
            )
        end_s = marks[-1].at_s if marks else 0.0
        if self.minutes is not None:
            end_s = max(end_s, self.minutes * 60)
        return Session(
            id="s1",
            dog=self.dog,
            start_s=0.0,
            end_s=end_s,
            conditions=tuple(
                Condition(at_s=one.at_s, name=one.name, value=str(one.value), unit=one.unit)
                for one in said
                if one.kind == "condition"
            ),
            marks=tuple(marks),
            reps=tuple(self._rep(marks, n) for n in range(1, number + 1)),
            entries=tuple(dict.fromkeys(one.entry for one in said)),
        )

    def _rep(self, marks: list[Mark], number: int) -> Rep:
        mine = [mark for mark in marks if mark.rep == number]
        presses = [mark for mark in mine if mark.kind == "press"]
        levels = tuple(
            LevelMark(at_s=mark.at_s, level=mark.value)
            for mark in presses
            if isinstance(mark.value, int)
        )
        outcome = next((mark.name for mark in mine if mark.kind == "outcome"), None)
        held = {
            mark.name: str(mark.value)
            for mark in marks
            if mark.kind == "condition" and mark.at_s <= mine[0].at_s
        }
        return Rep(
            number=number,
            id=f"s1-{number}",
            session="s1",
            dog=self.dog.name,
            drill=held.get("drill"),
            distraction=held.get("distraction"),
            start_s=mine[0].at_s,
            end_s=mine[-1].at_s,
            mode=presses[-1].name if presses else "unknown",
            levels=levels,
            peak_level=max((mark.level for mark in levels), default=None),
            end_level=levels[-1].level if levels else None,
            outcome=outcome,
            entries=tuple(dict.fromkeys(mark.entry for mark in mine)),
            doubtful=any(mark.entry in self.doubtful for mark in mine),
        )
