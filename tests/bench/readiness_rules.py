"""The rule of readiness beside others: how often each is wrong, and how soon each is right.

    python -m tests.bench.evidence rules [--many 4000] [--seed 0]

Every rule looks at the same histories (`readiness_looks.py`: 20 sessions, a look after each) and
asks for the same last calls. They differ in their evidence:

- points: the rule that ships, `statistics/session_evidence`.
- days alone: the same, each session weighed without the one before it, as it was once.
- bet to 20, bet to 60: the share x of each session's calls is one observation between 0 and 1, and
  a stake that begins at 1 is multiplied by 1 + 1.5 (x - 0.6). Whatever the law of x, the stake
  of a dog whose mean share is 0.6 at most, given all before, grows on the average by nothing, so
  that it ever comes to 20 in at most 1 of 20 cases (Ville's inequality; I. Waudby-Smith and A.
  Ramdas, J. R. Stat. Soc. B 86 (2024) 1-27, from memory). In runs the mean given all before is not
  0.6, so that the promise of 20 is none there; 60 held there by simulation.

False: the worst of 4, 8 and 12 calls a session. The laws are those of `readiness_looks.histories`;
"perfect" days at a rate of 0.6 and a spread of 0.2 are 23 in 100, the others have a chance of 0.48.
Late: a dog that comes at 0.6 for ten sessions and at 0.9 from then on, ready within 20. It holds
where the rule that ships is false in at most 5% of histories (within three standard errors) in
every law but that of perfect days in runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from tests.bench.readiness_looks import SPREADS, Looks, allowed, first_look, histories
from voicelog.analysis.readiness import LOOKS
from voicelog.analysis.statistics.session_evidence import FULL, running_points, session_points

_Work = Sequence[Sequence[bool]]

POOR = 0.6
STAKED = 1.5
CALLS = ("4", "8", "12")
LAWS = ("beta", "runs", "two", "two runs", "perfect", "perfect runs")
BEYOND = "perfect runs"


def _points(work: _Work) -> list[bool]:
    counts = [(sum(calls), len(calls)) for calls in work]
    return [one.total >= FULL for one in running_points(counts)]


def _days_alone(work: _Work) -> list[bool]:
    total, enough = 0.0, []
    for calls in work:
        total = min(FULL, max(0.0, total + session_points(sum(calls), len(calls))))
        enough.append(total >= FULL)
    return enough


def _bet(work: _Work, until: float) -> list[bool]:
    stake, enough = 1.0, []
    for calls in work:
        stake *= 1 + STAKED * (sum(calls) / len(calls) - POOR)
        enough.append(stake >= until)
    return enough


RULES: Mapping[str, Callable[[_Work], list[bool]]] = {
    "points": _points,
    "days alone": _days_alone,
    "bet to 20": lambda work: _bet(work, 20),
    "bet to 60": lambda work: _bet(work, 60),
}


def _looks(runs: int, works: Sequence[_Work]) -> dict[str, Looks]:
    """What each rule says of the same histories."""
    found = {}
    for name, evidence in RULES.items():
        ready = [at for work in works if (at := first_look(work, evidence(work))) is not None]
        found[name] = Looks(runs, len(ready), tuple(ready))
    return found


def table(many: int, seed: int) -> tuple[tuple[str, ...], bool]:
    """The lines of `many` histories for each cell (a quarter of them for good dogs), and whether
    the promise holds."""
    head = f"{'':<34}{'rule':<12}" + "".join(f"{one:>12g}" for one in SPREADS)
    lines, holds = [head], True
    for rate in (0.5, POOR):
        for law in LAWS:
            worst = {name: [0.0] * len(SPREADS) for name in RULES}
            for place, spread in enumerate(SPREADS):
                for calls in CALLS:
                    works = list(histories(many, LOOKS, rate, spread, calls, seed, law))
                    for name, one in _looks(many, works).items():
                        worst[name][place] = max(worst[name][place], one.share)
            holds &= law == BEYOND or max(worst["points"]) <= allowed(many)
            for name, shares in worst.items():
                words = "".join(f"{share:>12.1%}" for share in shares)
                lines.append(f"{f'false at {rate:g}, {law}':<34}{name:<12}{words}")
    few = max(1, many // 4)
    for law in ("beta", "runs"):
        for rate in (0.85, 0.9, 0.95):
            for calls in CALLS:
                cells = [
                    _looks(few, list(histories(few, LOOKS, rate, spread, calls, seed, law)))
                    for spread in SPREADS
                ]
                what = f"ready at {rate:g}, {calls} calls, {law}"
                for name in RULES:
                    each = (f"{one[name].share:.0%} / {one[name].middle}" for one in cells)
                    words = "".join(f"{one:>12}" for one in each)
                    lines.append(f"{what:<34}{name:<12}{words}")
    for calls in CALLS:
        cells = []
        for spread in SPREADS:
            before = histories(few, LOOKS // 2, POOR, spread, calls, seed)
            after = histories(few, LOOKS // 2, 0.9, spread, calls, seed)
            works = [[*one, *other] for one, other in zip(before, after, strict=True)]
            cells.append(_looks(few, works))
        for name in RULES:
            words = "".join(f"{one[name].share:>12.0%}" for one in cells)
            lines.append(f"{f'late, {calls} calls':<34}{name:<12}{words}")
    return tuple(lines), holds
