"""Hold what stands against what was said: utterances, entries and reps.

See recognition.py for what the counts mean.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Any

from voicelog.grammar.grammar import Grammar
from voicelog.model import Entry, Event, Reading, Rep, Roster, Utterance, Verdict
from voicelog.model.phrases import phrase_slots
from voicelog.session.entries import fold
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.session.variants import assemble

__all__ = ["forced_right", "judge_reps", "judge_utterances", "meaning", "overlapping", "spoken"]

UNSEEN = ("nothing", "no reaction")
NEARLY_ALL = 0.85  # share of what was said, by time, from which an entry must say all of it
SLACK_S = 0.1  # overlap that counts

Phrases = tuple[str, ...]
Events = Sequence[tuple[Utterance, tuple[Reading, ...], Verdict]]


def meaning(grammar: Grammar, words: str) -> Phrases | None:
    """What words say, phrase by phrase, comparable; None when they are no note."""
    phrases = grammar.interpret(words)
    if not phrases:
        return None
    return tuple(f"{phrase.kind} {sorted(phrase_slots(phrase).items())}" for phrase in phrases)


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
                entries["false" if verdict.status == "accepted" else "doubtful talk"] += 1
                if verdict.status == "accepted":
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
            if verdict.status == "accepted":
                entries["right" if span else "wrong"] += 1
            else:
                entries["fit" if span else "unfit"] += 1
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


def forced_right(grammar: Grammar, truth: dict[str, Any], events: Events) -> int:
    """How many commands are right where the first reading of each entry is taken, whatever became
    of it: a choice that may neither doubt nor reject."""
    return sum(_forced_right(grammar, one) for one in stretches(truth, events))


def _forced_right(grammar: Grammar, stretch: Stretch) -> int:
    commands = [one for one in stretch.said if one["kind"] == "command"]
    wanted = [meaning(grammar, one["words"]) or ("?",) for one in commands]
    whole = tuple(phrase for phrases in wanted for phrase in phrases)
    placed: list[tuple[str, int, int]] = []
    reach = 0
    for utterance, _, verdict in stretch.heard if commands else ():
        part = share(utterance, commands)
        if (span := fitting(grammar, (verdict.words,), whole, reach, part)) is not None:
            placed.append(("accepted", *span))
            reach = span[1]
    ends = [0, *accumulate(map(len, wanted))]
    return sum(covered(placed, *between) is not None for between in pairwise(ends))


def overlap(utterance: Utterance, one: dict[str, Any]) -> float:
    """Seconds that an entry shares with what was said, less a little slack."""
    return (
        min(utterance.end_s, float(one["end_s"]))
        - max(utterance.start_s, float(one["start_s"]))
        - SLACK_S
    )


def share(utterance: Utterance, commands: Sequence[dict[str, Any]]) -> float:
    """How much of the commands, by time, an entry covers."""
    total = float(sum(one["end_s"] - one["start_s"] for one in commands))
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
            action = resolve_spoken_edit(entries[place], entries[:place], roster, dog=dog)
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
