"""Sessions for the safety tests, in the words a trainer says.

`Field()` takes what is said in order, one entry of 1 s each 3 s; `session()` interprets and
assembles it. All dogs are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Self

from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Entry, Finding, Phrase, Roster, Session
from voicelog.safety import History, Settings, findings
from voicelog.session.variants import SessionVariants, session_variants

GAP_S = 3.0
OUTCOMES = {
    "complied": "came",
    "slow": "came slow",
    "partial": "came partway",
    "ignored": "ignored",
    "left": "peeled off",
    "broke": "broke",
    "helped": "line help",
}


@cache
def phrases(words: str) -> tuple[Phrase, ...]:
    found = grammar().interpret(words)
    assert found is not None, words
    return found


@lru_cache(maxsize=1)
def grammar() -> Grammar:
    return Grammar.load(roster=Roster(dogs=(Dog(name="Juno"),)))


@dataclass
class Field:
    """A session in the making; every method says one thing, in an entry of its own."""

    dog: Dog = field(default_factory=lambda: Dog(name="Juno"))
    said: list[tuple[float, str]] = field(default_factory=list)
    doubtful: set[int] = field(default_factory=set)
    struck: set[int] = field(default_factory=set)
    absent: set[int] = field(default_factory=set)
    unit: str = "C"
    _pause_s: float = GAP_S

    # --- when and how surely -----------------------------------------------------------

    def wait(self, seconds: float) -> Self:
        """The next thing is said so long after the last."""
        self._pause_s = seconds
        return self

    def doubt(self) -> Self:
        """The last entry is doubtful."""
        self.doubtful.add(len(self.said))
        return self

    def strike(self) -> Self:
        """The last entry was struck."""
        self.struck.add(len(self.said))
        return self

    # --- what is said ------------------------------------------------------------------

    def say(self, words: str) -> Self:
        """One entry; words after a "?" are doubtful."""
        last_s = self.said[-1][0] if self.said else 0.0
        self.said.append((last_s + self._pause_s, words.lstrip("?")))
        self._pause_s = GAP_S
        return self.doubt() if words.startswith("?") else self

    def and_(self, words: str) -> Self:
        """The same breath goes on."""
        at_s, before = self.said.pop()
        self.said.append((at_s, f"{before} {words}"))
        return self

    def fitted(self) -> Self:
        return self.say("collar fitted")

    def fit(self) -> Self:
        return self.say("fit check two fingers")

    def collar(self, what: str) -> Self:
        return self.say(f"collar {what}")

    def contact(self, what: str) -> Self:
        return self.say("no contact" if what == "none" else f"contact {what}")

    def skin(self, what: str) -> Self:
        return self.say(f"skin {what}")

    def ceiling(self, level: int) -> Self:
        return self.say(f"ceiling {level}")

    def distraction(self, what: str) -> Self:
        return self.say(f"distraction {what}")

    def drill(self, what: str) -> Self:
        return self.say(f"drill {what}")

    def air(self, degrees: int) -> Self:
        return self.say(f"temperature {degrees}")

    def cue(self) -> Self:
        return self.say("here")

    def press(self, level: int) -> Self:
        return self.say(f"level {level}")

    def tap(self, level: int) -> Self:
        return self.say(f"tap {level}")

    def vibrate(self) -> Self:
        return self.say("vibrate")

    def off(self) -> Self:
        return self.say("thumb off")

    def sign(self, words: str) -> Self:
        return self.say(words)

    def out(self, outcome: str = "complied") -> Self:
        return self.say(OUTCOMES[outcome])

    def reward(self, what: str) -> Self:
        return self.say(what)

    def rep(self, level: int | None = None, outcome: str = "complied") -> Self:
        """A whole recall: cue, level or nothing, outcome."""
        self.cue()
        if level is not None:
            self.press(level)
        return self.out(outcome)

    # --- what it comes to --------------------------------------------------------------

    def session_variants(self, entries: int | None = None) -> SessionVariants:
        """The session's worlds after so many entries, or after all."""
        start = (0.0, "start session juno")
        heard = tuple(
            Entry(
                id=f"e{number}",
                start_s=at_s,
                end_s=at_s + 1.0,
                reading=words,
                status="doubtful" if number in self.doubtful else "accepted",
                phrases=phrases(words),
                voided=number in self.struck,
            )
            for number, (at_s, words) in enumerate((start, *self.said[:entries]))
            if number not in self.absent
        )
        roster = Roster(dogs=(self.dog,))
        (seen,) = session_variants(heard, roster, dog=self.dog.name, temperature_unit=self.unit)
        return seen

    def session(self, entries: int | None = None) -> Session:
        """The session with doubtful entries believed and struck ones left out."""
        return self.session_variants(entries).with_doubtful

    def findings(self, history: History, settings: Settings) -> tuple[Finding, ...]:
        """What all of its worlds show."""
        seen = self.session_variants()
        return findings(seen.sure, seen.with_doubtful, seen.uncorrected, history, settings)
