"""Are the words that are called easily confused those that are taken for each other?

    python -m tests.bench.confusable
    python -m tests.bench.confusable --heard RUN    # a run of recognition.py on --condition words

Each word that a person said is set against words of the pronouncing dictionary one or two phones
away: the careful listener's phones tell how many nats what was said lies ahead of the other (in
quiet, and with a kitchen 12 dB below). A pair is *wrong* where the other lies ahead in any
recording, *doubtful* where it is less than DOUBT behind. Of each way to foretell which pairs these
are it prints the area under the ROC curve, and what share of all wrong and doubtful recordings are
of the tenth, fifth and two fifths of pairs that it calls the most alike. `--heard` counts the words
that both listeners took or offered for another, out of the grammar `words`.

Four ways: `likeness` (what `mistaken` uses: phone_distance by the phones of the longer word),
`distance` (phone_distance), `direction` (the scale of phone_distance as likelihoods, from the word
said to the word heard, which may lose a phone or gain one), and `measured`: the same with the
likelihoods fitted to the phones heard of people's tuning recordings, in quiet and kitchen (the
stochastic edit distance of Ristad and Yianilos, IEEE PAMI 20, 1998, by expectation maximization).
The layer that tells the phones has learnt from those recordings, so it errs less there than on
others.

The sets: `numbers`, three sources of human.py that no layer has heard; `words` and `orders`,
people.py, split test; in `orders` one word of each order is exchanged.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from tests.bench import human, people
from tests.bench.heard import GRAMMARS, Heard
from tests.bench.judging import meaning, overlapping
from tests.bench.voices import RATE, Sound, data_dir
from training.people_speech import recordings
from voicelog.app.vocabulary import phrases_by_kind
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.pronunciation import (
    Phones,
    phone_cost,
    phone_distance,
    shipped_pronouncer,
    sound_similarity,
)
from voicelog.grammar.sound_alikes import mistaken, near
from voicelog.recognition.ctc import align_readings, best_path
from voicelog.recognition.phone_posteriors import PHONE_INDEX, Posteriors
from voicelog.recognition.trained_artifact import shipped_artifact
from voicelog.recognition.whisper import WhisperEncoder
from voicelog.recognition.whisper_model import packaged_whisper_model

EACH = {"phrases": 3, "orders tune": 1, "numbers": 1, "words": 2, "orders": 2}
"""Of each set every so-manyth recording is heard."""
KITCHEN_DB = 12.0
DOUBT = 2.5
"""Nats; the margin by which a number must lie ahead of its sound-alike (fusion.json)."""
RIVALS = {"numbers": 60, "words": 60, "orders": 12}
"""Words of the dictionary one phone away, and as many two phones away, at most."""
MOST = {"numbers": 60, "words": 60, "orders": 8}
"""Recordings of a word."""
LONGEST_S = 9.5
COUNT = len(PHONE_INDEX)
TOLD = tuple(PHONE_INDEX)

Way = Callable[[str, str], float]
"""How unlike (any scale) a word that is said is to one that may be heard."""


def sources(name: str) -> Iterator[tuple[str, str, Sound]]:
    """Name, what was said (for orders: words that mean the same) and sound of a set."""
    if name == "phrases":
        for source, _, file, sound in recordings():
            if source == "phrases":
                yield file, file.split("/")[0], sound
            else:
                return
    elif name == "numbers":
        said = Grammar.load().numerals
        for speaker in human.SPEAKERS:
            for place, (number, sound) in enumerate(human.numbers(speaker)):
                yield f"{speaker} {place}", said[str(number)], sound
    elif name == "words":
        yield from people.words("test")
    else:
        yield from people.commands("tune" if name == "orders tune" else "test")


@dataclass
class Said:
    """What was said, and its phones in quiet and in the kitchen."""

    words: str
    ways: tuple[Posteriors, Posteriors]


@cache
def listener() -> WhisperEncoder:
    model = packaged_whisper_model()
    assert model is not None, "install the extra 'careful'"
    return WhisperEncoder(model, shipped_artifact().layer())


def heard(name: str) -> list[Said]:
    """The recordings of a set; heard once, then kept in the bench data."""
    kept = data_dir() / "confusable" / f"{name}.npz"
    if not kept.exists():
        kept.parent.mkdir(exist_ok=True)
        every = list(_listened(name))
        frames = [way.astype(np.float16) for one in every for way in one.ways]
        np.savez_compressed(
            kept,
            words=[one.words for one in every],
            counts=[len(one) for one in frames],
            frames=np.concatenate(frames),
        )
    with np.load(kept) as file:
        parts = np.split(file["frames"].astype(np.float32), np.cumsum(file["counts"])[:-1])
        return [
            Said(str(words), (parts[2 * place], parts[2 * place + 1]))
            for place, words in enumerate(file["words"])
        ]


def _listened(name: str) -> Iterator[Said]:
    kitchen = np.asarray(sf.read(people.noise_file(), dtype="float32")[0])
    orders = Grammar.load(GRAMMARS / people.GRAMMAR)
    for place, (file, words, sound) in enumerate(sources(name)):
        if place % EACH[name] or len(sound) > LONGEST_S * RATE:
            continue
        start = random.Random(file).randrange(len(kitchen) - len(sound))
        noise = people.scaled(kitchen[start : start + len(sound)], sound, KITCHEN_DB)
        ways = []
        for way in (sound, sound + noise):
            listener().load_segment(np.asarray(way, np.float32))
            ways.append(listener().phones())
        if name.startswith("orders"):
            path = best_path(ways[0], orders)
            if path is None or meaning(orders, path.words) != meaning(orders, words):
                continue
            words = path.words
        yield Said(words, (ways[0], ways[1]))


# --- which pairs are wrong ----------------------------------------------------------------


@dataclass
class Pair:
    """A word that was said and another, and by how much it lay ahead in each recording (nats)."""

    said: str
    other: str
    ahead: list[float] = field(default_factory=list)

    def share(self, below: float) -> float:
        return float(np.mean(np.array(self.ahead) < below))


@cache
def _dictionary() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Each pronunciation as a text, a character a phone, and a word that is said so."""
    found: dict[str, str] = {}
    for word, phones in shipped_pronouncer().listed():
        if word.isalpha():
            found.setdefault(_text(phones), word)
    return tuple(found), tuple(found.values())


