"""A phone's recording through ten interruptions: is all of it on the laptop, to the sample?

    python -m tests.bench.phone_page [SECONDS]

Chromium, with a file as its microphone and the authority installed in a fresh profile, records for
SECONDS (1800) while the server is killed, the page frozen and reloaded, the network lost and the
phone's room for sound taken away, each twice. What its worklet gave is compared with the sound in
the log, and the entries with those that `add` makes of that sound. A profile without the authority
has to refuse the page. Needs Debian's chromium and libnss3-tools.
"""

from __future__ import annotations

import json
import subprocess
import sys
import wave
from collections.abc import Callable
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import numpy as np

from tests.web.phone.phone_browser import PhonePage, open_phone, record, stop
from tests.web.waiting import until
from voicelog.audio.files import AudioReader
from voicelog.audio.recorder import as_pcm
from voicelog.grammar.data_folders import data_folder

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, CDPSession, Page

FULL = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (...given) {
  if (window.full && this.name === "blocks") throw new DOMException("full", "QuotaExceededError");
  return put.apply(this, given);
};
"""
"""The phone's store refuses as it does when it is full. (Chromium's own override of an origin's
quota did not make it refuse.)"""
HEARD = ("--listener", "quick", "--dog", "Wren")
LOST_AT_RELOAD = 16_000
"""Samples that a page may take with it: the block in the making, and one not yet in the store."""


def voicelog(*args: object) -> None:
    code = "from voicelog.cli import main; main()"
    subprocess.run(
        [sys.executable, "-c", code, *map(str, args)], check=True, stdout=subprocess.DEVNULL
    )


def speech(path: Path, seconds: float) -> Path:
    """The demo's sound, again and again, as the microphone hears it."""
    with AudioReader(data_folder("demo_audio") / "day2-wren" / "day2-wren.opus") as reader:
        pcm = as_pcm(np.concatenate(list(reader)))
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
        file.writeframes(np.resize(pcm, round(seconds * 16_000)).tobytes())
    return path


class Interruptions:
    """What can go wrong, each as a deed of its own."""

    def __init__(self, served: PhonePage, context: BrowserContext, page: Page) -> None:
        self.served, self.context, self.page = served, context, page
        self.cdp: CDPSession = context.new_cdp_session(page)

    def offline(self) -> None:
        self.context.set_offline(True)
        self.page.wait_for_timeout(6_000)
        self.context.set_offline(False)

    def killed(self) -> None:
        self.served.kill()
        self.page.wait_for_timeout(4_000)
        self.served.start()

    def frozen(self) -> None:
        self.cdp.send("Page.setWebLifecycleState", {"state": "frozen"})
        self.page.wait_for_timeout(6_000)
        self.cdp.send("Page.setWebLifecycleState", {"state": "active"})

    def full(self) -> None:
        self.page.evaluate("window.full = true")
        self.page.wait_for_timeout(3_000)
        self.context.set_offline(True)
        self.page.wait_for_timeout(6_000)
        print("   ", self.page.inner_text("#said"))
        self.context.set_offline(False)
        self.page.wait_for_timeout(3_000)
        self.page.evaluate("window.full = false")

    def reload(self) -> None:
        self.page.reload()
        self.page.wait_for_selector("body[data-phase=ready]")
        record(self.page)


def recorded(log: Path) -> dict[str, Any]:
    sounds = {}
    for path in (log / "sound").rglob("*.wav"):
        with wave.open(str(path)) as file:
            sounds[str(path)] = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    return sounds


def entries(log: Path, out: Path) -> list[Any]:
    """What the log has of each recording, whatever its file is called, by its content."""
    voicelog("export", out, "--data-dir", log)
    found = json.loads((out / "voicelog.json").read_text())["recordings"]
    for one in found:
        del one["audio"]
    return sorted(found, key=lambda one: str(one["sha256"]))


def main(seconds: float) -> None:
    with TemporaryDirectory() as folder:
        place = Path(folder)
        log, other = place / "log", place / "other"
        for where in (log, other):
            voicelog("dogs", "put", "Wren", "--top", "20", "--data-dir", where)
        served = PhonePage(log, *HEARD)
        sound = speech(place / "mic.wav", seconds + 600)
        (place / "stranger").mkdir()
        with open_phone(place / "stranger", served, sound, trusted=False) as (_, page, _produced):
            try:
                page.goto(served.address)
                print("without the authority: LET IN")
            except Exception as error:
                print("without the authority:", str(error).splitlines()[0])
        with open_phone(place, served, sound) as (context, page, produced):
            context.add_init_script(FULL)
            page.goto(f"{served.address}/#c={served.code}")
            page.wait_for_selector("body[data-phase=ready]")
            until(page, "navigator.serviceWorker.controller !== null")
            record(page)
            upset = Interruptions(served, context, page)
            deeds: list[Callable[[], None]] = [
                upset.offline, upset.killed, upset.frozen, upset.full, upset.reload,
                upset.killed, upset.offline, upset.full, upset.frozen, upset.reload,
            ]  # fmt: skip
            for number, deed in zip(count(1), deeds, strict=False):
                page.wait_for_timeout(seconds / 11 * 1000)
                print(f"{number}. {deed.__name__}", flush=True)
                deed()
            page.wait_for_timeout(seconds / 11 * 1000)
            stop(page)
            until(page, "document.body.dataset.kept === '0'", 120)
            until(page, "document.body.dataset.sending === 'all-sent'", 60)
            given = [one for one in produced.sound if len(one)]
            while list((log / "phone").glob("*.wav")):
                page.wait_for_timeout(500)
        served.end()
        there = recorded(log)
        print(f"worklets {len(given)}, recordings {len(there)}")
        for one in given:
            whole = [path for path, pcm in there.items() if np.array_equal(pcm, one)]
            cut = [
                path
                for path, pcm in there.items()
                if len(pcm) < len(one) and np.array_equal(pcm, one[: len(pcm)])
            ]
            if whole:
                print(f"  {len(one) / 16_000:7.1f} s: equal to the sample")
            elif cut:
                missing = len(one) - len(there[cut[0]])
                verdict = "by a reload" if missing <= LOST_AT_RELOAD else "LOST"
                print(f"  {len(one) / 16_000:7.1f} s: equal but for its last {missing} ({verdict})")
            else:
                print(f"  {len(one) / 16_000:7.1f} s: LOST")
        for path in there:
            voicelog("add", path, *HEARD, "--anyway", "--data-dir", other)
        mine, added = (entries(one, place / f"out-{one.name}") for one in (log, other))
        total = sum(len(one["entries"]) for one in mine)
        print(f"entries {total}, {'as' if mine == added else 'NOT as'} those of `add`")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 1800.0)
