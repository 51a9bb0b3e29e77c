"""The page of a log, served by the program itself and open in Debian's Chromium."""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["served_page"]


@contextmanager
def served_page(folder: Path) -> Iterator[Page]:
    """The page of the log in `folder`, at its list of sessions; server and browser end with it."""
    from playwright.sync_api import sync_playwright  # only where there is a browser

    code = "from voicelog.cli import main; main()"
    command = [sys.executable, "-c", code, "review", "--port", "0", "--no-browser"]
    with subprocess.Popen(
        [*command, "--data-dir", str(folder)], stdout=subprocess.PIPE, text=True
    ) as served:
        assert served.stdout is not None
        said = ""
        while not (found := re.search(r"http://127\.0\.0\.1:\d+/open/\S+", said)):
            said += served.stdout.readline()
        try:
            with sync_playwright() as run:
                browser = run.chromium.launch(
                    executable_path=shutil.which("chromium"), args=["--no-sandbox"]
                )
                page = browser.new_page()
                page.goto(found.group())
                yield page
                browser.close()
        finally:
            served.send_signal(signal.SIGINT)
