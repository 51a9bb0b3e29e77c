"""Say how any word sounds, so that every word may be spoken and sound-alikes are found.

The listeners and the check of names need phones for words that no dictionary has: dogs,
handlers, invented cue words. The dictionary that the PocketSphinx package ships comes
first; then an inflection or a compound of words it has; then the letters themselves.
`Pronouncer.origin` says which, and nothing is guessed for digits or other scripts: those
are refused. The engine itself is never loaded here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

from voicelog.grammar.letter_to_sound import PHONES, Phones, ended, letter_to_sound, possible_stems
from voicelog.model import VoicelogError

__all__ = [
    "PHONES",
    "NoDictionaryError",
    "NoPronunciationError",
    "Origin",
    "Phones",
    "Pronouncer",
    "edit_distance",
    "phone_cost",
    "phone_distance",
    "shipped_dictionary",
    "sound_similarity",
]

Origin = Literal["dictionary", "inflection", "compound", "letters"]
_Source = Callable[[str], tuple[Phones, ...]]

_PART = 3  # letters, at least, in each half of a compound
_LETTERS = str.maketrans(
    {"’": "'", "‘": "'", "‐": "-", "‑": "-", "–": "-", "ø": "o", "æ": "ae", "œ": "oe"}
    | {"ł": "l", "đ": "d", "ð": "th", "þ": "th", "ı": "i"}
)


class NoPronunciationError(VoicelogError):
    """A word cannot be pronounced, since it is empty or not spelled in letters.

    `word` is the word as given.
    """

    def __init__(self, word: str) -> None:
        super().__init__(
            f"The word {word!r} cannot be pronounced; letters a to z were wanted, with "
            "hyphens or apostrophes between them: spell it as it is said, numbers as words."
        )
        self.word = word


class NoDictionaryError(VoicelogError):
    """The pronouncing dictionary is not there. `path` is where it was looked for, or None."""

    def __init__(self, path: Path | None) -> None:
        where = f"at {path}" if path else "beside the pocketsphinx package"
        super().__init__(
            f"No pronouncing dictionary was found {where}; the file cmudict-en-us.dict of "
            "the pocketsphinx package was wanted: install pocketsphinx again."
        )
        self.path = path


def shipped_dictionary() -> Path:
    """Find the dictionary in the installed pocketsphinx package, without importing it.

    Raises NoDictionaryError when the package or the file is missing.
    """
    spec = find_spec("pocketsphinx")
    for folder in (spec and spec.submodule_search_locations) or ():
        path = Path(folder) / "model" / "en-us" / "cmudict-en-us.dict"
        if path.is_file():
            return path
    raise NoDictionaryError(None)


@lru_cache(maxsize=2)
def _read(path: Path) -> str:
    """The dictionary's text (3 MB for the shipped one), between newlines."""
    try:
        return f"\n{path.read_text('utf-8')}\n"
    except OSError as error:
        raise NoDictionaryError(path) from error


def _fold(word: str) -> str:
    """Small letters without accents; hyphens and apostrophes only between them."""
    plain = unicodedata.normalize("NFKD", word.casefold().translate(_LETTERS))
    folded = "".join(c for c in plain if not unicodedata.combining(c)).strip(" -'")
    if not re.fullmatch(r"[a-z]+(?:[-'][a-z]+)*", folded):
        raise NoPronunciationError(word)
    return folded


