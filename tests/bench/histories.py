"""Random histories through every paper: summary, progress, plan, kennel, owner.

    python -m tests.bench.histories 10000 [--seed 0] [--processes 2]

Each history is made from a number, its seed; the command takes so many from `--seed` on, so that
pieces of any length may run apart and add up. Which of them ended in an exception, in a dog that
could not be worked out, or in two papers that contradict each other (`tests/paper_claims.py`: open
matters, plan, ceiling, readiness, what the owner reads) is printed with its seed as soon as it is
known, and again, by what went wrong, at the end. It fails if any did. A piece with its seed alone
(`1 --seed N`) is that history again, with a traceback.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import time
import traceback
import warnings
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor

from tests.histories import papers
from tests.paper_claims import contradictions

AT_ONCE = 10
TOLD_S = 10.0
"""Between two lines on how far it is."""


def tried(seed: int) -> tuple[int, int, str, str]:
    """The seed, how many papers were made of it, what went wrong ("" for nothing) and where."""
    made = 0
    warnings.simplefilter("error")  # as in the suite
    try:
        for name, words in papers(seed):
            made += 1
            if "Could not be worked out" in words:
                return seed, made, f"{name}: a dog could not be worked out", ""
        for claim in contradictions(seed):
            return seed, made, f"contradiction: {claim}", ""
    except Exception as error:  # whatever it is: that is what is looked for
        at = traceback.extract_tb(error.__traceback__)[-1]
        why = f"{type(error).__name__}: {error} ({at.name}, line {at.lineno})"
        return seed, made, why, traceback.format_exc()
    return seed, made, "", ""


def _cpu_s() -> float:
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(used.ru_utime + used.ru_stime for used in both)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("many", type=int, nargs="?", default=10_000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=len(os.sched_getaffinity(0)))
    given = parser.parse_args()
    seeds = range(given.seed, given.seed + given.many)
    made, failed = 0, defaultdict[str, list[int]](list)
    start = told = time.monotonic()
    with ProcessPoolExecutor(given.processes) as pool:
        for done, found in enumerate(pool.map(tried, seeds, chunksize=AT_ONCE), start=1):
            seed, papers_made, why, trace = found
            made += papers_made
            if why:
                failed[why].append(seed)
                print(f"seed {seed}: {why}", flush=True)
                if given.many == 1:
                    print(trace, end="")
            if (now := time.monotonic()) - told > TOLD_S:
                told = now
                print(
                    f"{done} of {given.many} histories, {made} papers, "
                    f"{sum(map(len, failed.values()))} failed, {now - start:.0f} s",
                    flush=True,
                )
    took_s, cpu_s = time.monotonic() - start, _cpu_s()
    print(
        f"{given.many} histories, seeds {seeds.start} to {seeds.stop - 1}: {made} papers, "
        f"{sum(map(len, failed.values()))} failed; {took_s:.0f} s in {given.processes} processes, "
        f"{cpu_s / max(1, given.many):.3f} s CPU each"
    )
    for why, where in sorted(failed.items(), key=lambda pair: -len(pair[1])):
        print(f"  {len(where)} x {why}: seeds {', '.join(map(str, where))}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
