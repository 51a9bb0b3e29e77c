"""What may be said or sounded in her ear, and how each kind of it behaves.

The arbiter (`arbiter.py`) decides by the table `MANNERS` alone; docs/live.md prints it.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Literal

from voicelog.live.outputs import ToneKind

__all__ = ["MANNERS", "Manner", "Saying", "SayingKind"]

SayingKind = Literal[
    "sign tone",
    "thumb off",
    "stop",
    "trouble",
    "pip",
    "answer",
    "news",
    "caution",
    "question",
    "remark",
    "reading",
    "tick",
]
"""Sign tone: the tone of a note that told of a strong sign. Thumb off: a strong sign, or a press
that goes on. Trouble: equipment that is lost. Pip: the tone of any other note. Answer: what she
asked for. News: equipment that is back. Reading: a sure note read back. Tick: "I am listening", or
"a stop still waits"."""


@dataclass(frozen=True, slots=True)
class Saying:
    """Something that may be said or sounded.

    `key` is what it is about; no key waits twice. `words` last `seconds` (s); `short`, which lasts
    `short_s`, is said instead where its `group` was told before, since advice is not repeated, and
    those of a group that wait together are said as one. `rests_on`: entries (ids); while one of
    them is asked about, a caution or a remark waits. `unsure`: it rests on doubt, and what is sure
    goes first. `general`: it is about the whole session, and what is about one press, rep or sign
    goes first. `tone` sounds alone, or before the words.
    """

    kind: SayingKind
    key: Hashable
    words: str = ""
    seconds: float = 0.0
    tone: ToneKind | None = None
    group: Hashable = None
    short: str = ""
    short_s: float = 0.0
    rests_on: frozenset[str] = frozenset()
    unsure: bool = False
    general: bool = False


@dataclass(frozen=True, slots=True)
class Manner:
    """How a kind of saying behaves.

    `rank`: the lower goes first. `interrupts`: the kinds that it breaks off. Whether it may begin
    while a rep is open (`in_rep`), while she speaks or the log is paused (`over_her`), after "end
    session" (`after_end`), and while the earphone is gone, to be shown only (`unheard`). `budget`:
    it may begin while fewer utterances of the kinds that share this limit were begun in the last
    minute; None: it is exempt, and counts in none. `stale_s`: seconds after which it is dropped
    (None: never). `again`: when it was interrupted it is said again, whole.
    """

    rank: int
    interrupts: frozenset[SayingKind] = frozenset()
    in_rep: bool = False
    over_her: bool = False
    after_end: bool = False
    unheard: bool = False
    budget: int | None = None
    stale_s: float | None = None
    again: bool = True


_MAY_WAIT: frozenset[SayingKind] = frozenset({"news", "question", "caution", "remark", "reading"})
_LESS: frozenset[SayingKind] = _MAY_WAIT | {"answer", "trouble"}
_USUAL, _EQUIPMENT = 6, 12

MANNERS: Mapping[SayingKind, Manner] = {
    "sign tone": Manner(0, _LESS, True, True, True, True),
    "thumb off": Manner(1, _LESS | {"stop"}, True, True, True, True),
    "stop": Manner(2, _LESS, True, True, True, True),
    "pip": Manner(3, frozenset(), True, True, True, True),
    "trouble": Manner(4, _MAY_WAIT | {"answer"}, True, True, True, True, _EQUIPMENT, 60.0),
    "answer": Manner(5, _MAY_WAIT, True, True, True, True, None, 15.0),
    "news": Manner(6, frozenset(), True, True, True, False, _EQUIPMENT, 60.0),
    "caution": Manner(7, budget=_USUAL, stale_s=120.0),
    "question": Manner(8, budget=_USUAL, stale_s=60.0),
    "remark": Manner(9, budget=_USUAL, stale_s=120.0),
    "reading": Manner(10, budget=_USUAL, stale_s=10.0, again=False),
    "tick": Manner(11, in_rep=True, over_her=True, again=False),
}
"""Of each kind, how it behaves; a tick that cannot sound in its moment is dropped. The numbers are
common practice, no source."""