def _text(phones: Phones) -> str:
    return "".join(chr(64 + PHONE_INDEX[phone]) for phone in phones)


def rivals(word: str, most: int) -> list[str]:
    """Words of the dictionary one and two phones away, at most so many of each."""
    keys, words = _dictionary()
    spoken = [_text(phones) for phones in shipped_pronouncer().phrase(word)]
    apart = process.cdist(spoken, keys, scorer=Levenshtein.distance, score_cutoff=2).min(axis=0)
    found: set[str] = set()
    dealt = random.Random(word)
    for distance in (1, 2):
        some = [words[place] for place in np.flatnonzero(apart == distance)]
        found.update(dealt.sample(some, min(most, len(some))))
    return sorted(found)


def pairs(name: str) -> list[Pair]:
    """Every pair of a set that lies in four recordings or more (two, each in two ways)."""
    found: dict[tuple[str, str], Pair] = {}
    times: Counter[str] = Counter()
    others = cache(rivals)
    every = heard(name)
    random.Random(0).shuffle(every)
    for one in every:
        parts = one.words.split() if name == "orders" else [one.words]
        for word in dict.fromkeys(parts):
            times[word] += 1
            if times[word] > MOST[name] or len(word) < 2:
                continue
            against = others(word, RIVALS[name])
            readings = [
                " ".join(other if part == word else part for part in parts) for other in against
            ]
            for way in one.ways:
                right, *wrong = align_readings(way, [one.words, *readings])
                for other, path in zip(against, wrong, strict=True):
                    if right is not None and path is not None:
                        pair = found.setdefault((word, other), Pair(word, other))
                        pair.ahead.append(right.score - path.score)
    return [pair for pair in found.values() if len(pair.ahead) >= 4]


# --- ways to foretell them ----------------------------------------------------------------


@dataclass(frozen=True)
class Edits:
    """Likelihoods (ln) of hearing one string of phones for another.

    kept: (phones, phones + 1): of each phone said, that each is heard, last that none is.
    added: that each phone is heard before the next one said; none: that no more is.
    """

    kept: NDArray[np.float64]
    added: NDArray[np.float64]
    none: float

    def cost(self, said: Phones, heard: Phones) -> float:
        """How many nats the likeliest way to hear `heard` is behind hearing what was said."""
        row = [0.0]
        for phone in heard:
            row.append(row[-1] - self.added[PHONE_INDEX[phone] - 1] + self.none)
        for phone in said:
            likely = self.kept[PHONE_INDEX[phone] - 1]
            right = likely[PHONE_INDEX[phone] - 1]
            above, row = row, [row[0] + right - likely[COUNT]]
            for place, other in enumerate(heard):
                at = PHONE_INDEX[other] - 1
                row.append(
                    min(
                        above[place] + right - likely[at],
                        above[place + 1] + right - likely[COUNT],
                        row[place] - self.added[at] + self.none,
                    )
                )
        return row[-1]


