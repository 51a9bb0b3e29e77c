"""Count word errors, so that rates are pooled over utterances and never averaged."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rapidfuzz.distance import Levenshtein

__all__ = ["WordErrors", "pooled", "word_errors"]


class WordErrors(NamedTuple):
    """Words right, changed, left out and put in."""

    right: int
    substituted: int
    deleted: int
    inserted: int

    @property
    def words(self) -> int:
        """Words of the reference."""
        return self.right + self.substituted + self.deleted

    @property
    def errors(self) -> int:
        return self.substituted + self.deleted + self.inserted

    @property
    def rate(self) -> float:
        """Errors a reference word; may exceed 1. ZeroDivisionError when nothing was said."""
        return self.errors / self.words


def word_errors(reference: str, hypothesis: str) -> WordErrors:
    """The fewest errors that turn `reference` into `hypothesis`, word by word as written.

    Nothing is normalised: letter case and punctuation count.
    """
    said, heard = reference.split(), hypothesis.split()
    count = dict.fromkeys(("equal", "replace", "delete", "insert"), 0)
    for step in Levenshtein.opcodes(said, heard):
        count[step.tag] += max(
            step.src_end - step.src_start,
            step.dest_end - step.dest_start,
        )
    return WordErrors(count["equal"], count["replace"], count["delete"], count["insert"])


def pooled(errors: Iterable[WordErrors]) -> WordErrors:
    """The counts of many utterances together."""
    counted = list(errors)
    return WordErrors(*(sum(column) for column in zip(*counted, strict=True))) if counted else NONE


NONE = WordErrors(0, 0, 0, 0)
