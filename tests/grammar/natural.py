"""What people of the trade say, and what each becomes when it is typed.

    python -m tests.grammar.natural

prints the table of natural.txt as it comes out now, with the counts.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from voicelog.app.typed_file import judge_typed
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.sample_phrases import meaning
from voicelog.model import Dog, Roster

__all__ = ["UTTERANCES", "NaturalUtterance", "becomes", "utterances"]

UTTERANCES = Path(__file__).with_name("natural.txt")
GRAMMAR = Grammar.load(
    roster=Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren", cues=("here", "whoa"))))
)
Way = Literal["understood", "asked about", "asked, not offered", "left alone", "wrong"]
_LINE = re.compile(r"(?P<words>.+?) (?P<mark>->|\?|\.)(?: (?P<means>.+))?")
_WANTED: dict[tuple[str, bool], Way] = {
    ("->", True): "understood",
    ("?", True): "asked about",
    ("?", False): "asked, not offered",
    (".", False): "left alone",
}


@dataclass(frozen=True, slots=True)
class NaturalUtterance:
    """Words, what they mean in words of the phrase card ("" for nothing), what is to become
    of them."""

    words: str
    means: str
    wanted: Way


def utterances() -> Iterator[NaturalUtterance]:
    """The lines of natural.txt, whose head says how they are written."""
    for line in UTTERANCES.read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            found = _LINE.fullmatch(line)
            assert found, line
            means = found["means"] or ""
            yield NaturalUtterance(found["words"], means, _WANTED[found["mark"], bool(means)])


def becomes(one: NaturalUtterance) -> tuple[Way, str]:
    """What becomes of an utterance, and the reading that stands or is offered first."""
    status, reading, others = judge_typed(GRAMMAR, one.words)
    meant = _meaning(one.means)
    if status == "rejected":
        return "left alone", ""
    if status == "accepted":
        return ("understood" if meant and _meaning(reading) == meant else "wrong"), reading
    offered = [_meaning(words) for words in (reading, *others)]
    return ("asked about" if meant and meant in offered else "asked, not offered"), reading


def _meaning(words: str) -> list[object]:
    return meaning(GRAMMAR.interpret(words) or (), but="word")


def main() -> None:
    """Print the table and the counts."""
    count: Counter[Way] = Counter()
    for one in utterances():
        way, reading = becomes(one)
        count[way] += 1
        print(f"{one.words:60} {way:18} {reading}".rstrip())
    print(f"{count.total()} utterances: " + ", ".join(f"{way} {n}" for way, n in count.items()))


if __name__ == "__main__":
    main()
