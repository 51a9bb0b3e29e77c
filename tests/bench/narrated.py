"""How far two readers of a hundred narrations agree, and the program with each of them.

    python -m tests.bench.narrated

The readers were language models that saw the words and a guide alone (`tests/session/narrated`), no
people: kappa (see `tests.bench.coding`) measures how consistently the words can be read. Reps are
matched by their place in the narration; one that the other has not counts as "no rep" there.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from itertools import zip_longest

from tests.bench.coding import cohens_kappa
from tests.session.narrated.read import DIFFERENCES, FIELDS, CodedRep, coding, narrations

NO_REP = "no rep"


def field_of(rep: CodedRep | None, name: str) -> Hashable:
    """What stands in one field of a rep, or that there is none."""
    value: Hashable = NO_REP if rep is None else getattr(rep, name)
    return value


def main() -> int:
    made = {narration.name: narration.reps() for narration in narrations()}
    first, second = coding("reader_a"), coding("reader_b")
    show: Callable[..., None] = print
    for who, one, other in (
        ("reader A and reader B", first, second),
        ("the program and reader A", made, first),
        ("the program and reader B", made, second),
    ):
        pairs = [pair for name in made for pair in zip_longest(one[name], other[name])]
        show(f"{who}, {len(pairs)} reps of {len(made)} narrations")
        for field in FIELDS:
            found = cohens_kappa([(field_of(a, field), field_of(b, field)) for a, b in pairs])
            kappa = "-" if found.kappa is None else f"{found.kappa:.2f}"
            show(f"  {field:8} {found.observed:6.1%} alike, kappa {kappa}")
    show("the program otherwise than both readers:")
    for name, why in DIFFERENCES.items():
        show(f"  {name}: {why}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
