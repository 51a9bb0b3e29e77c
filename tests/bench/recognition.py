"""How well recordings are heard: what was said against what stands, by listener.

    python -m tests.bench.recognition --split tune --condition clean pink10 --listener quick

What was heard is kept (see heard.py), so the command may be stopped and run again; it hears
for at most --budget seconds and says how much is left. --shard 1/2 hears every second
recording; --judge hears nothing and judges what is kept. --narrow hears each recording a second
time with no level beyond the transmitter's range in the grammar: what those cost as rivals.

**Utterances said** (commands) are *right* when accepted entries say all of it, *offered* when
they do once each doubtful entry takes the fitting one of its readings, *wrong* when an accepted
entry overlaps it that says something else, *doubtful* when there is a doubtful entry and none
of its readings fits, else *missed*. *Forced* counts those that are right where the first reading
of every entry is taken, doubtful, rejected or not: what a choice without doubt would do.
**Accepted entries** are *right*, *wrong*, or *false* where no command was said. An entry that
covers nearly all of what was said must say all of it; one that covers a part may say a part.

**Reps** are *exact* when not in doubt and with the mode, levels, outcome and signs that the
scenario has, *wrong* when not in doubt and different, *in doubt* when marked or not there;
*resolved* counts those exact after a reviewer took the fitting reading wherever one was offered
and dropped the rest. Struck reps are left out.
"""

from __future__ import annotations

import argparse
import itertools
import json
import time
from collections import Counter
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from tests.bench.heard import LISTENERS, Heard, grammar_of, hear, kept_at, roster_of
from tests.bench.judging import (
    forced_right,
    judge_reps,
    judge_utterances,
    meaning,
    overlapping,
    spoken,
)
from tests.bench.voices import data_dir

__all__ = ["meaning", "overlapping", "spoken", "wilson_interval"]

SAID = ("right", "offered", "wrong", "doubtful", "missed")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", default="tune")
    parser.add_argument("--condition", nargs="+", default=["clean"])
    parser.add_argument("--listener", choices=LISTENERS, default="quick")
    parser.add_argument("--run", help="name to keep under (default: hash of the code that hears)")
    parser.add_argument("--shard", default="0/1", help="i/n: every n-th recording from the i-th")
    parser.add_argument("--budget", type=float, default=540, help="seconds of hearing (540)")
    parser.add_argument("--judge", action="store_true", help="hear nothing, judge what is kept")
    parser.add_argument("--voice", default="", help="only recordings whose name holds this")
    parser.add_argument(
        "--narrow", action="store_true", help="also with no level beyond the range in the grammar"
    )
    parser.add_argument("--short", action="store_true", help="one line for each condition")
    parser.add_argument("--errors", action="store_true", help="list everything that went wrong")
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    shard, of = map(int, asked.shard.split("/"))
    end = time.monotonic() + asked.budget
    patience_s = max(asked.budget, 580)  # a recording takes half a minute on an idle core
    together = Tally()
    if asked.short:
        print(f"{asked.split}, {asked.listener}\n{HEAD}")
    ways = (False, True) if asked.narrow else (False,)
    for condition, narrow in itertools.product(asked.condition, ways):
        found = sorted(
            (asked.data / asked.split / condition).glob(f"*{asked.voice}*.json".replace("**", "*"))
        )
        tally, left = Tally(), 0
        for path in found[shard % of :: of]:
            heard_as = f"{asked.listener}-narrow" if narrow else asked.listener
            kept = kept_at(asked.data / "heard", asked.run, heard_as, path)
            late = asked.judge or time.monotonic() > end
            heard = hear(
                path, asked.listener, kept, patience_s=patience_s, only_kept=late, narrow=narrow
            )
            if heard is None:
                left += 1
            else:
                judge(path.stem, json.loads(path.read_text()), heard, tally)
        if asked.short:
            print(tally.line(f"{condition}, narrow" if narrow else condition))
        else:
            without = ", no level beyond the range" if narrow else ""
            print(f"\n== {asked.split} {condition}{without}, {', '.join(sorted(tally.who))} ==")
            print(tally.text(errors=asked.errors))
        if left:
            print(f"{left} of {len(found)} recordings are still to be heard: run it again")
        together.add(tally)
    if len(asked.condition) > 1:
        print(together.line("together"))


