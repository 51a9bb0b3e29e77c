"""Whether each phrase of the grammar is heard when it is said alone, in quiet, by several voices.

    python -m tests.bench.phrases_heard --voices joe kok-tebukuro esp-rp
    python -m tests.bench.phrases_heard --without FOLDER     only what that older grammar lacks

Of each voice one recording is made, every phrase once with pauses between, numbers as sample
phrases have them. A phrase is *right* when it stands as sure and means what was said, *asked* when
it is to check and one of the readings offered means it, *wrong* when something else stands as sure,
*other* when something else alone is offered, *not* when nothing was found. The voices are
synthetic: what they miss is likelier missed; what they say well is not yet a person in wind.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import soundfile as sf

from tests.bench.heard import heard_by, roster_of
from tests.bench.judging import meaning, overlap
from tests.bench.units import joined
from tests.bench.voices import RATE, VOICES, Voice, absent
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.sample_phrases import phrases

WAYS = ("right", "asked", "other", "wrong", "not")
VOICES_BY_DEFAULT = ("joe", "kok-tebukuro", "esp-rp", "flite-awb")
A_RECORDING = 36
"""Phrases in one recording."""


def main() -> None:
    """Make, hear and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--voices", nargs="+", default=VOICES_BY_DEFAULT)
    parser.add_argument("--without", type=Path, help="a folder of grammars: leave out its phrases")
    parser.add_argument("--only", nargs="+", help="these phrases alone")
    parser.add_argument("--listener", default="both")
    asked = parser.parse_args()
    grammar = Grammar.load()
    older = Grammar.load(asked.without) if asked.without else None
    said = asked.only or [
        words for words, _ in phrases(grammar) if older is None or older.interpret(words) is None
    ]
    voices = [voice for voice in VOICES if voice.name in asked.voices]
    for reason in filter(None, map(absent, voices)):
        raise SystemExit(reason)
    print(f"{'':32}" + "".join(f"{voice.name:>14}" for voice in voices))
    found: list[dict[str, str]] = []
    for at in range(0, len(said), A_RECORDING):
        columns = [
            list(_heard(said[at : at + A_RECORDING], voice, asked.listener)) for voice in voices
        ]
        for row in zip(*columns, strict=True):
            found.append({voice.name: way for voice, (_, way, _) in zip(voices, row, strict=True)})
            heard = "; ".join(words for _, _, words in row if words)
            ways = "".join(f"{way:>14}" for _, way, _ in row)
            print(f"{row[0][0]:32}{ways}  {heard}".rstrip(), flush=True)
    _print_counts(found, [voice.name for voice in voices])


def _heard(said: Sequence[str], voice: Voice, listener: str) -> Iterator[tuple[str, str, str]]:
    """Each phrase with what came of it and the words that stood or were offered."""
    sound, truth = joined(
        [(words, "command", voice.sound(words)) for words in said],
        *(voice.name, voice.split, 0, (1.3, 2.2)),
    )
    grammar = Grammar.load(roster=roster_of(truth))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        sf.write(path, sound, RATE)
        events = list(heard_by(listener, path, truth)[0])
    for one in truth["utterances"]:
        yield one["words"], *_way(grammar, one, events)


def _way(grammar: Grammar, one: dict[str, Any], events: Sequence[Any]) -> tuple[str, str]:
    meant = meaning(grammar, one["words"])
    near = [
        verdict
        for utterance, _, verdict in events
        if overlap(utterance, one) > 0 and verdict.status != "rejected"
    ]
    if not near:
        return "not", ""
    heard = " + ".join(verdict.words for verdict in near)
    if any(
        verdict.status == "accepted" and meaning(grammar, verdict.words) != meant
        for verdict in near
    ):
        return "wrong", heard
    if near[0].status == "accepted":
        return "right", ""
    offered = {meaning(grammar, words) for v in near for words in (v.words, *v.alternatives)}
    return ("asked", "") if meant in offered else ("other", heard)


def _print_counts(found: Sequence[dict[str, str]], voices: Sequence[str]) -> None:
    for name in voices:
        count = Counter(ways[name] for ways in found)
        print(f"{name:32}" + ", ".join(f"{way} {count[way]}" for way in WAYS))
    by_most = Counter(sum(way in ("right", "asked") for way in ways.values()) for ways in found)
    print(
        "phrases right or asked by so many voices: "
        + ", ".join(f"{count} of {len(voices)}: {by_most[count]}" for count in sorted(by_most))
    )


if __name__ == "__main__":
    main()
