"""How well narrations are heard: counts for utterances, reps and other talk.

    python -m tests.bench.recognition tune test talk_tune talk_test

names folders of the bench data (see narrations.py), below VOICELOG_BENCH_DATA or --data.
What the listeners made of a recording is cached by its sound and by the code and grammar
that heard it, so the command can be stopped and run again. Errors are listed at the end.

An utterance is *right* when its accepted reading means what was said, *wrong* when it means
something else or was other talk, *offered* when it is doubtful and the right reading is
among those offered, *doubtful* when it is not, *missed* when it was rejected or not found.
A rep is *exact* when it is not doubtful and its mode, level trace, outcome and signs are
those of the scenario ("nothing" aside), *wrong* when it is not doubtful and they are not;
*resolved* counts those exact after a reviewer took the right reading wherever it was
offered and dropped the rest. Reps with no counterpart in the truth are *false*.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import pickle
import resource
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import soundfile

from voicelog.grammar.grammar import Grammar, Narrowing
from voicelog.hearing.engines import quick_listeners
from voicelog.hearing.hear import hear
from voicelog.model import Dog, Entry, Event, Rep, Roster, Utterance, Verdict
from voicelog.session.assemble import assemble
from voicelog.session.edits import spoken_action
from voicelog.session.entries import fold

UNSEEN = ("nothing", "no reaction")


@dataclass(frozen=True)
class Heard:
    """What came of one recording, and what it cost."""

    events: list[tuple[Utterance, Verdict]]
    duration_s: float
    cpu_s: float


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+")
    parser.add_argument("--data", type=Path, default=Path(os.environ["VOICELOG_BENCH_DATA"]))
    parser.add_argument("--top", type=int, default=100, help="top level of the transmitter")
    parser.add_argument("--voice", help="only voices whose name holds this")
    parser.add_argument("--plain", action="store_true", help="the plain baseline instead")
    options = parser.parse_args()
    for name in options.folders:
        paths = sorted((options.data / name).glob("*.json"))
        chosen = [path for path in paths if not options.voice or options.voice in path.stem]
        report(name, chosen, options.data / "heard", options.top, options.plain)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this process {peak:.0f} MB")


def report(name: str, paths: Sequence[Path], cache: Path, top: int, plain: bool) -> None:
    said: Counter[str] = Counter()
    reps: Counter[str] = Counter()
    by_voice: dict[str, Counter[str]] = {}
    errors: list[str] = []
    duration = cpu = 0.0
    for path in paths:
        truth = json.loads(path.read_text())
        dogs = tuple(truth["dogs"]) or ("bracken",)
        roster = Roster(dogs=tuple(Dog(name=dog) for dog in dogs))
        grammar = Grammar.load(roster=roster)
        heard = listen(path.with_suffix(".flac"), grammar, cache, top, plain)
        duration, cpu = duration + heard.duration_s, cpu + heard.cpu_s
        utterances = judge_utterances(grammar, truth, heard, errors, path.stem)
        outcome = judge_reps(grammar, roster, dogs[0], truth, heard, errors, path.stem)
        said += utterances
        reps += outcome
        voice = by_voice.setdefault(truth["voice"], Counter())
        voice += outcome
        by_voice[truth["voice"]] = voice
    print(f"\n== {name}: {len(paths)} recordings, {duration / 60:.1f} min ==")
    print("utterances", dict(said))
    total = reps["exact"] + reps["wrong"] + reps["unsure"]
    if total:
        for what in ("exact", "resolved", "wrong"):
            print(f"reps {what} {reps[what]} of {total} = {reps[what] / total:.3f}")
    for what in ("false record", "false rep", "doubtful talk"):
        count = said[what] + reps[what]
        print(f"{what} {count} = {count / duration * 3600:.1f} an hour")
    for voice, counts in sorted(by_voice.items()):
        print(f"  {voice:14} {dict(counts)}")
    print(f"cpu {cpu:.1f} s for {duration:.0f} s = {cpu / duration:.4f}")
    print("\n".join(errors))


def listen(sound: Path, grammar: Grammar, cache: Path, top: int, plain: bool) -> Heard:
    code = hashlib.sha256(sound.read_bytes() + f"{grammar.name}{top}{plain}".encode())
    hearing = Path(__file__).parents[2] / "voicelog" / "hearing"
    for source in [*sorted(hearing.glob("*.py")), *hearing.parent.glob("grammar/*.py")]:
        code.update(source.read_bytes())
    kept = cache / f"{code.hexdigest()[:24]}.pickle"
    if kept.exists():
        found: Heard = pickle.loads(kept.read_bytes())
        return found
    samples, rate = soundfile.read(sound, dtype="float32")
    assert rate == 16_000
    blocks = (samples[i : i + 1600] for i in range(0, len(samples), 1600))
    began = time.process_time()
    if plain:
        from tests.bench.baseline import plain_hear

        events = list(plain_hear(blocks, grammar))
    else:
        narrowing = Narrowing(top_level=top)
        listeners = quick_listeners(grammar, narrowing)
        began = time.process_time()
        heard = hear(blocks, listeners, grammar, narrowing, "bench")
        events = [(utterance, verdict) for utterance, _, verdict in heard]
    result = Heard(events, len(samples) / rate, time.process_time() - began)
    cache.mkdir(parents=True, exist_ok=True)
    kept.write_bytes(pickle.dumps(result))
    return result


def meaning(grammar: Grammar, words: str) -> str | None:
    phrases = grammar.interpret(words)
    return repr([(p.kind, sorted(p.slots.items())) for p in phrases]) if phrases else None


def overlapping(utterance: Utterance, truth: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        said
        for said in truth
        if utterance.start_s < said["end_s"] - 0.1 and utterance.end_s > said["start_s"] + 0.1
    ]


def spoken(matched: Sequence[dict[str, Any]]) -> str | None:
    """The command words an utterance holds, or None when other talk is in it."""
    if not matched or any(said["kind"] != "command" for said in matched):
        return None
    return " ".join(said["words"] for said in matched)


def judge_utterances(
    grammar: Grammar, truth: dict[str, Any], heard: Heard, errors: list[str], where: str
) -> Counter[str]:
    counts: Counter[str] = Counter()
    found: set[int] = set()
    for utterance, verdict in heard.events:
        matched = overlapping(utterance, truth["utterances"])
        words = spoken(matched)
        found.update(id(said) for said in matched)
        wanted = meaning(grammar, words) if words else None
        got = meaning(grammar, verdict.words)
        offered = [got, *(meaning(grammar, other) for other in verdict.alternatives)]
        if words is None:
            label = {"accepted": "false record", "doubtful": "doubtful talk"}.get(
                verdict.status, "talk left out"
            )
        elif verdict.status == "accepted":
            label = "right" if got == wanted else "wrong"
        elif verdict.status == "doubtful":
            label = "offered" if wanted in offered else "doubtful"
        else:
            label = "missed"
        counts[label] += 1
        if label in ("false record", "wrong"):
            true = " / ".join(said["words"] for said in matched) or "(nothing)"
            errors.append(
                f"{label}: {where} {verdict.confidence:.3f} '{true}' -> '{verdict.words}'"
            )
    counts["missed"] += sum(
        said["kind"] == "command" and id(said) not in found for said in truth["utterances"]
    )
    return counts


def entries_of(
    events: Sequence[tuple[Utterance, Verdict]], grammar: Grammar, roster: Roster, dog: str
) -> tuple[Entry, ...]:
    """Fold what was heard, with spoken edits settled as they come."""
    kept: list[Event] = []
    for utterance, verdict in events:
        kept += [utterance, verdict]
        phrases = grammar.interpret(verdict.words) if verdict.status == "accepted" else None
        if any(phrase.kind == "edit" for phrase in phrases or ()):
            *before, entry = fold(kept, grammar.interpret)
            action = spoken_action(entry, before, roster, dog=dog)
            kept += [action] if action else []
    return fold(kept, grammar.interpret)


def reviewed(
    grammar: Grammar, truth: dict[str, Any], events: Sequence[tuple[Utterance, Verdict]]
) -> list[tuple[Utterance, Verdict]]:
    """What a reviewer makes of it who only takes or drops what is offered."""
    after = []
    for utterance, verdict in events:
        if verdict.status == "doubtful":
            words = spoken(overlapping(utterance, truth["utterances"]))
            offered = {meaning(grammar, one) for one in (verdict.words, *verdict.alternatives)}
            good = words is not None and meaning(grammar, words) in offered
            status = "accepted" if good else "rejected"
            verdict = verdict.model_copy(update={"status": status, "words": words or ""})
        after.append((utterance, verdict))
    return after


def key(rep: Rep) -> tuple[Any, ...]:
    signs = tuple(sign for sign in rep.signs if sign not in UNSEEN)
    return rep.mode, tuple(mark.level for mark in rep.levels), rep.outcome, signs


def true_key(rep: dict[str, Any]) -> tuple[Any, ...]:
    return rep["mode"], tuple(rep["levels"]), rep["outcome"], tuple(rep["signs"])


def matched_reps(
    reps: Sequence[Rep], truth: dict[str, Any]
) -> tuple[list[tuple[dict[str, Any], Rep | None]], list[Rep]]:
    """Each true rep with the heard one that overlaps it most, and those left over."""
    wanted = [rep for rep in truth["reps"] if not rep["void"]]
    left = list(reps)
    pairs: list[tuple[dict[str, Any], Rep | None]] = []
    for true in wanted:
        lines = [truth["utterances"][i] for i in true["utterances"]]
        start, end = lines[0]["start_s"], lines[-1]["end_s"]

        def shared(rep: Rep, start: float = start, end: float = end) -> float:
            return min(end, rep.end_s + 0.1) - max(start, rep.start_s - 0.1)

        best = max(left, key=shared, default=None)
        if best is not None and shared(best) > 0:
            left.remove(best)
            pairs.append((true, best))
        else:
            pairs.append((true, None))
    return pairs, left


def judge_reps(
    grammar: Grammar,
    roster: Roster,
    dog: str,
    truth: dict[str, Any],
    heard: Heard,
    errors: list[str],
    where: str,
) -> Counter[str]:
    counts: Counter[str] = Counter()

    def reps_of(events: Sequence[tuple[Utterance, Verdict]]) -> list[Rep]:
        sessions = assemble(entries_of(events, grammar, roster, dog), roster, dog=dog)
        return [rep for session in sessions for rep in session.reps if not rep.void]

    pairs, left = matched_reps(reps_of(heard.events), truth)
    for true, rep in pairs:
        if rep is None or rep.doubtful:
            counts["unsure"] += 1
        elif key(rep) == true_key(true):
            counts["exact"] += 1
        else:
            counts["wrong"] += 1
            errors.append(f"wrong rep: {where} #{true['number']} {true_key(true)} -> {key(rep)}")
    counts["false rep"] += sum(not rep.doubtful for rep in left)
    pairs, _ = matched_reps(reps_of(reviewed(grammar, truth, heard.events)), truth)
    counts["resolved"] += sum(
        rep is not None and not rep.doubtful and key(rep) == true_key(true) for true, rep in pairs
    )
    return counts


if __name__ == "__main__":
    main()