class Pronouncer:
    """How words sound, in the phones of the US English model (no stress marks)."""

    def __init__(self, dictionary: Path | None = None) -> None:
        """Use `dictionary` (PocketSphinx format, small letters, in order), or the shipped one.

        The file is read at the first word; NoDictionaryError then says if it is missing.
        """
        self._path = dictionary
        self._known: dict[str, tuple[Origin, tuple[Phones, ...]]] = {}

    def variants(self, word: str) -> tuple[Phones, ...]:
        """Every pronunciation listed for `word`, or those derived; the usual one first.

        Case and accents do not matter. Raises NoPronunciationError unless `word` is made of
        letters that fold to a-z, with hyphens or apostrophes between them.
        """
        return self._say(word)[1]

    def origin(self, word: str) -> Origin:
        """Where the pronunciation of `word` comes from; raises as `variants` does."""
        return self._say(word)[0]

    def listed_variants(self, word: str) -> tuple[Phones, ...]:
        """Every pronunciation that the dictionary lists for `word`, none where it does not have it;
        raises as `variants` does."""
        return self._listed(_fold(word))

    def phrase(self, words: str, limit: int = 4) -> tuple[Phones, ...]:
        """At most `limit` pronunciations of words separated by spaces, the usual one first."""
        parts = words.split()
        if not parts:
            raise NoPronunciationError(words)
        return _joined([self.variants(part) for part in parts], limit)

    def listed(self) -> Iterator[tuple[str, Phones]]:
        """Every word of the dictionary in its usual pronunciation, in order."""
        for line in self._text.splitlines():
            word, *said = line.split() or [""]
            if said and "(" not in word and PHONES.issuperset(said):
                yield word, tuple(said)

    def _say(self, word: str) -> tuple[Origin, tuple[Phones, ...]]:
        folded = _fold(word)
        if folded not in self._known:
            self._known[folded] = self._find(folded)
        return self._known[folded]

    def _find(self, word: str) -> tuple[Origin, tuple[Phones, ...]]:
        if listed := self._listed(word):
            return "dictionary", listed
        if inflected := self._inflected(word, self._listed):
            return "inflection", inflected
        if "-" in word:
            parts = [self._say(part) for part in word.split("-")]
            unsure: Origin = "letters" if any(o == "letters" for o, _ in parts) else "compound"
            return unsure, _joined([said for _, said in parts], 4)
        if compound := self._compound(word):
            return "compound", compound
        if inflected := self._inflected(word, self._compound):
            return "inflection", inflected
        if word.endswith("'s"):
            return "letters", tuple(ended(said, "s") for said in self.variants(word[:-2]))
        return "letters", (letter_to_sound(word.replace("'", ""), self._text),)

    @property
    def _text(self) -> str:
        return _read(self._path or shipped_dictionary())

    def _listed(self, word: str) -> tuple[Phones, ...]:
        """What the dictionary has for `word`: its entry, then "word(2)" and so on below it."""
        text, found = self._text, []
        at = _line_of(text, word)
        while at >= 0:
            end = text.find("\n", at + 1)
            found.append(tuple(text[at : end if end >= 0 else None].split()[1:]))
            at = end if text.startswith(f"\n{word}(", end) else -1
        return tuple(dict.fromkeys(said for said in found if said and PHONES.issuperset(said)))

    def _inflected(self, word: str, source: _Source) -> tuple[Phones, ...]:
        for stem, ending in possible_stems(word):
            if len(stem) > 1 and (said := source(stem)):
                return tuple(ended(one, ending) for one in said)
        return ()

    def _compound(self, word: str) -> tuple[Phones, ...]:
        """Two listed words written as one, cut as evenly as can be ("sheepdog").

        Chance cuts abound in names ("sulli-van"), so the reading by letters, right more
        often on words taken out of the dictionary, stays first and this one joins it.
        """
        cuts = range(_PART, len(word) - _PART + 1) if word.isalpha() else ()
        for cut in sorted(cuts, key=lambda at: abs(2 * at - len(word))):
            if (head := self._listed(word[:cut])) and (tail := self._listed(word[cut:])):
                lettered = letter_to_sound(word, self._text)
                return tuple(dict.fromkeys((lettered, *_joined([head, tail], 2))))
        return ()


def _joined(parts: Sequence[tuple[Phones, ...]], limit: int) -> tuple[Phones, ...]:
    """The `limit` likeliest joins of one variant of each part, first variants first."""
    joins: list[tuple[int, Phones]] = [(0, ())]
    for variants in parts:
        longer = [
            (rank + i, (*said, *one)) for rank, said in joins for i, one in enumerate(variants)
        ]
        joins = sorted(longer, key=lambda join: join[0])[:limit]
    return tuple(dict.fromkeys(said for _, said in joins))


