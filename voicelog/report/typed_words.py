"""What to say of typed lines that were not understood as they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from voicelog.grammar.harm_words import harm_rank, harm_told
from voicelog.grammar.strange_names import StrangeWord
from voicelog.grammar.typed_note import UnreadPart
from voicelog.report.unread_lines import harm_words
from voicelog.report.words import clean, numbers

__all__ = ["StrangeLine", "StrangeReason", "strange_lines", "two_things_words"]

_MOST = 8
"""Lines that are told of, each with a sentence, beside those that may tell of harm; of the rest,
how many there are."""
_LONGEST = 60
_MOST_PARTS = 3
"""Parts of a line that are named."""
_HOW = (
    "'voicelog words card' shows all that can be written. Begin a remark of your own with '#' on a "
    "line of its own: it stays in the file alone."
)


StrangeReason = Literal["", "doubted", "twice", "too low", "follows unread"]
_REASONS: Mapping[StrangeReason, str] = {
    "doubted": "is marked as not sure",
    "twice": "may tell of two calls or of two presses",
    "too low": "has a level below the lowest of the collar",
    "follows unread": "follows a line that was not understood (what does it take back?)",
}


@dataclass(frozen=True, slots=True)
class StrangeLine:
    """A typed line that is no note: its number in the file, its words, the note that it is kept as
    until a person has read it, if any, its parts that are no note, the name that the log does not
    know, and why it is not sure where all of it may be a note ("" where not all is)."""

    number: int
    words: str
    near: str | None
    unread: tuple[UnreadPart, ...]
    name: StrangeWord | None = None
    why: StrangeReason = ""


def strange_lines(lines: Sequence[StrangeLine], left_out: Sequence[int] = ()) -> str:
    """A sentence for each line, and one for those that begin with "#" and were `left_out`, by their
    numbers; empty where there are none. `lines` are those of one file."""
    named: dict[tuple[str, str], list[StrangeLine]] = {}
    for line in lines:
        if line.name is not None and line.name.kind != "cue":
            named.setdefault(line.name[:2], []).append(line)
    lines = [line for line in lines if line.name is None or line.name.kind == "cue"]
    harmful = [line for line in lines if line.near is None and harm_told(line.words)]
    first = sorted(harmful, key=lambda line: harm_rank(line.words))
    others = [line for line in lines if line not in first][: max(0, _MOST - len(first))]
    told = [*map(_told, first), *map(_asked, named.values()), *map(_told, others)]
    more = len(lines) - len(first) - len(others)
    rest = [f"{more} more line{'s' if more > 1 else ''} like these."] if more > 0 else []
    begin = "begins" if len(left_out) == 1 else "begin"
    was = "was" if len(left_out) == 1 else "were"
    beginning = (
        [f"{numbers('Line', left_out)} {begin} with '#' and {was} left out."] if left_out else []
    )
    how = [_HOW] if lines else []
    return "\n".join([*told, *rest, *how, *beginning])


def two_things_words(asked: str, ways: Sequence[tuple[str, Sequence[str]]]) -> str:
    """The question what a line is, and what to type for each thing that it may be.

    Args:
        asked: the question, with no mark and no capital.
        ways: what it may be, each with the lines to type for it; none where no line that says it
            fits the others.
    """
    told = [
        " or ".join(f"'{line}'" for line in lines) + f" for {meant}"
        for meant, lines in ways
        if lines
    ]
    unfit = [
        f"As {meant} it does not fit the other lines: correct it if it is one."
        for meant, lines in ways
        if not lines
    ]
    neither = "Neither: put # in front, and it is left out."
    return " ".join([f"{asked}?", *([f"Type {', '.join(told)}."] if told else []), *unfit, neither])


_ADD = {"dog": "put", "handler": "handler"}


def _asked(lines: Sequence[StrangeLine]) -> str:
    """The question about a name that all of these lines have."""
    name, kind, _ = lines[0].name or ("", "dog", None)
    name = clean(name)
    quoted = name if name.isalnum() else f'"{name}"'
    of = f"{kind} that I do not know"
    return (
        f"{numbers('Line', [line.number for line in lines])}: I read a {of}, '{name}': add it with "
        f"'voicelog dogs {_ADD[kind]} {quoted.title()}', or which {kind} is it? Answer with "
        f"'voicelog questions --name {quoted} --is NAME'. Nothing of it is lost."
    )


def _told(line: StrangeLine) -> str:
    parts = line.unread or (UnreadPart(line.words, None),)
    named = [
        f"'{clean(_short(one.part))}'" + (f" (did you mean '{one.meant}'?)" if one.meant else "")
        for one in parts[:_MOST_PARTS]
    ]
    are = "is not a note as typed" if len(named) == 1 else "are not notes as typed"
    are = _REASONS.get(line.why, are)
    whole = "the whole line is left as not understood"
    kept = whole if line.near is None else f"to check as '{line.near}'"
    tells = line.near is None and harm_told(line.words) not in (None, "press")
    may = f" It may tell of {harm_words(line.words)}: '{clean(_short(line.words))}'."
    return f"Line {line.number}: {' and '.join(named)} {are}; {kept}.{may * tells}"


def _short(words: str) -> str:
    return words if len(words) <= _LONGEST else f"{words[:_LONGEST]}..."
