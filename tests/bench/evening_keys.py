"""The keys that an evening takes: sixty entries over three sessions, of which six are wrong.

    python -m tests.bench.evening_keys

A script plays the person in Debian's Chromium, by keys alone. Of the six, four have what was said
among the readings on offer, two are typed. Wanted: at most 70 keys.
"""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path

from tests.bench.served_page import served_page
from tests.web.evening import NOW, QUEUE, ROSTER, keep
from tests.web.evening_player import EveningPlayer
from voicelog.store import Log

WANTED = 70


def main() -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        with Log.open(folder, now=lambda: NOW) as log:
            for dog in ROSTER.dogs:
                log.put_dog(dog)
            for day, lines in enumerate(QUEUE, start=1):
                keep(log, lines, f"queue {day}", at=datetime(2026, 4, day, 7, 30))
        with served_page(folder) as page:
            player = EveningPlayer(page)
            player.open(f"{page.url}evening", 60)
            seen = player.play()
    kept = "kept" if player.presses <= WANTED else "MISSED"
    wrong = sum(words != "level three" for words in seen)
    print(f"{len(seen)} entries, {wrong} wrong: {player.presses} keys (at most {WANTED}: {kept})")


if __name__ == "__main__":
    main()