def fitted(heard_for: Counter[tuple[Phones, Phones]], rounds: int = 4) -> Edits:
    """Likelihoods fitted to phones said and heard, in so many rounds of expectation maximization.

    With none heard what stays are the counts it begins with, by the scale of phone_distance: of
    each phone 30 times itself, 3 exp(-4 cost) times another, 3 exp(-2.4 cost) times none.
    """
    begin = np.array(
        [
            [30.0 if said == told else 3 * np.exp(-4 * phone_cost(said, told)) for told in TOLD]
            + [3 * np.exp(-2.4 * phone_cost(said))]
            for said in TOLD
        ]
    )
    begin_added = np.array([np.exp(-4 * phone_cost(phone)) for phone in TOLD])
    edits = _likelihoods(begin, begin_added, 200.0)
    for _ in range(rounds if heard_for else 0):
        kept, added, none = begin.copy(), begin_added.copy(), 200.0
        for (said, told), times in heard_for.items():
            a, b = ([PHONE_INDEX[phone] - 1 for phone in phones] for phones in (said, told))
            _expect(edits, a, b, times, kept, added)
            none += times * (len(a) + 1)
        edits = _likelihoods(kept, added, none)
    return edits


def _likelihoods(kept: NDArray[np.float64], added: NDArray[np.float64], none: float) -> Edits:
    total = added.sum() + none
    likely = np.log(kept / kept.sum(axis=1, keepdims=True))
    return Edits(likely, np.log(added / total), float(np.log(none / total)))


def _expect(
    edits: Edits,
    a: list[int],
    b: list[int],
    times: int,
    kept: NDArray[np.float64],
    added: NDArray[np.float64],
) -> None:
    """Add to `kept` and `added` how often each edit is expected in hearing `b` for `a`."""
    rows, columns = len(a), len(b)
    onto = edits.kept + edits.none
    before = np.full((rows + 1, columns + 1), -np.inf)
    after = before.copy()
    before[0, 0], after[rows, columns] = 0.0, edits.none
    for i in range(rows + 1):
        for j in range(columns + 1):
            if i:
                lost = before[i - 1, j] + onto[a[i - 1], COUNT]
                before[i, j] = np.logaddexp(before[i, j], lost)
            if j:
                more = before[i, j - 1] + edits.added[b[j - 1]]
                before[i, j] = np.logaddexp(before[i, j], more)
            if i and j:
                both = before[i - 1, j - 1] + onto[a[i - 1], b[j - 1]]
                before[i, j] = np.logaddexp(before[i, j], both)
    total = before[rows, columns] + edits.none
    for i in range(rows, -1, -1):
        for j in range(columns, -1, -1):
            ways: list[tuple[float, tuple[NDArray[np.float64], tuple[int, ...]]]] = []
            if i < rows:
                ways.append((onto[a[i], COUNT] + after[i + 1, j], (kept, (a[i], COUNT))))
            if j < columns:
                ways.append((edits.added[b[j]] + after[i, j + 1], (added, (b[j],))))
            if i < rows and j < columns:
                ways.append((onto[a[i], b[j]] + after[i + 1, j + 1], (kept, (a[i], b[j]))))
            for score, (counts, place) in ways:
                after[i, j] = np.logaddexp(after[i, j], score)
                counts[place] += times * np.exp(before[i, j] + score - total)


def phones_heard(posteriors: Posteriors) -> Phones:
    """The likeliest phone of each frame, those that last once."""
    best = posteriors.argmax(axis=1)
    best = best[np.append(True, best[1:] != best[:-1])]
    return tuple(TOLD[place - 1] for place in best[best > 0])


def foretold() -> dict[str, Way]:
    """The four ways, by name."""
    say = shipped_pronouncer()
    told: Counter[tuple[Phones, Phones]] = Counter()
    for name in ("phrases", "orders tune"):
        for one in heard(name):
            spoken = say.phrase(one.words)[0]
            told.update((spoken, phones_heard(way)) for way in one.ways)
    phones = sum(len(said) * times for (said, _), times in told.items())
    wrong = sum(Levenshtein.distance(*pair) * times for pair, times in told.items())
    print(f"measured on {phones} phones said, {wrong} edits in what was heard of them")

    def closest(cost: Callable[[Phones, Phones], float]) -> Way:
        return lambda a, b: min(cost(x, y) for x in say.phrase(a) for y in say.phrase(b))

    return {
        "likeness": lambda a, b: 1 - sound_similarity(a, b),
        "distance": closest(phone_distance),
        "direction": closest(fitted(Counter()).cost),
        "measured": closest(fitted(told).cost),
    }


