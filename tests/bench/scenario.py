"""Invented training sessions: first what truly happened, then the words that tell it.

`invent` makes the reps (mode, levels, outcome, signs, cue) and the conditions, and from them
the utterances: a rep in one breath or in pieces, words left out, talk in between. It keeps to
the phrases of grammars/en and never reads them, so that a benchmark can find fault with both.

What a listener must make of it (the truth) follows these readings of the rules: levels are
the levels pressed, so "dial N" adds none; "notch up" goes NOTCH levels up; a level said alone
is continuous; a rep with neither stimulus nor "no button" is "unknown", or "none" once
"collar stripped" was said; the cue of "helper called" is "called"; "nothing" is kept apart
from the signs, as `nothing`.

Tags on a rep tell what is special about it: "free" (one breath, words in any order),
"unclosed" (no outcome said; the next cue closes it), "ladder" (opened by "up to N" after an
outcome), "notch", "dial", "struck", "corrected", "recalled twice", "stripped".
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.bench.talk import DOGS, sentences

__all__ = ["NOTICED", "OUTCOMES", "STRONG", "WEAK", "Said", "Scenario", "invent", "spoken"]

NOTICED = ("neck twitch", "ear flick", "head turn", "scratching", "posture change", "hesitated")
STRONG = (
    "yelped", "squealed", "screamed", "froze", "cowered", "tail tucked", "bolted", "flinched",
    "rolled over", "wet himself", "wet herself", "growling", "snapped", "bit the collar", "bit me",
)  # fmt: skip
WEAK = (
    "whined", "lip lick", "yawned", "panting", "trembled", "shook off", "paw lift", "moved away",
    "startled", "confused", "salivating", "spun", "clingy", "flat",
)  # fmt: skip
OUTCOMES = {
    "came": "complied", "all in": "complied", "arrived": "complied", "complied": "complied",
    "came slow": "slow", "all in slow": "slow", "complied slow": "slow",
    "arrived slow": "slow", "came partway": "partial", "complied partway": "partial",
    "on place": "complied", "loaded up": "complied", "stood fast": "complied",
    "ignored": "ignored", "peeled off": "left", "broke": "broke", "line help": "helped",
}  # fmt: skip
ENDINGS = {
    "recall": ("came", "all in", "arrived", "came slow", "came partway", "ignored", "line help",
               "came", "all in slow", "came", "peeled off"),
    "stop": ("complied", "stood fast", "complied slow", "ignored", "complied"),
    "place": ("on place", "loaded up", "complied partway", "line help", "on place"),
    "heel": ("complied", "peeled off", "complied", "line help"),
    "steady": ("stood fast", "broke", "stood fast"),
    "bird": ("stood fast", "came", "broke", "arrived slow"),
    "gun": ("stood fast", "came", "stood fast"),
}  # fmt: skip
DRILLS = ("recall", "find level", "recall", "stop", "place", "recall", "heel", "steady",
          "recall", "bird", "find level", "gun")  # fmt: skip
CUES = (
    ("here", "voice"), ("NAME here", "voice"), ("recall pips", "whistle"), ("here", "voice"),
    ("long blast", "whistle"), ("helper called", "helper"), ("NAME here", "voice"),
    ("turn pips", "whistle"),
)  # fmt: skip
STIMULI = (
    "level", "no button", "tap", "level up", "vibrate", "level momentary", "level", "no button",
    "rolled back", "unsaid", "level continuous", "down to", "tap", "notch up", "vibrate",
    "level up", "tone", "dial", "no button", "notch down", "level", "level two up",
)  # fmt: skip
NOTCH = 1
REWARDS = ("praised", "treat", "retrieve", "gave bird")
TURNED = ("committed", "on his way", "on her way")
PREPARATION = (
    "collar number three", "collar number seven", "test good", "fit check two fingers",
    "fit check one finger", "contact solid", "skin clear", "coat dry", "coat wet", "line clipped",
    "line trailing", "line loose",
)  # fmt: skip
LOCATIONS = ("yard", "field", "woods", "water", "road", "kennel", "indoors")
DISTRACTIONS = ("none", "low", "medium", "high", "low birds", "medium dogs", "low people",
                "medium scent", "high food", "medium livestock", "low traffic")  # fmt: skip
ASKED = ("say count", "say level", "say last", "flag that", "affirm")
FEW = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
       "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
       "nineteen")  # fmt: skip
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def spoken(number: int) -> str:
    """A number from 0 to 100 in words: 23 is "twenty three"."""
    if number < 20:
        return FEW[number]
    if number == 100:
        return "one hundred"
    return TENS[number // 10 - 2] + (f" {FEW[number % 10]}" if number % 10 else "")


@dataclass(frozen=True)
class Said:
    """One utterance to speak: its phrases, and the silence before it in seconds.

    kind: "command" or "talk"; rep: place in `Scenario.reps`, or None; helper: another voice.
    """

    phrases: tuple[str, ...]
    pause_s: float
    kind: str = "command"
    rep: int | None = None
    helper: bool = False

    @property
    def words(self) -> str:
        """The true words, lower case, without punctuation."""
        return " ".join(self.phrases)


@dataclass
class Scenario:
    """What is said, in order, and the reps that it must make."""

    dogs: list[str]
    said: list[Said] = field(default_factory=list)
    reps: list[dict[str, Any]] = field(default_factory=list)


class Deck:
    """Deals a shuffled list round and round, from another place for each narration."""

    def __init__(self, cards: Sequence[Any], split: str, index: int, step: int) -> None:
        self.cards = list(cards)
        random.Random(f"deck {split} {cards[0]}").shuffle(self.cards)
        self.at = index * step

    def deal(self) -> Any:
        """The next card."""
        self.at += 1
        return self.cards[(self.at - 1) % len(self.cards)]


class Writer:
    """Writes one narration; `split` and `index` settle everything it draws."""

    def __init__(self, split: str, index: int, top: int) -> None:
        self.rng = random.Random(f"narration {split} {index}")
        self.talk = iter(sentences(split, 1000 + index))
        names = DOGS[split]
        dogs = [names[index % len(names)]]
        if index % 5 == 3:
            dogs.append(names[(index + 3) % len(names)])
        self.out = Scenario(dogs)
        self.stimuli = Deck(STIMULI, split, index, 9)
        self.cues = Deck(CUES, split, index, 3)
        self.endings = {drill: Deck(ENDINGS[drill], split, index, 3) for drill in ENDINGS}
        self.signs = Deck(NOTICED * 2 + STRONG + WEAK, split, index, 5)
        self.drills = Deck(DRILLS, split, index, 5)
        self.rewards = Deck(REWARDS, split, index, 1)
        self.top = top
        self.state: dict[str, Any] = {}

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def say(
        self, *phrases: str, rep: int | None = None, after: float | None = None, talk: bool = True
    ) -> None:
        """Say phrases in one breath, maybe with other talk before them."""
        if talk and self.chance(0.3 if rep is None else 0.12):
            self.chat()
        pause = after if after is not None else self.rng.uniform(0.7, 2.5)
        self.out.said.append(Said(phrases, pause, rep=rep))

    def chat(self) -> None:
        """One sentence of other talk, by the helper one time in five."""
        sentence = next(self.talk)
        pause = self.rng.uniform(0.7, 2.5)
        self.out.said.append(Said((sentence,), pause, "talk", helper=self.chance(0.2)))

    def prepare(self, first: bool, dog: str) -> None:
        """The words before the reps: dog, collar, conditions."""
        self.state = {"dog": dog, "drill": self.drills.deal(), "distraction": None,
                      "distance": None, "distance_unit": None, "stripped": False}  # fmt: skip
        self.base = self.rng.randint(2, self.top - 6)
        self.say("start session" if first else "next dog", dog, talk=not first)
        things = ["collar fitted", *self.rng.sample(PREPARATION, self.rng.randint(0, 2))]
        if self.chance(0.6):
            things.append(f"location {self.rng.choice(LOCATIONS)}")
        if self.chance(0.3):
            things.append(f"temperature {spoken(self.rng.randint(3, 22))}")
        if self.chance(0.3):
            things.append(f"ceiling {spoken(min(100, self.base + self.rng.randint(5, 9)))}")
        while things:
            together = self.rng.choice((1, 1, 2))
            self.say(*things[:together])
            del things[:together]
        self.say(f"drill {self.state['drill']}")
        if self.chance(0.5):
            self.change_distraction()
        if self.chance(0.5):
            self.change_distance()

    def change_distraction(self) -> None:
        said = self.rng.choice(DISTRACTIONS)
        self.state["distraction"] = said.split()[0]
        self.say(f"distraction {said}")

    def change_distance(self) -> None:
        number, unit = self.rng.randrange(5, 100, 5), self.rng.choice(("metres", "yards"))
        self.state.update(distance=number, distance_unit=unit)
        self.say(f"distance {spoken(number)} {unit}")

    def stimulus(self, plan: str) -> tuple[str, list[int], list[str]]:
        """(mode, levels, phrases) of a stimulus of that plan."""
        low = min(max(1, self.base + self.rng.randint(-1, 3)), self.top - 3)
        level = f"level {spoken(low)}"
        if plan in ("no button", "vibrate", "tone"):
            return {"no button": "none"}.get(plan, plan), [], [plan]
        if plan == "unsaid":
            return "none" if self.state["stripped"] else "unknown", [], []
        if plan == "tap":
            return "momentary", [low], [f"tap {spoken(low)}"]
        if plan in ("level momentary", "level continuous"):
            mode = plan.split()[1]
            return mode, [low], [f"{level} {mode}"]
        further = {
            "level": ([], []),
            "level up": ([1], [f"up to {spoken(low + 1)}"]),
            "level two up": ([1, 2], [f"up to {spoken(low + 1)}", f"up to {spoken(low + 2)}"]),
            "rolled back": ([-1], [f"rolled back to {spoken(low - 1)}"]),
            "down to": ([-1], [f"down to {spoken(low - 1)}"]),
            "notch up": ([NOTCH], ["notch up"]),
            "notch down": ([-NOTCH], ["notch down"]),
        }
        if plan == "dial":
            return "continuous", [low], [f"dial {spoken(low)}", level]
        steps, words = further[plan]
        if low - 1 < 1 and -1 in steps:
            steps, words = [], []
        return "continuous", [low, *(low + step for step in steps)], [level, *words]

    def new_rep(self, **known: Any) -> dict[str, Any]:
        rep = {"number": None, "session": len([s for s in self.out.said if s.phrases[0] in
               ("start session", "next dog")]) - 1, "dog": self.state["dog"],
               "drill": self.state["drill"], "mode": "unknown", "levels": [],
               "peak_level": None, "end_level": None, "outcome": None, "signs": [],
               "nothing": False, "cue": None, "cue_by": None, "cues": 0, "rewards": [],
               "distraction": self.state["distraction"], "distance": self.state["distance"],
               "distance_unit": self.state["distance_unit"], "void": False, "doubtful": False,
               "style": "breath", "tags": [], **known}  # fmt: skip
        rep["number"] = 1 + sum(other["session"] == rep["session"] for other in self.out.reps)
        if rep["levels"]:
            rep["peak_level"], rep["end_level"] = max(rep["levels"]), rep["levels"][-1]
        self.out.reps.append(rep)
        return rep

    def find_level(self, count: int) -> None:
        """Taps that rise until something shows; each is a rep of its own, without outcome."""
        level = max(1, self.base - 2)
        for _ in range(count):
            momentary = self.chance(0.7)
            sign = self.signs.deal() if self.chance(0.45) else None
            style = self.rng.choice(("breath", "pieces"))
            rep = self.new_rep(
                mode="momentary" if momentary else "continuous", levels=[level],
                signs=[sign] if sign else [], nothing=sign is None, style=style,
            )  # fmt: skip
            at = len(self.out.reps) - 1
            press = f"{'tap' if momentary else 'level'} {spoken(level)}"
            shown = sign or self.rng.choice(("nothing", "nothing", "no reaction"))
            if rep["style"] == "breath":
                self.say(press, shown, rep=at, after=self.rng.uniform(1.5, 4))
            else:
                self.say(press, rep=at, after=self.rng.uniform(1.5, 4))
                self.say(shown, rep=at, talk=False)
            level = max(1, level - 1) if sign else min(self.top, level + 1)

    def rep(self, cue_needed: bool) -> bool:
        """One rep of any other drill; True when it was left open, so the next needs a cue."""
        before = self.out.reps[-1] if self.out.reps else None
        tags: list[str] = ["stripped"] if self.state["stripped"] else []
        plan = "unsaid" if self.state["stripped"] and self.chance(0.7) else self.stimuli.deal()
        if self.state["stripped"] and plan != "unsaid":
            plan = "no button"
        ladder = (
            before is not None and not cue_needed and before["levels"] and not before["void"]
            and before["outcome"] not in (None, "unknown") and plan.startswith("level")
            and before["session"] == self.new_session() and self.chance(0.25)
            and before["end_level"] < self.top
        )  # fmt: skip
        if ladder and before is not None:
            level = before["end_level"] + 1
            mode, levels, press = before["mode"], [level], [f"up to {spoken(level)}"]
            tags.append("ladder")
        else:
            mode, levels, press = self.stimulus(plan)
            tags += [plan.split()[0]] if plan in ("dial", "notch up", "notch down") else []
        cue_words, cue_by = [], None
        if not ladder and (cue_needed or plan == "unsaid" or self.chance(0.5)):
            cue, cue_by = self.cues.deal()
            cue_words = [cue.replace("NAME", self.state["dog"])]
        ending = self.endings[self.state["drill"]].deal()
        signs = [self.signs.deal()] if self.chance(0.5) else []
        if signs and self.chance(0.12):
            signs = list(dict.fromkeys([*signs, self.signs.deal()]))
        reward = (
            [self.rewards.deal()] if OUTCOMES[ending] == "complied" and self.chance(0.2) else []
        )
        style = self.rng.choices(("breath", "pieces", "free"), (5, 4, 1))[0]
        if style == "free" and (len(press) != 1 or ladder or cue_words):
            style = "breath"
        unclosed = bool(cue_words) and style == "pieces" and bool(press) and self.chance(0.12)
        twice = bool(cue_words) and style == "pieces" and self.chance(0.12)
        rep = self.new_rep(
            mode=mode, levels=levels, signs=signs, style=style, tags=tags, rewards=reward,
            cue=cue.removeprefix("NAME ").removeprefix("helper ") if cue_words else None,
            cue_by=cue_by, cues=len(cue_words) + twice, outcome=OUTCOMES[ending],
        )  # fmt: skip
        at = len(self.out.reps) - 1
        turned = [self.rng.choice(TURNED)] if style == "pieces" and self.chance(0.2) else []
        off = ["thumb off"] if levels and style == "pieces" and self.chance(0.25) else []
        if unclosed:
            rep.update(outcome="unknown", doubtful=True, signs=[], rewards=[])
            tags.append("unclosed")
            self.pieces([*cue_words, *press], at, after=self.rng.uniform(1.5, 4))
            return True
        if style == "free":
            words = [*press, ending, *signs]
            self.rng.shuffle(words)
            tags.append("free")
            self.say(*words, *reward, rep=at, after=self.rng.uniform(1.5, 4))
        elif style == "breath":
            tail = [*signs, ending] if self.chance(0.3) else [ending, *signs]
            whole = [*cue_words, *press, *tail, *reward]
            self.breath(whole, rep, at, press)
        else:
            if twice:
                tags.append("recalled twice")
            calls = cue_words * (1 + twice)
            if signs and self.chance(0.5):
                body, tail = [*press, *signs, *off, *turned, ending], reward
            else:
                body, tail = [*press, *off, *turned, ending], [*signs, *reward]
            self.pieces([*calls, *body], at, after=self.rng.uniform(1.5, 4))
            for word in tail:
                self.say(word, rep=at, after=self.rng.uniform(0.7, 1.6), talk=False)
        return False

    def breath(self, words: list[str], rep: dict[str, Any], at: int, press: list[str]) -> None:
        """A rep in one breath; now and then struck, or said wrong first and corrected."""
        pause = self.rng.uniform(1.5, 4)
        if len(press) == 1 and len(rep["levels"]) == 1 and self.chance(0.08):
            wrong = rep["levels"][0] + self.rng.choice((1, 2))
            heard = [w.replace(spoken(rep["levels"][0]), spoken(wrong)) for w in press]
            slip = [heard[0] if word == press[0] else word for word in words]
            self.say(*slip, rep=at, after=pause)
            self.say("correction", *words, rep=at, talk=False)
            rep["tags"].append("corrected")
            return
        self.say(*words, rep=at, after=pause)
        if self.chance(0.05):
            self.say("strike that", rep=at, talk=False)
            rep.update(void=True)
            rep["tags"].append("struck")

    def pieces(self, words: list[str], at: int, after: float) -> None:
        """A rep as it happens: its phrases in order, with pauses between most of them."""
        group: list[str] = []
        for place, word in enumerate(words):
            group.append(word)
            doubled = place + 1 < len(words) and words[place + 1] == word
            if place + 1 == len(words) or doubled or self.chance(0.7):
                calls = len(group) == 1 and place and words[place - 1] == word
                self.say(*group, rep=at, after=after, talk=not calls)
                group, after = [], self.rng.uniform(0.7, 2.5)

    def new_session(self) -> int:
        """The number of the running session, from 0."""
        return sum(s.phrases[0] in ("start session", "next dog") for s in self.out.said) - 1

    def between(self) -> None:
        """What may be said between two reps."""
        if self.chance(0.35):
            self.chat()
        if self.chance(0.1):
            self.change_distraction()
        if self.chance(0.08):
            self.change_distance()
        if self.chance(0.06):
            self.say(self.rng.choice(ASKED), talk=False)

    def write(self, reps: int) -> Scenario:
        """The whole narration."""
        for number, dog in enumerate(self.out.dogs):
            self.prepare(number == 0, dog)
            share = reps // len(self.out.dogs)
            if self.state["drill"] == "find level":
                taps = share // 2
                self.find_level(taps)
                share -= taps
                self.state["drill"] = "recall"
                self.say("drill recall")
            open_rep = False
            for left in range(share, 0, -1):
                if open_rep:
                    self.chat()
                    self.out.said.append(Said((next(self.talk),), 6.0, "talk"))
                    self.chat()
                elif left == 3 and self.chance(0.25):
                    self.say("collar stripped")
                    self.state["stripped"] = True
                else:
                    self.between()
                open_rep = self.rep(cue_needed=open_rep)
            if open_rep:
                self.chat()
                self.out.said.append(Said((next(self.talk),), 6.0, "talk"))
                self.chat()
                self.rep(cue_needed=True)
        if not self.state["stripped"] and self.chance(0.6):
            self.say("collar stripped")
        self.say("end session")
        return self.out


def invent(split: str, index: int, top: int = 20) -> Scenario:
    """The narration of that number: 10 to 14 reps, the same whenever it is asked for.

    top: the highest level of the transmitter.
    """
    writer = Writer(split, index, top)
    return writer.write(writer.rng.randint(10, 14))
