"""The good sessions of good_sessions.txt, read, and what the rules find in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tests.known import known
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Entry, Finding, Roster, Session, Transmitter
from voicelog.safety import History, Settings, findings
from voicelog.session.variants import assemble, session_variants

from .ask import KNOWN

AT = datetime(2031, 5, 4, 9, 0)
NAMES = ("Juno", "Wren")
HANDLERS = ("Anna",)
GRAMMAR = Grammar.load(
    roster=Roster(dogs=tuple(Dog(name=name) for name in NAMES), handlers=HANDLERS)
)


@dataclass(frozen=True)
class Narration:
    """One session as told: the dog in words, and the lines with their seconds."""

    name: str
    dog: str
    lines: tuple[tuple[float, str], ...]

    def roster(self) -> Roster:
        """Two dogs of that age and collar, of which Juno is worked first."""
        said = self.dog.split()
        months = int(said[said.index("age") + 1])
        born = AT.date().replace(year=AT.year - (months + 7) // 12, month=(4 - months) % 12 + 1)
        unit = Transmitter(top=int(said[said.index("top") + 1])) if "top" in said else Transmitter()
        dogs = (Dog(name=name, born=born, transmitter=unit, reached=("bird",)) for name in NAMES)
        return Roster(dogs=tuple(dogs), handlers=HANDLERS)

    def entries(self) -> tuple[Entry, ...]:
        """What was said, each a second long; talk is not understood."""
        return tuple(
            Entry(
                id=f"e{number}",
                start_s=at_s,
                end_s=at_s + 1.0,
                reading=words.removeprefix("x "),
                status="rejected" if words.startswith("x ") else "accepted",
                confidence=0.0 if words.startswith("x ") else 1.0,
                phrases=() if words.startswith("x ") else known(GRAMMAR.interpret(words)),
            )
            for number, (at_s, words) in enumerate(self.lines)
        )

    def sessions(self) -> tuple[Session, ...]:
        """What it comes to: a session of each dog in turn."""
        return assemble(self.entries(), self.roster(), dog="Juno")

    def findings(self, settings: Settings) -> tuple[Finding, ...]:
        """All that the rules find, of a dog with a good history or of a new one."""
        roster = self.roster()
        new = "new" in self.dog.split()
        known_dog = KNOWN.model_copy(update={"at": AT, "transmitter": roster.dogs[0].transmitter})
        history = History(at=AT) if new else known_dog
        return tuple(
            one
            for seen in session_variants(self.entries(), roster, dog="Juno")
            for one in findings(seen.sure, seen.with_doubtful, seen.uncorrected, history, settings)
        )


def narrations() -> Iterator[Narration]:
    """The sessions of the file, in its order."""
    text = (Path(__file__).parent / "good_sessions.txt").read_text(encoding="utf-8")
    for block in text.split("\n== ")[1:]:
        head, *told = block.strip().splitlines()
        name, _, dog = head.partition(" | ")
        lines: list[tuple[float, str]] = []
        for line in told:
            second, _, words = line.partition(" ")
            if second.replace(".", "").isdigit():
                lines.append((float(second), words))
            else:
                lines.append((lines[-1][0] + 3.0, line))
        yield Narration(name, dog, tuple(lines))
