"""Server time of the review page on a long log: the list, a session, a correction.

    python -m tests.bench.review_speed [FOLDER, default /tmp/voicelog-many] [--requests 200]

The log is that of `many_sessions`, made when it is not there. Requests go through the whole
application, guard and templates and all, without a network. A correction reads an entry anew,
which is parsed, committed, assembled and checked before the answer is rendered; the sessions
after it go stale and are brought up to date by a thread beside, as when served. Beside the time
on the clock stands the processor's own for all threads, which another program cannot lengthen.

Then one session of 2,000 invented entries: the server's time for it, what it weighs, and fifty
corrections all over it, each with its time on the processor and the bytes that the page is sent.
With Debian's Chromium there, the first paint of it is measured too.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import threading
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from starlette.testclient import TestClient

from tests.bench.many_sessions import make
from tests.bench.served_page import served_page
from tests.web.evening import NOW, ROSTER, keep
from voicelog.app.review.review_service import ReviewService
from voicelog.store import Log, SessionFilter
from voicelog.web.app import make_app
from voicelog.web.server import settle_memory

LONG = 2_000
"""Entries of the long session."""
PAINT_MS, CORRECTION_MS, CORRECTION_BYTES = 1000, 150, 30_000
BOUNDS_MS = {"list": 100, "list, searched": 100, "session": 100, "correction": 150}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?", default=Path("/tmp/voicelog-many"))
    parser.add_argument("--sessions", type=int, default=10_000)
    parser.add_argument("--requests", type=int, default=200)
    parser.add_argument("--long", action="store_true", help="the long session alone")
    given = parser.parse_args()
    _long_session()
    if given.long:
        return
    took_s = make(given.folder, given.sessions)
    print(f"{given.sessions} sessions of 50 entries (made in {took_s:.0f} s)")
    with Log.open(given.folder, now=lambda: datetime.now().astimezone()) as log:
        service = ReviewService(log, lambda: datetime.now().astimezone())
        start = time.perf_counter()
        behind = len(service.session_catalog.stale())
        print(f"{behind} recordings stale, known after {time.perf_counter() - start:.2f} s")
        service.warm_up()
        keeping = threading.Thread(target=service.refresh_loop, daemon=True)
        keeping.start()
        app = make_app(service, hosts=["testserver"], token="t", who="bench")
        with TestClient(app) as client:
            _measure(client, service, given.requests)
        service.close()
        keeping.join()
        app.state.clips.close()


def _long_lines() -> list[str]:
    lines = ["start session bracken", "drill recall", "collar fitted", "contact solid"]
    number = 0
    while len(lines) < LONG:
        number += 1
        level = ("two", "three", "four")[number % 3]
        lines += [
            "here",
            f"level {level}" if number % 9 else "?level nineteen | level nine",
            "ear flick",
            "came" if number % 7 else "?came | here",
        ]
        if number % 5 == 0:
            lines.append("x good girl come on")
        if number % 40 == 0:
            lines.append("yelped")
    return lines[:LONG]


def _long_session() -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Log.open(folder, now=lambda: NOW) as log:
            for dog in ROSTER.dogs:
                log.put_dog(dog)
            keep(log, _long_lines(), "long")
            service = ReviewService(log, lambda: NOW)
            service.session_catalog.refresh()
            service.warm_up()
            settle_memory()
            app = make_app(service, hosts=["testserver"], token="t", who="bench")
            with TestClient(app) as client:
                _correct_all_over(client, service)
            app.state.clips.close()
        if shutil.which("chromium"):
            _paint(folder)


def _correct_all_over(client: TestClient, service: ReviewService) -> None:
    (heading,) = service.log.headings(SessionFilter()).rows
    chance = random.Random(5)
    for _ in range(2):
        before = time.process_time()
        shown = client.get(f"/session/{heading.key}")
        took_ms = (time.process_time() - before) * 1000
    print(f"{LONG} entries: page of {len(shown.content) / 1000:.0f} kB, processor {took_ms:.0f} ms")
    stamp = client.get(f"/api/session/{heading.key}").json()["whole"]["stamp"]
    times, sizes = [], []
    for _ in range(50):
        row = chance.choice(service.view(heading.key).rows[8:])
        words = chance.choice(("level three", "level nine", "came", "ear flick", "here"))
        deed = {"do": "read", "entry": row.entry.id, "version": row.version, "words": words}
        before = time.process_time()
        reply = client.post(
            f"/api/session/{heading.key}?seen={stamp}",
            json=deed,
            headers={"x-voicelog-token": "t"},
        )
        times.append((time.process_time() - before) * 1000)
        sizes.append(len(reply.content))
        stamp = reply.json()["since"]["stamp"]
    for name, values, bound in (
        ("processor, ms", times, CORRECTION_MS),
        ("bytes", sizes, CORRECTION_BYTES),
    ):
        values.sort()
        p95 = values[47]
        kept = "kept" if p95 < bound else "MISSED"
        print(
            f"a correction, {name}: median {values[25]:.0f}, p95 {p95:.0f}, worst "
            f"{values[-1]:.0f} (p95 under {bound}: {kept})"
        )


def _paint(folder: Path) -> None:
    with served_page(folder) as page:
        for turn in ("first", "again"):
            page.locator("a[href^='/session/']").first.click()
            page.wait_for_selector(".row.now")
            paint = page.evaluate("performance.getEntriesByType('paint')[0].startTime")
            count = page.locator(".row").count()
            kept = "kept" if paint < PAINT_MS else "MISSED"
            print(
                f"{turn}: first paint after {paint:.0f} ms, {count} of {LONG} rows drawn "
                f"(under {PAINT_MS} ms: {kept})"
            )
            page.go_back()


def _measure(client: TestClient, service: ReviewService, requests: int) -> None:
    chance = random.Random(7)
    rows = service.log.headings(SessionFilter(check=True)).rows
    leaves = max(1, len(rows) // 50)
    words = ("yelped", "woods", "recall field", "drill place high", "anna")

    def timed(ask: Callable[[], None]) -> tuple[float, float]:
        clock, processor = time.perf_counter(), time.process_time()
        ask()
        return (time.perf_counter() - clock) * 1000, (time.process_time() - processor) * 1000

    def correct() -> tuple[float, float]:
        key = chance.choice(rows).key
        view = service.view(key)
        row = chance.choice(view.rows[8:])
        deed = {"do": "read", "entry": row.entry.id, "version": row.version}
        words = chance.choice(("level three", "tap two came", "here", "yelped", "praised"))

        def ask() -> None:
            reply = client.post(
                f"/api/session/{key}",
                json=deed | {"words": words},
                headers={"x-voicelog-token": "t"},
            )
            assert reply.json()["ok"], reply.text

        return timed(ask)

    def get(address: Callable[[], str]) -> Callable[[], tuple[float, float]]:
        def once() -> tuple[float, float]:
            where = address()

            def ask() -> None:
                assert client.get(where).status_code == 200

            return timed(ask)

        return once

    for name, once in (
        ("list", get(lambda: f"/?leaf={chance.randint(1, leaves)}")),
        ("list, searched", get(lambda: f"/?text={chance.choice(words)}&check=1")),
        ("session", get(lambda: f"/session/{chance.choice(rows).key}")),
        ("correction", correct),
    ):
        for _ in range(5):
            once()
        both = [once() for _ in range(requests)]
        times, own = (sorted(column) for column in zip(*both, strict=True))
        p95 = times[int(0.95 * len(times))]
        kept = "kept" if p95 < BOUNDS_MS[name] else "MISSED"
        print(
            f"{name}: median {times[len(times) // 2]:.0f} ms, p95 {p95:.0f} ms, worst "
            f"{times[-1]:.0f} ms of {requests} (p95 under {BOUNDS_MS[name]} ms: {kept}); "
            f"processor p95 {own[int(0.95 * len(own))]:.0f} ms",
            flush=True,
        )
    print(f"{service.behind} later sessions still to be brought up to date")


if __name__ == "__main__":
    main()