# --- printed ------------------------------------------------------------------------------


def area(unlike: NDArray[np.float64], holds: NDArray[np.bool_]) -> float:
    """Area under the ROC curve of calling the least unlike first: 0.5 is chance."""
    inside, outside = unlike[holds], unlike[~holds]
    if not len(inside) or not len(outside):
        return float("nan")
    ahead = (inside[:, None] < outside).mean() + 0.5 * (inside[:, None] == outside).mean()
    return float(ahead)


def show(name: str, ways: dict[str, Way]) -> None:
    every = pairs(name)
    wrong, doubtful = (np.array([one.share(nats) for one in every]) for nats in (0.0, DOUBT))
    print(
        f"\n{name}: {len(every)} pairs of {len({one.said for one in every})} words, "
        f"{(wrong > 0).sum()} wrong, {(doubtful > 0).sum()} doubtful in some recording"
    )
    for way, unlike_of in ways.items():
        unlike = np.array([unlike_of(one.said, one.other) for one in every])
        order = np.argsort(unlike, kind="stable")
        parts = [order[: round(len(order) * share)] for share in (0.1, 0.2, 0.4)]
        shares = "  ".join(
            f"{what} " + " ".join(f"{each[part].sum() / each.sum():.2f}" for part in parts)
            for what, each in (("wrong", wrong), ("doubtful", doubtful))
        )
        print(f"  {way:10} area wrong {area(unlike, wrong > 0):.2f} "
              f"doubtful {area(unlike, doubtful > 0):.2f}  share of {shares}")  # fmt: skip
    called = np.array([mistaken(one.said, one.other) or "not" for one in every])
    twins = np.array([near(one.said, one.other) for one in every])
    groups = {how: called == how for how in ("same", "easily", "sometimes", "not")}
    groups["sometimes, near"] = (called == "sometimes") & twins
    groups["not, near"] = (called == "not") & twins
    for how, some in groups.items():
        if some.any():
            print(f"  called {how:16} {some.sum():5} pairs, {(wrong[some] > 0).sum():4} wrong; "
                  f"of recordings {wrong[some].mean():.3f} wrong, "
                  f"{doubtful[some].mean():.3f} doubtful")  # fmt: skip


def show_heard(run: str, ways: dict[str, Way]) -> None:
    grammar = Grammar.load(GRAMMARS / "words")
    words = [word for some in phrases_by_kind(grammar).values() for word in some]
    taken: Counter[tuple[str, str]] = Counter()
    said: set[str] = set()
    kept = sorted((data_dir() / "heard" / run / "both").glob("test-words-[0-9]*.json"))
    for path in kept:
        name = path.name.removeprefix("test-words-")
        truth: dict[str, Any] = json.loads((data_dir() / "test" / "words" / name).read_text())
        for utterance, _, verdict in Heard.load(path.read_text("utf-8")).events:
            matched = overlapping(utterance, truth["utterances"])
            if len(matched) == 1:
                spoken = matched[0]["words"]
                said.add(spoken)
                sure = verdict.status == "accepted"
                others = [verdict.words, *(() if sure else verdict.alternatives)]
                taken.update((spoken, other) for other in others if other in words)
    every = [(one, other) for one in sorted(said) for other in words if one != other]
    total = sum(taken[pair] for pair in every)
    print(f"\nboth listeners, {len(kept)} recordings: {total} times another word was taken or "
          f"offered; of {len(every)} pairs those called most alike hold")  # fmt: skip
    for way, unlike in ways.items():
        order = sorted(every, key=lambda pair: unlike(*pair))
        held = [sum(taken[pair] for pair in order[:count]) for count in (5, 10, 20, 40)]
        print(f"  {way:10} first 5: {held[0]}, 10: {held[1]}, 20: {held[2]}, 40: {held[3]}")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--set", nargs="*", default=["numbers", "words", "orders"])
    parser.add_argument("--heard", help="a run of tests.bench.recognition on the set words")
    asked = parser.parse_args()
    ways = foretold()
    for name in asked.set:
        show(name, ways)
    if asked.heard:
        show_heard(asked.heard, ways)


if __name__ == "__main__":
    main()
