"""How often a word that no dictionary has is pronounced wrongly.

Random dictionary words are taken out of a copy of the dictionary (with all their variants)
and pronounced from what is left. Each is compared with its nearest listed variant. Relatives
of a word stay in the dictionary (its plural, say), so that this is the error for words of
the dictionary's own kind, names included: words like none of them will do worse.

    python -m tests.bench.pronounce [words, default 1000] [seed, default 7]
"""

from __future__ import annotations

import random
import re
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from voicelog.grammar.letter_to_sound import letter_to_sound
from voicelog.grammar.pronunciation import (
    Origin,
    Phones,
    Pronouncer,
    edit_distance,
    shipped_dictionary,
)


def held_out(count: int, seed: int, folder: Path) -> tuple[dict[str, list[Phones]], Path]:
    """`count` words with their listed variants, and a dictionary in `folder` without them."""
    entries = [
        (line.split()[0].partition("(")[0], line)
        for line in shipped_dictionary().read_text("utf-8").splitlines()
    ]
    words = sorted({word for word, _ in entries if re.fullmatch("[a-z]{2,}", word)})
    wanted: dict[str, list[Phones]] = {w: [] for w in random.Random(seed).sample(words, count)}
    rest = folder / "rest.dict"
    with rest.open("w") as out:
        for word, line in entries:
            if word in wanted:
                wanted[word].append(tuple(line.split()[1:]))
            else:
                out.write(line + "\n")
    return wanted, rest


def report(
    name: str, wanted: dict[str, list[Phones]], say: Callable[[str], Sequence[Phones]]
) -> None:
    """Print words right, and phones wrong of phones in all, by the best that `say` offers."""
    right = wrong = phones = 0
    began = time.perf_counter()
    for word, variants in wanted.items():
        errors, nearest = min(
            ((edit_distance(said, listed), listed) for said in say(word) for listed in variants),
            key=lambda pair: pair[0] / len(pair[1]),
        )
        right, wrong, phones = right + (errors == 0), wrong + errors, phones + len(nearest)
    each = (time.perf_counter() - began) / max(1, len(wanted))
    print(
        f"{name:12s} words right {right}/{len(wanted)} = {right / max(1, len(wanted)):.3f}   "
        f"phones wrong {wrong}/{phones} = {wrong / max(1, phones):.4f}   {each * 1000:.0f} ms each",
        flush=True,
    )


def main(count: int = 1000, seed: int = 7) -> None:
    """Measure letters alone, then the whole chain of fallbacks, and each link of it."""
    with tempfile.TemporaryDirectory() as folder:
        wanted, rest = held_out(count, seed, Path(folder))
        text = "\n" + rest.read_text("utf-8")
        sounded: dict[str, Phones] = {}

        def by_letters(word: str) -> list[Phones]:
            sounded[word] = sounded.get(word) or letter_to_sound(word, text)
            return [sounded[word]]

        say = Pronouncer(rest)
        report("letters only", wanted, by_letters)
        report("first said", wanted, lambda word: say.variants(word)[:1])
        report("best said", wanted, say.variants)
        origins: dict[Origin, dict[str, list[Phones]]] = {}
        for word, variants in wanted.items():
            origins.setdefault(say.origin(word), {})[word] = variants
        for origin, part in origins.items():
            report(origin, part, lambda word: say.variants(word)[:1])
            report("  by letters", part, by_letters)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
