"""How well recordings are heard: what was said against what stands, by listener.

    python -m tests.bench.recognition --split tune --condition clean pink10 --listener quick

What was heard is kept (see heard.py), so the command may be stopped and run again; it hears
for at most --budget seconds and says how much is left. --shard 1/2 hears every second
recording; --judge hears nothing and judges what is kept.

**Utterances said** (commands) are *right* when accepted entries say all of it, *offered* when
they do once each doubtful entry takes the fitting one of its readings, *wrong* when an accepted
entry overlaps it that says something else, *doubtful* when there is a doubtful entry and none
of its readings fits, else *missed*. **Accepted entries** are *right*, *wrong*, or *false* where
no command was said. An entry that covers nearly all of what was said must say all of it; one
that covers a part may say a part.

**Reps** are *exact* when not in doubt and with the mode, levels, outcome and signs that the
scenario has, *wrong* when not in doubt and different, *in doubt* when marked or not there;
*resolved* counts those exact after a reviewer took the fitting reading wherever one was offered
and dropped the rest. Struck reps are left out.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.bench.heard import LISTENERS, Heard, hear, kept_at, roster_of
from tests.bench.voices import data_dir
from voicelog.grammar.grammar import Grammar
from voicelog.model import Entry, Event, Reading, Rep, Roster, Utterance, Verdict
from voicelog.session.assemble import assemble
from voicelog.session.edits import spoken_action
from voicelog.session.entries import fold

__all__ = ["meaning", "overlapping", "spoken", "wilson"]

UNSEEN = ("nothing", "no reaction")
NEARLY_ALL = 0.85  # share of what was said, by time, from which an entry must say all of it
SLACK_S = 0.1  # overlap that counts

Phrases = tuple[str, ...]
Events = Sequence[tuple[Utterance, tuple[Reading, ...], Verdict]]


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
    parser.add_argument("--errors", action="store_true", help="list everything that went wrong")
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    shard, of = map(int, asked.shard.split("/"))
    end = time.monotonic() + asked.budget
    for condition in asked.condition:
        found = sorted(
            (asked.data / asked.split / condition).glob(f"*{asked.voice}*.json".replace("**", "*"))
        )
        tally, left = Tally(), 0
        for path in found[shard % of :: of]:
            kept = kept_at(asked.data / "heard", asked.run, asked.listener, path)
            late = asked.judge or time.monotonic() > end
            heard = hear(path, asked.listener, kept, only_kept=late)
            if heard is None:
                left += 1
            else:
                judge(path.stem, json.loads(path.read_text()), heard, tally)
        print(f"\n== {asked.split} {condition}, {asked.listener} {'/'.join(sorted(tally.who))} ==")
        print(tally.text(errors=asked.errors))
        if left:
            print(f"{left} of {len(found)} recordings are still to be heard: run it again")


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
    files: int = 0
    duration_s: float = 0.0
    quiet_s: float = 0.0
    cpu_s: float = 0.0
    start_cpu_s: float = 0.0
    peak_mb: float = 0.0

    def text(self, *, errors: bool) -> str:
        if not self.files:
            return "no recording"
        lines = [f"{self.files} recordings, {self.duration_s / 60:.1f} min"]
        if total := self.said.total():
            right, offered = self.said["right"], self.said["offered"]
            lines += [
                f"said      {total}: right {rate(right, total)}",
                f"          right or offered {rate(right + offered, total)}",
                "          " + ", ".join(f"{what} {self.said[what]}" for what in
                                         ("right", "offered", "wrong", "doubtful", "missed")),
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


def rate(count: int, total: int) -> str:
    """A count as share of a total, with the 95% Wilson interval."""
    if not total:
        return "none"
    low, high = wilson(count, total)
    return f"{count}/{total} = {count / total:.3f} [{low:.3f}, {high:.3f}]"


def wilson(count: int, total: int, z: float = 1.96) -> tuple[float, float]:
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
    roster = roster_of(truth)
    grammar = Grammar.load(roster=roster)
    said, entries, errors = judge_utterances(grammar, truth, heard.events, where)
    reps, more = judge_reps(grammar, roster, truth, heard.events, where)
    tally.said += said
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


def meaning(grammar: Grammar, words: str) -> Phrases | None:
    """What words say, phrase by phrase, comparable; None when they are no note."""
    phrases = grammar.interpret(words)
    if not phrases:
        return None
    return tuple(f"{phrase.kind} {sorted(phrase.slots.items())}" for phrase in phrases)


def overlapping(utterance: Utterance, said: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """What was said while an entry lasted."""
    return [one for one in said if overlap(utterance, one) > 0]


def spoken(matched: Sequence[dict[str, Any]]) -> str | None:
    """The command words of an entry's stretch, or None when other talk is in it."""
    if not matched or any(one["kind"] != "command" for one in matched):
        return None
    return " ".join(one["words"] for one in matched)


