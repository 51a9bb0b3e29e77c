"""The keys that an evening takes: sixty entries over three sessions, of which six are wrong.

    python -m tests.bench.evening_keys

A script plays the person in Debian's Chromium, by keys alone. Of the six, four have what was said
among the readings on offer, two are typed. Wanted: at most 70 keys.
"""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import tempfile
from datetime import datetime
from pathlib import Path

from playwright.sync_api import sync_playwright

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
        code = "from voicelog.cli import main; main()"
        command = [sys.executable, "-c", code, "review", "--port", "0", "--no-browser"]
        with subprocess.Popen(
            [*command, "--data-dir", str(folder)], stdout=subprocess.PIPE, text=True
        ) as served:
            assert served.stdout is not None
            said = ""
            while not (found := re.search(r"http://127\.0\.0\.1:\d+/open/\S+", said)):
                said += served.stdout.readline()
            with sync_playwright() as run:
                browser = run.chromium.launch(
                    executable_path=shutil.which("chromium"), args=["--no-sandbox"]
                )
                page = browser.new_page()
                page.goto(found.group())
                player = EveningPlayer(page)
                player.open(f"{page.url}evening", 60)
                seen = player.play()
                browser.close()
            served.send_signal(signal.SIGINT)
    kept = "kept" if player.presses <= WANTED else "MISSED"
    wrong = sum(words != "level three" for words in seen)
    print(f"{len(seen)} entries, {wrong} wrong: {player.presses} keys (at most {WANTED}: {kept})")


if __name__ == "__main__":
    main()
