"""Random histories through every paper: summary, progress, plan, kennel, owner.

    python -m tests.bench.histories 10000 [--seed 0] [--jobs 2]

Each history is made from a number; the command takes so many from `--seed` on and prints which of
them ended in an exception, in a dog that could not be worked out, or in two papers that contradict
each other (`tests/paper_claims.py`: open matters, plan, ceiling, readiness, what the owner reads).
It fails if any did.
"""

from __future__ import annotations

import argparse
import sys
import traceback
import warnings
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

from tests.histories import papers
from tests.paper_claims import contradictions


def tried(seed: int) -> tuple[int, int, str]:
    """The seed, how many papers were made of it, and what went wrong, "" for nothing."""
    made = 0
    warnings.simplefilter("error")  # as in the suite
    try:
        for name, words in papers(seed):
            made += 1
            if "Could not be worked out" in words:
                return seed, made, f"{name}: a dog could not be worked out"
        for claim in contradictions(seed):
            return seed, made, f"contradiction: {claim}"
    except Exception as error:  # whatever it is: that is what is looked for
        at = traceback.extract_tb(error.__traceback__)[-1]
        return seed, made, f"{type(error).__name__}: {error} ({at.name}, line {at.lineno})"
    return seed, made, ""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("many", type=int, nargs="?", default=10_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    given = parser.parse_args()
    seeds = range(given.seed, given.seed + given.many)
    made, wrong, first = 0, Counter[str](), dict[str, int]()
    with ProcessPoolExecutor(given.jobs) as pool:
        for seed, papers_made, why in pool.map(tried, seeds, chunksize=20):
            made += papers_made
            if why:
                wrong[why] += 1
                first.setdefault(why, seed)
    print(f"{given.many} histories from seed {given.seed}: {made} papers, {wrong.total()} failed")
    for why, times in wrong.most_common():
        print(f"  {times} x {why}, first with seed {first[why]}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