@dataclass
class Stretch:
    """True utterances and entries that hang together by overlapping in time."""

    said: list[dict[str, Any]]
    heard: list[tuple[Utterance, tuple[Reading, ...], Verdict]]


def stretches(truth: dict[str, Any], events: Events) -> list[Stretch]:
    """Everything said and heard, parted where nothing overlaps."""
    items: list[tuple[float, float, Any]] = [
        (one["start_s"] + SLACK_S, one["end_s"] - SLACK_S, one) for one in truth["utterances"]
    ]
    items += [(event[0].start_s, event[0].end_s, event) for event in events]
    found: list[Stretch] = []
    reached = -1.0
    for start, end, item in sorted(items, key=lambda one: one[:2]):
        if start >= reached:
            found.append(Stretch([], []))
        (found[-1].said if isinstance(item, dict) else found[-1].heard).append(item)
        reached = max(reached, end)
    return found


def judge_utterances(
    grammar: Grammar, truth: dict[str, Any], events: Events, where: str
) -> tuple[Counter[str], Counter[str], list[str]]:
    """Counts of what was said, counts of entries, and the errors in words."""
    said: Counter[str] = Counter()
    entries: Counter[str] = Counter()
    errors: list[str] = []
    for stretch in stretches(truth, events):
        commands = [one for one in stretch.said if one["kind"] == "command"]
        wanted = [meaning(grammar, one["words"]) or ("?",) for one in commands]
        whole = tuple(phrase for phrases in wanted for phrase in phrases)
        placed: list[tuple[str, int, int]] = []
        reach = 0
        wrong = False
        for event in stretch.heard:
            utterance, _, verdict = event
            if verdict.status == "rejected":
                continue
            if not any(overlap(utterance, one) > 0 for one in commands):
                label = "false" if verdict.status == "accepted" else "doubtful talk"
                entries[label] += 1
                if label == "false":
                    errors.append(line("false", where, stretch, event))
                continue
            options = (verdict.words, *verdict.alternatives)
            if verdict.status == "accepted":
                options = options[:1]
            span = fitting(grammar, options, whole, reach, share(utterance, commands))
            if span is not None:
                placed.append((verdict.status, *span))
                reach = span[1]
            wrong = wrong or (span is None and verdict.status == "accepted")
            entries["right" if span else "wrong" if verdict.status == "accepted" else "unfit"] += 1
            if span is None and verdict.status == "accepted":
                errors.append(line("wrong", where, stretch, event))
        at = 0
        for one, phrases in zip(commands, wanted, strict=True):
            label = covered(placed, at, at + len(phrases))
            near = [event for event in stretch.heard if overlap(event[0], one) > 0]
            if label is None:
                asked = any(verdict.status == "doubtful" for _, _, verdict in near)
                label = "wrong" if wrong else "doubtful" if asked else "missed"
            said[label] += 1
            if label in ("doubtful", "missed"):
                errors += [line(label, where, stretch, event) for event in near[:1]] or [
                    f"missed: {where} {one['start_s']:.1f} s '{one['words']}' not found"
                ]
            at += len(phrases)
    return said, entries, errors


def overlap(utterance: Utterance, one: dict[str, Any]) -> float:
    """Seconds that an entry shares with what was said, less a little slack."""
    return min(utterance.end_s, one["end_s"]) - max(utterance.start_s, one["start_s"]) - SLACK_S


def share(utterance: Utterance, commands: Sequence[dict[str, Any]]) -> float:
    """How much of the commands, by time, an entry covers."""
    total = sum(one["end_s"] - one["start_s"] for one in commands)
    return sum(max(0.0, overlap(utterance, one) + SLACK_S) for one in commands) / total


def fitting(
    grammar: Grammar, options: Iterable[str], whole: Phrases, reach: int, part: float
) -> tuple[int, int] | None:
    """Where in what was said, from `reach` on, the first fitting reading lies."""
    for words in options:
        got = meaning(grammar, words)
        if got is None:
            continue
        if got == whole:
            return 0, len(whole)
        if part < NEARLY_ALL:
            for at in range(reach, len(whole) - len(got) + 1):
                if whole[at : at + len(got)] == got:
                    return at, at + len(got)
    return None


def covered(placed: Sequence[tuple[str, int, int]], start: int, end: int) -> str | None:
    """ "right" when accepted entries say all of [start, end), "offered" with doubtful ones."""
    for label, taken in (("right", ("accepted",)), ("offered", ("accepted", "doubtful"))):
        spans = [range(a, b) for status, a, b in placed if status in taken]
        if all(any(at in span for span in spans) for at in range(start, end)):
            return label
    return None


def line(label: str, where: str, stretch: Stretch, event: Any) -> str:
    """An error in words: where, what was said, what each heard, what stands."""
    utterance, readings, verdict = event
    true = " / ".join(one["words"] for one in stretch.said) or "(nothing)"
    heard = "; ".join(f"{one.who.split()[0]} '{one.words}' {one.confidence}" for one in readings)
    also = f" or {' | '.join(verdict.alternatives)}" if verdict.alternatives else ""
    return (
        f"{label}: {where} {utterance.start_s:.1f}-{utterance.end_s:.1f} s '{true}' -> "
        f"{verdict.status} {verdict.confidence:.3f} '{verdict.words}'{also} [{heard}]"
    )