@dataclass
class Tally:
    """The counts of many recordings."""

    said: Counter[str] = field(default_factory=Counter)
    entries: Counter[str] = field(default_factory=Counter)
    reps: Counter[str] = field(default_factory=Counter)
    by_voice: dict[str, Counter[str]] = field(default_factory=dict)
    by_noise: dict[str, Counter[str]] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)
    who: set[str] = field(default_factory=set)
    forced: int = 0
    files: int = 0
    duration_s: float = 0.0
    quiet_s: float = 0.0
    cpu_s: float = 0.0
    start_cpu_s: float = 0.0
    peak_mb: float = 0.0

    def add(self, other: Tally) -> None:
        """Count what another tally counted too."""
        for one in fields(self):
            mine, theirs = getattr(self, one.name), getattr(other, one.name)
            if one.name == "peak_mb":
                self.peak_mb = max(mine, theirs)
            elif one.name.startswith("by_"):
                for name, counts in theirs.items():
                    mine.setdefault(name, Counter()).update(counts)
            elif one.name == "who":
                mine |= theirs
            else:
                setattr(self, one.name, mine + theirs)

    def line(self, name: str) -> str:
        """The main shares on one line, under HEAD."""
        said, reps = self.said.total(), sum(self.reps[what] for what in REPS)
        offered = self.said["right"] + self.said["offered"]
        accepted = self.entries["right"] + self.entries["wrong"]
        hours = max(self.quiet_s, 1e-9) / 3600
        return (
            f"{name:16}{percent(self.said['right'], said)}{percent(offered, said)}"
            f"{percent(self.forced, said)} of {said:4}"
            f"{self.entries['wrong']:6} of {accepted:4}"
            f"{percent(self.reps['exact'], reps)}{percent(self.reps['resolved'], reps)}"
            f"{percent(self.reps['wrong'], reps)} of {reps:4}"
            f"{self.entries['false'] / hours:8.1f}{self.entries['doubtful talk'] / hours:8.1f}"
            f"{self.cpu_s / max(self.duration_s, 1):8.3f}{self.peak_mb:6.0f}"
        )

    def text(self, *, errors: bool) -> str:
        if not self.files:
            return "no recording"
        lines = [f"{self.files} recordings, {self.duration_s / 60:.1f} min"]
        if total := self.said.total():
            right, offered = self.said["right"], self.said["offered"]
            lines += [
                f"said      {total}: right {rate(right, total)}",
                f"          right or offered {rate(right + offered, total)}",
                f"          forced choice right {rate(self.forced, total)}",
                "          " + ", ".join(f"{what} {self.said[what]}" for what in SAID),
            ]  # fmt: skip
            accepted = self.entries["right"] + self.entries["wrong"]
            lines += [f"accepted  {accepted}: wrong {rate(self.entries['wrong'], accepted)}"]
        false, doubtful = self.entries["false"], self.entries["doubtful talk"]
        lines.append(
            f"false     {false} accepted, {doubtful} doubtful where no command was said, in "
            f"{self.quiet_s / 60:.1f} min without commands = {false / self.quiet_s * 3600:.1f} and "
            f"{doubtful / self.quiet_s * 3600:.1f} an hour"
        )
        if total := sum(self.reps[what] for what in ("exact", "wrong", "in doubt")):
            lines += [
                f"reps      {total}: exact {rate(self.reps['exact'], total)}",
                f"          resolved {rate(self.reps['resolved'], total)}",
                f"          wrong {rate(self.reps['wrong'], total)}",
                f"          false {self.reps['false rep']}",
            ]
        for name, table in (("voice", self.by_voice), ("noise", self.by_noise)):
            lines += [f"  {name} {key:14} {counted(counts)}" for key, counts in table.items()
                      if len(table) > 1]  # fmt: skip
        lines.append(
            f"cpu       {self.cpu_s / self.duration_s:.4f} of the length"
            f" (+ {self.start_cpu_s / self.files:.2f} s to start), peak {self.peak_mb:.0f} MB"
        )
        return "\n".join([*lines, *(self.errors if errors else ())])


REPS = ("exact", "wrong", "in doubt")
HEAD = (
    "                  right offered forced said   wrong accepted  exact resolved wrong reps"
    "   false doubtful an hour  cpu peak MB"
)


def percent(count: int, total: int) -> str:
    return f"{count / total * 100:7.1f}" if total else "      -"


def rate(count: int, total: int) -> str:
    """A count as share of a total, with the 95% Wilson interval."""
    if not total:
        return "none"
    low, high = wilson_interval(count, total)
    return f"{count}/{total} = {count / total:.3f} [{low:.3f}, {high:.3f}]"


def wilson_interval(count: int, total: int, z: float = 1.96) -> tuple[float, float]:
    """The Wilson score interval of a share; z 1.96 is 95%."""
    share = count / total
    middle = share + z * z / (2 * total)
    spread = z * (share * (1 - share) / total + z * z / (4 * total * total)) ** 0.5
    scale = 1 + z * z / total
    return max(0.0, (middle - spread) / scale), min(1.0, (middle + spread) / scale)


def counted(counts: Counter[str]) -> str:
    said = sum(counts[what] for what in ("right", "offered", "wrong", "doubtful", "missed"))
    parts = [f"said {said}: " + " ".join(f"{what} {counts[what]}" for what in
             ("right", "offered", "wrong", "doubtful", "missed"))] if said else []  # fmt: skip
    reps = sum(counts[what] for what in ("exact", "wrong rep", "in doubt"))
    if reps:
        parts.append(f"reps {reps}: exact {counts['exact']} resolved {counts['resolved']}"
                     f" wrong {counts['wrong rep']}")  # fmt: skip
    parts.append(f"false {counts['false']}, doubtful talk {counts['doubtful talk']}")
    return "; ".join(parts)


def judge(where: str, truth: dict[str, Any], heard: Heard, tally: Tally) -> None:
    """Add a recording to the counts."""
    roster, grammar = roster_of(truth), grammar_of(truth)
    said, entries, errors = judge_utterances(grammar, truth, heard.events, where)
    reps, more = judge_reps(grammar, roster, truth, heard.events, where)
    tally.said += said
    tally.forced += forced_right(grammar, truth, heard.events)
    tally.entries += entries
    tally.reps += reps
    tally.errors += errors + more
    both = said + Counter({k: entries[k] for k in ("false", "doubtful talk")})
    both += Counter({"wrong rep" if k == "wrong" else k: n for k, n in reps.items()})
    for table, key in ((tally.by_voice, truth["voice"]), (tally.by_noise, truth["noise"] or "-")):
        table.setdefault(key, Counter()).update(both)
    tally.who.update(heard.who)
    tally.files += 1
    tally.duration_s += heard.duration_s
    spoken_s = sum(
        one["end_s"] - one["start_s"] for one in truth["utterances"] if one["kind"] == "command"
    )
    tally.quiet_s += heard.duration_s - spoken_s
    tally.cpu_s += heard.cpu_s
    tally.start_cpu_s += heard.start_cpu_s
    tally.peak_mb = max(tally.peak_mb, heard.peak_mb)


if __name__ == "__main__":
    main()
