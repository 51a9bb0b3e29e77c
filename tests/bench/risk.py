"""Risk against coverage: of the notes that are accepted, how many may be wrong at most?

    python -m tests.bench.risk --split test --condition clean pink10 people

Judges what is kept (recognition.py hears it) and hears nothing. Entries over what was said are put
in order of their confidence; for each share of them that would be accepted, the surest first
(coverage), it prints how many are wrong (risk) and the one-sided 95% upper bound of that risk by
Clopper and Pearson (Biometrika 26:404-413, 1934): the p for which k or fewer wrong of n have
probability 0.05, the 0.95 quantile of Beta(k + 1, n - k). The last line of each is what the
thresholds that ship accept.

Sets are counted by note. The same notes in several noises are not independent, so each condition
stands alone. With none wrong of n the bound is 1 - 0.05 ** (1 / n): 0.3% asks for 998 notes.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from scipy.stats import beta

from tests.bench.heard import LISTENERS, Heard, grammar_of, hear, kept_at
from tests.bench.judging import fitting, meaning, overlap, share, stretches
from tests.bench.voices import data_dir
from voicelog.grammar.grammar import Grammar
from voicelog.model.phrases import phrase_slots

__all__ = ["KINDS", "JudgedEntry", "clopper_pearson_upper", "judged_entries"]

KINDS = ("number", "single word", "other")
COVERAGES = (0.5, 0.7, 0.8, 0.9, 0.95, 1.0)


class JudgedEntry(NamedTuple):
    """What stands over something said: its confidence (0 to 1), whether it is accepted, whether
    its first reading is right, and its kind, one of KINDS."""

    confidence: float
    accepted: bool
    right: bool
    kind: str


def clopper_pearson_upper(wrong: int, total: int, level: float = 0.95) -> float:
    """The greatest risk that `wrong` of `total` leaves likely, one-sided; 1 of none."""
    if wrong >= total:
        return 1.0
    return float(beta.ppf(level, wrong + 1, total - wrong))


def judged_entries(truth: dict[str, Any], heard: Heard) -> Iterator[JudgedEntry]:
    """Every entry of a recording that overlaps something said, rejected ones left out."""
    grammar = grammar_of(truth)
    for stretch in stretches(truth, heard.events):
        commands = [one for one in stretch.said if one["kind"] == "command"]
        wanted = [meaning(grammar, one["words"]) or ("?",) for one in commands]
        whole = tuple(phrase for phrases in wanted for phrase in phrases)
        for utterance, _, verdict in stretch.heard:
            over = any(overlap(utterance, one) > 0 for one in commands)
            if verdict.status != "rejected" and over:
                part = share(utterance, commands)
                right = fitting(grammar, (verdict.words,), whole, 0, part) is not None
                kind = _kind(grammar, verdict.words)
                yield JudgedEntry(verdict.confidence, verdict.status == "accepted", right, kind)


def _kind(grammar: Grammar, words: str) -> str:
    slots = [
        value for one in grammar.interpret(words) or () for value in phrase_slots(one).values()
    ]
    if any(isinstance(value, int) for value in slots):
        return "number"
    return "other" if " " in words else "single word"


def table(entries: Sequence[JudgedEntry]) -> Iterator[str]:
    """Lines: the share accepted, from which confidence, how many wrong of how many, the bound."""
    ranked = sorted(entries, key=lambda one: -one.confidence)
    for coverage in COVERAGES:
        some = ranked[: round(coverage * len(ranked))]
        if some:
            yield _line(f"{coverage:6.0%} from {some[-1].confidence:.3f}", some)
    yield _line(" as it ships     ", [one for one in entries if one.accepted])


def _line(name: str, some: Sequence[JudgedEntry]) -> str:
    wrong = sum(not one.right for one in some)
    bound = clopper_pearson_upper(wrong, len(some))
    return f"  {name}: {wrong:3} wrong of {len(some):4}, at most {bound:6.2%}"


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--split", default="test")
    parser.add_argument("--condition", nargs="+", default=["clean"])
    parser.add_argument("--listener", choices=LISTENERS, default="both")
    parser.add_argument("--run", help="name to keep under (default: hash of the code that hears)")
    parser.add_argument("--data", type=Path, default=data_dir())
    asked = parser.parse_args()
    for condition in asked.condition:
        entries: list[JudgedEntry] = []
        missing = 0
        for path in sorted((asked.data / asked.split / condition).glob("*.json")):
            kept = kept_at(asked.data / "heard", asked.run, asked.listener, path)
            heard = hear(path, asked.listener, kept, patience_s=0, only_kept=True)
            missing += heard is None
            if heard is not None:
                entries += judged_entries(json.loads(path.read_text()), heard)
        print(f"\n{asked.split} {condition}, {asked.listener}: {len(entries)} entries")
        for kind in ("all", *KINDS):
            some = [one for one in entries if kind in ("all", one.kind)]
            if some:
                print(f" {kind}", *table(some), sep="\n")
        if missing:
            print(f"{missing} recordings are not heard yet: python -m tests.bench.recognition")


if __name__ == "__main__":
    main()