def entries_of(events: Events, grammar: Grammar, roster: Roster, dog: str) -> tuple[Entry, ...]:
    """Fold what was heard, with spoken edits settled as they come."""
    kept: list[Event] = []
    for utterance, _, verdict in events:
        kept += [utterance, verdict]
        phrases = grammar.interpret(verdict.words) if verdict.status == "accepted" else None
        if any(phrase.kind == "edit" for phrase in phrases or ()):
            entries = fold(kept, grammar.interpret)
            place = next(i for i, entry in enumerate(entries) if entry.id == utterance.id)
            action = spoken_action(entries[place], entries[:place], roster, dog=dog)
            kept += [action] if action else []
    return fold(kept, grammar.interpret)


def reviewed(grammar: Grammar, truth: dict[str, Any], events: Events) -> Events:
    """What a reviewer makes of it who only takes or drops what is offered."""
    after = []
    for stretch in stretches(truth, events):
        commands = [one for one in stretch.said if one["kind"] == "command"]
        whole = tuple(
            phrase for one in commands for phrase in meaning(grammar, one["words"]) or ("?",)
        )
        reach = 0
        for utterance, readings, verdict in stretch.heard:
            if verdict.status != "rejected" and commands:
                options = (verdict.words, *verdict.alternatives)
                options = options[:1] if verdict.status == "accepted" else options
                part = share(utterance, commands)
                fits = [
                    (words, span)
                    for words in options
                    if (span := fitting(grammar, [words], whole, reach, part))
                ]
                if fits:
                    reach = fits[0][1][1]
                if verdict.status == "doubtful":
                    known = {"status": "accepted" if fits else "rejected"}
                    known["words"] = fits[0][0] if fits else verdict.words
                    verdict = verdict.model_copy(update=known)
            elif verdict.status == "doubtful":
                verdict = verdict.model_copy(update={"status": "rejected"})
            after.append((utterance, readings, verdict))
    return sorted(after, key=lambda event: event[0].start_s)


def key(rep: Rep) -> tuple[Any, ...]:
    signs = tuple(sign for sign in rep.signs if sign not in UNSEEN)
    return rep.mode, tuple(mark.level for mark in rep.levels), rep.outcome, signs


def true_key(rep: dict[str, Any]) -> tuple[Any, ...]:
    return rep["mode"], tuple(rep["levels"]), rep["outcome"], tuple(rep["signs"])


def matched_reps(
    reps: Sequence[Rep], truth: dict[str, Any]
) -> tuple[list[tuple[dict[str, Any], Rep | None]], list[Rep]]:
    """Each true rep with the heard one that overlaps it most, and those left over."""
    left = list(reps)
    pairs: list[tuple[dict[str, Any], Rep | None]] = []
    for true in truth["reps"]:
        lines = [truth["utterances"][i] for i in true["utterances"]]
        start, end = lines[0]["start_s"], lines[-1]["end_s"]

        def shared(rep: Rep, start: float = start, end: float = end) -> float:
            return min(end, rep.end_s + 0.1) - max(start, rep.start_s - 0.1)

        best = max(left, key=shared, default=None)
        if best is not None and shared(best) > 0:
            left.remove(best)
        else:
            best = None
        if not true["void"]:
            pairs.append((true, best))
    return pairs, left


def judge_reps(
    grammar: Grammar, roster: Roster, truth: dict[str, Any], events: Events, where: str
) -> tuple[Counter[str], list[str]]:
    """Counts of reps, and the wrong ones in words."""
    counts: Counter[str] = Counter()
    errors: list[str] = []
    dog = roster.dogs[0].name

    def reps_of(events: Events) -> list[Rep]:
        sessions = assemble(entries_of(events, grammar, roster, dog), roster, dog=dog)
        return [rep for session in sessions for rep in session.reps]

    def sure(true: dict[str, Any], rep: Rep) -> bool:
        return not rep.doubtful or bool(true["doubtful"])

    pairs, left = matched_reps(reps_of(events), truth)
    for true, rep in pairs:
        if rep is None or not sure(true, rep) or rep.void:
            counts["in doubt"] += 1
        elif key(rep) == true_key(true):
            counts["exact"] += 1
        else:
            counts["wrong"] += 1
            errors.append(f"wrong rep: {where} #{true['number']} {true_key(true)} -> {key(rep)}")
    counts["false rep"] += sum(not rep.doubtful and not rep.void for rep in left)
    pairs, _ = matched_reps(reps_of(reviewed(grammar, truth, events)), truth)
    counts["resolved"] += sum(
        rep is not None and sure(true, rep) and key(rep) == true_key(true) for true, rep in pairs
    )
    return counts, errors


if __name__ == "__main__":
    main()