_ALIKE = (
    (0.3, "P-B T-D K-G F-V TH-DH S-Z SH-ZH CH-JH IH-IY UH-UW AA-AO AH-UH AH-ER AH-IH"),
    (0.5, "M-N N-NG M-NG AH-EH AH-AA AH-AE IH-EH EH-AE EH-EY AE-AA AO-OW AO-AH UH-OW UH-IH"),
    (0.5, "F-TH V-DH S-SH Z-ZH CH-SH JH-ZH EY-IY EY-AY AY-AA AW-AA AW-AE AW-OW OY-AO ER-UH"),
    (0.7, "P-T T-K P-K B-D D-G B-G F-S TH-S V-Z DH-Z DH-D TH-T V-B L-R L-W R-W W-V IY-Y UW-W"),
)
# Cost of hearing one phone for the other. Our own scale, in the order of phonetic features
# (voicing, then place, then manner); no published confusion counts stand behind it.

_CHANGE = {
    pair: cost
    for cost, pairs in _ALIKE
    for a, b in (pair.split("-") for pair in pairs.split())
    for pair in ((a, b), (b, a))
}
_FAINT = dict.fromkeys(["AH", "IH", "HH", "T", "D"], 0.7)  # cost of losing or adding one


def _edit(
    a: Phones, b: Phones, change: Callable[[str, str], float], drop: Callable[[str], float]
) -> float:
    """The cheapest way from `a` to `b` by replacing, dropping and adding phones."""
    row = [0.0]
    for there in b:
        row.append(row[-1] + drop(there))
    for here in a:
        above, row = row, [row[0] + drop(here)]
        for i, there in enumerate(b):
            replaced = above[i] + (0.0 if here == there else change(here, there))
            row.append(min(replaced, above[i + 1] + drop(here), row[i] + drop(there)))
    return row[-1]


def edit_distance(a: Phones, b: Phones) -> int:
    """Levenshtein distance: how many phones must be replaced, dropped or added."""
    return round(_edit(a, b, lambda _a, _b: 1.0, lambda _: 1.0))


def phone_distance(a: Phones, b: Phones) -> float:
    """How differently `a` and `b` sound: like `edit_distance`, but phones that sound alike, or are
    easily lost, cost less than 1 (down to 0.3). Symmetric; 0 only for the same phones.
    """
    return _edit(a, b, phone_cost, phone_cost)


def phone_cost(phone: str, other: str | None = None) -> float:
    """What hearing `other` for a phone costs in `phone_distance`, or losing it where None."""
    return _FAINT.get(phone, 1.0) if other is None else _CHANGE.get((phone, other), 1.0)


def _line_of(text: str, word: str) -> int:
    """Where the newline before a word's first entry stands in a dictionary in order, or -1."""
    low, high = 0, len(text) - 1
    while low < high:
        start = text.rfind("\n", 0, (low + high) // 2 + 1)
        end = text.find("\n", start + 1)
        if _head(text, start, end) < word:
            low = end
        else:
            high = start
    return low if text.startswith(f"\n{word} ", low) else -1


def _head(text: str, start: int, end: int) -> str:
    """The word of a line, without the number of a further pronunciation."""
    return text[start + 1 : end].partition(" ")[0].partition("(")[0]


@lru_cache(maxsize=1)
def shipped_pronouncer() -> Pronouncer:
    """The one for the shipped dictionary; it remembers what it has looked up."""
    return Pronouncer()


def sound_similarity(a: str, b: str, pronouncer: Pronouncer | None = None) -> float:
    """Likeness of two words or phrases from 0 (nothing in common) to 1 (the same sound).

    1 - distance / phones of the longer one, for the closest pair of pronunciations.
    Raises NoPronunciationError as `Pronouncer.variants` does.
    """
    say = pronouncer or shipped_pronouncer()
    return max(
        1.0 - phone_distance(x, y) / max(len(x), len(y))
        for x in say.phrase(a)
        for y in say.phrase(b)
    )
