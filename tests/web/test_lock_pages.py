"""A locked log on the page: its passphrase is asked for there, and its lock changed there."""

from __future__ import annotations

import os
import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from tests.web.evening import LEVELS, NOW, keep
from voicelog.app.listening import ListeningRequest, LiveProcess
from voicelog.app.lock import lock_whole_log, needs_passphrase
from voicelog.audio import locked_files
from voicelog.store import Log, log_lock
from voicelog.web import security, server

WORDS = "four plain words here"
HTML = {"accept": "text/html"}


@pytest.fixture
def locked(log: Log, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The folder of a locked log, as a program that has just begun finds it."""
    monkeypatch.setattr(locked_files, "SCRYPT_N", 1 << 4)
    monkeypatch.setattr(log_lock, "_from_keyring", lambda file: None)
    monkeypatch.delenv(log_lock.PASSPHRASE, raising=False)
    keep(log, LEVELS, "levels", at=NOW)
    log.close()
    lock_whole_log(log.folder, WORDS, lambda done, total: None)
    locked_files._keys.clear()
    yield log.folder
    locked_files._keys.clear()
    log_lock._said.clear()


class Page:
    """The page as `voicelog review` serves it, in a thread, and the browser that was let in."""

    def __init__(self, folder: Path) -> None:
        self.said: list[str] = []
        self.folder, self._there = folder, threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()
        assert self._there.wait(60)
        self.browser = httpx.Client(
            base_url=self.said[0].partition("/open/")[0],
            timeout=60,
            transport=httpx.HTTPTransport(retries=5),  # one server goes before the next is there
        )

    def _serve(self) -> None:
        def opened(at: server.PageAddress) -> None:
            self.said.append(at.address)
            self._there.set()

        server.serve(
            self.folder,
            port=0,
            named=True,
            who="Anna",
            budget=4,
            opened=opened,
            another=self.said.append,
            now=lambda: NOW,
        )

    def get(self, path: str) -> httpx.Response:
        """A page, once the lock is no longer being changed."""
        while True:
            found = self.browser.get(path, headers=HTML, follow_redirects=True)
            if "The lock is being changed" not in found.text:
                return found
            while self.browser.get("/api/door").json().get("words"):
                time.sleep(0.05)

    def job(self, path: str, **fields: str) -> httpx.Response:
        found = re.search(r'voicelog-token" content="([^"]+)', self.get("/lock").text)
        assert found
        return self.browser.post(path, json=fields, headers={"x-voicelog-token": found[1]})

    def closed(self) -> bool:
        self._thread.join(timeout=60)
        self.browser.close()
        return not self._thread.is_alive()


def test_the_page_asks_for_the_passphrase(locked: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert needs_passphrase(locked)
    page = Page(locked)
    assert page.browser.get("/unlock", headers=HTML).status_code == 403  # it was not let in
    assert page.browser.post("/unlock", data={"passphrase": WORDS}).status_code == 403
    assert needs_passphrase(locked)

    first = page.browser.get(page.said[0], headers=HTML, follow_redirects=True)
    assert "This log is locked" in first.text
    assert first.url.path == "/unlock"
    assert page.browser.get("/api/evening").json()["error"]["code"] == "locked"
    for _ in range(security.TRIES):
        wrong = page.browser.post("/unlock", data={"passphrase": "four other words"}, headers=HTML)
        assert "does not open with that passphrase" in wrong.text
        assert "four other words" not in wrong.text
    slowed = page.browser.post("/unlock", data={"passphrase": WORDS}, headers=HTML)
    assert slowed.status_code == 403
    assert "Too many wrong passphrases" in slowed.text
    elsewhere = page.browser.post(
        "/unlock", data={"passphrase": WORDS}, headers={"origin": "http://elsewhere.example"}
    )
    assert elsewhere.status_code == 403
    closed = page.browser.post("/close", headers=HTML)
    assert "stays locked" in closed.text
    assert page.closed()
    assert needs_passphrase(locked)
    told = "".join(capfd.readouterr())
    assert WORDS not in told
    assert "four other words" not in told


def test_the_lock_is_changed_at_the_page(locked: Path) -> None:
    page = Page(locked)
    page.browser.get(page.said[0])
    opened = page.browser.post(
        "/unlock", data={"passphrase": WORDS}, headers=HTML, follow_redirects=True
    )
    assert opened.url.path == "/"
    assert "<h1>Sessions" in opened.text
    assert "its passphrase opens it" in page.get("/lock").text
    assert page.get("/unlock").url.path == "/"

    new = "another four words"
    wrong = page.job("/api/lock/passphrase", old="something else", passphrase=new, again=new)
    assert "does not open with that passphrase" in wrong.json()["error"]["message"]
    other = page.job("/api/lock/passphrase", old=WORDS, passphrase=new, again="no")
    assert "two different passphrases" in other.json()["error"]["message"]
    short = page.job("/api/lock/passphrase", old=WORDS, passphrase="short", again="short")
    assert "less than 12 characters" in short.json()["error"]["message"]
    assert page.job("/api/lock/passphrase", old=WORDS, passphrase=new, again=new).json()["ok"]

    # a live session that is started here opens the log too
    command = ["sh", "-c", f'test "${log_lock.PASSPHRASE}" = "{new}" && echo opened']
    with Log.open(locked, now=lambda: NOW) as log:
        live = LiveProcess(locked, command)
        live.start(log, ListeningRequest())
        assert live._process._started is not None
        assert live._process._started.wait(60) == 0

    assert page.job("/api/lock/off", passphrase=WORDS).status_code == 400
    assert page.job("/api/lock/off", passphrase=new).json()["go"] == "/lock"
    assert "is not locked any more" in page.get("/lock").text
    assert log_lock.lock_state(locked) is log_lock.LockState.PLAIN
    assert page.job("/api/lock/on", passphrase=WORDS, again=WORDS).json()["ok"]
    assert " is locked: entries" in page.get("/lock").text
    with Log.open(locked, now=lambda: NOW):  # the log is in use elsewhere
        assert page.job("/api/lock/off", passphrase=WORDS).json()["ok"]
        assert "is not locked any more" not in page.get("/lock").text
    assert log_lock.lock_state(locked) is log_lock.LockState.LOCKED
    assert page.job("/api/close").json()["ok"]
    assert page.closed()
    assert os.environ.get(log_lock.PASSPHRASE) is None
