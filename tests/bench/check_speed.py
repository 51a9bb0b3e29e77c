"""How many sessions a second the safety rules read on one core.

    python -m tests.bench.check_speed [seconds, default 3]

The sessions are a month of invented ones with some 60 marks each, checked against the history
of those before, and the same with a third of their entries in doubt. Prints counts and rates.
"""

from __future__ import annotations

import random
import sys
import time
from datetime import datetime

from tests.safety.month import month
from voicelog.model import Session
from voicelog.safety import Settings, check, findings, history_of


def main(seconds: float) -> None:
    settings = Settings()
    past: list[tuple[datetime, Session]] = []
    cases, doubted = [], []
    chance = random.Random(1)
    for at, field in month():
        session = field.session()
        history = history_of(past, at)
        cases.append((session, history))
        past.append((at, session))
        field.doubtful = {n for n in range(1, len(field.said) + 1) if chance.random() < 1 / 3}
        doubted.append((field.session_variants(), history))
    marks = sum(len(session.marks) for session, _ in cases) / len(cases)
    print(f"{len(cases)} sessions, {marks:.0f} marks each")

    def certain() -> None:
        for session, history in cases:
            check(session, history, settings)

    def doubtful() -> None:
        for seen, history in doubted:
            findings(seen.sure, seen.with_doubtful, seen.uncorrected, history, settings)

    for name, work in (("without doubt", certain), ("a third in doubt", doubtful)):
        rounds, start = 0, time.perf_counter()
        while (took_s := time.perf_counter() - start) < seconds:
            work()
            rounds += 1
        print(f"{name}: {rounds * len(cases) / took_s:.0f} sessions/s ({rounds * len(cases)})")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 3.0)
