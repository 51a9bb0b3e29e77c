"""What is said of typed lines that were not understood: they are in no count, and may tell of harm.

Said first on every paper that counts, since a yelp that is in no count looks like none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from voicelog.grammar.harm_words import HarmKind, harm_rank, harm_told
from voicelog.report.words import clean, counted

__all__ = ["EVENING_PAGE", "NOT_COUNTED", "harm_words", "unread_line_words", "unread_lines_words"]

NOT_COUNTED = "not counted"
"""What stands in the margin beside it."""
EVENING_PAGE = "/evening"
"""Where on the page they wait for a decision."""
_WORDS: Mapping[HarmKind, str] = {
    "skin": "the skin",
    "pain or stress": "pain or stress",
    "biting or growling": "biting or growling",
    "ignored": "an ignored call",
    "press": "a press",
}
_MOST_NAMED = 3
_LONGEST = 60


def unread_lines_words(lines: Sequence[str], more: int = 0) -> str:
    """That lines were not understood and are in no count, with those that may tell of harm, to the
    letter; empty where there are none. `lines` are those, `more` how many others there are that
    were not looked at."""
    if not lines and not more:
        return ""
    harmful = sorted((one for one in lines if harm_told(one)), key=harm_rank)
    count = counted(len(lines) + more, "line")
    were, are, which = ("was", "is", "it") if count == "1 line" else ("were", "are", "one")
    told = [
        f"{which} may tell of {harm_words(one)}: '{_short(one)}'" for one in harmful[:_MOST_NAMED]
    ]
    rest = len(harmful) - len(told)
    also = [f"and {rest} more may matter"] if rest else []
    said = "; ".join([f"{count} of your notes {were} not understood and {are} in no count", *told])
    return "; ".join([said, *also]) + "."


def harm_words(line: str) -> str:
    """What a line may tell of, in words; empty where nothing of harm lies near."""
    kind = harm_told(line)
    return "" if kind is None else _WORDS[kind]


def unread_line_words(line: str) -> str:
    """Why one line waits: it was not understood, and may tell of harm."""
    harm = harm_words(line)
    return f"in no count{f'; may tell of {harm}' if harm else ''}"


def _short(line: str) -> str:
    line = clean(line)
    return line if len(line) <= _LONGEST else f"{line[:_LONGEST]}..."
