"""What to say of typed lines that were not understood as they stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from voicelog.grammar.strange_names import StrangeWord
from voicelog.grammar.typed_note import UnknownWord
from voicelog.report.words import clean, numbers

__all__ = ["StrangeLine", "strange_lines"]

_MOST = 8
"""Lines that are told of, each with a sentence; of the rest, how many there are."""
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class StrangeLine:
    """A typed line that is no note: its number in the file, its words, the note that it is kept as
    until a person has read it, if any, the words that the grammar does not have, and the name that
    the log does not know."""

    number: int
    words: str
    near: str | None
    unknown: tuple[UnknownWord, ...]
    name: StrangeWord | None = None


def strange_lines(lines: Sequence[StrangeLine], left_out: Sequence[int] = ()) -> str:
    """A sentence for each line, and one for those that begin with "#" and were `left_out`, by their
    numbers; empty where there are none. `lines` are those of one file."""
    named: dict[tuple[str, str], list[StrangeLine]] = {}
    for line in lines:
        if line.name is not None and line.name.kind != "cue":
            named.setdefault(line.name[:2], []).append(line)
    lines = [line for line in lines if line.name is None or line.name.kind == "cue"]
    told = [*map(_asked, named.values()), *(_told(line) for line in lines[:_MOST])]
    more = len(lines) - _MOST
    rest = [f"{more} more line{'s' if more > 1 else ''} like these."] if more > 0 else []
    begin = "begins" if len(left_out) == 1 else "begin"
    was = "was" if len(left_out) == 1 else "were"
    beginning = (
        [f"{numbers('Line', left_out)} {begin} with '#' and {was} left out."] if left_out else []
    )
    return "\n".join([*told, *rest, *beginning])


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
    words = line.words if len(line.words) <= _LONGEST else f"{line.words[:_LONGEST]}..."
    found = f"Line {line.number}: found "
    if line.unknown:
        named = [
            f"'{one.word}'" + (f" (did you mean '{one.meant}'?)" if one.meant else "")
            for one in line.unknown[:3]
        ]
        found += f"{', '.join(named)}, wanted words of the log"
    else:
        found += f"'{words}', wanted a note"
    if line.near is not None:
        return f"{found}; to check as '{line.near}'."
    return f"{found}; left as not understood."
