"""Makes the pictures of the manual from the demo: run `python docs/make_pictures.py`.

A recording of the demo is heard into a log of its own (synthetic voices, an invented dog). The
summary is drawn as a terminal shows it, the page as Chromium does. Chromium and Playwright are
needed.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from io import StringIO
from pathlib import Path

from playwright.sync_api import sync_playwright
from rich.console import Console
from rich.text import Text

from voicelog.app.open_log import open_log
from voicelog.app.session_catalog import ready_catalog
from voicelog.app.summary import session_summaries
from voicelog.grammar.data_folders import data_folder
from voicelog.report import text

PICTURES = Path(__file__).parent / "pictures"
DOG = "Wren"
SOUND = data_folder("demo_audio") / "day2-wren" / "day2-wren.opus"
PROGRAM = (sys.executable, "-c", "from voicelog.cli import main; main()")
WIDTH, HEIGHT = 1200, 900  # of the page, pixels


def main() -> None:
    """Hear the demo and make both pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for command in (("dogs", "put", DOG, "--top", "20"), ("add", str(SOUND), "--dog", DOG)):
            subprocess.run([*PROGRAM, *command, "--data-dir", folder], check=True)
        (PICTURES / "summary.svg").write_text(summary(Path(folder)), encoding="utf-8")
        page(Path(folder), PICTURES / "page.png")


def summary(folder: Path) -> str:
    """The summary as a picture of the terminal, without letters to be fetched and the buttons of
    one system's windows."""
    with open_log(folder) as log:
        (one,) = session_summaries(ready_catalog(log), DOG)
    screen = Console(record=True, width=82, file=StringIO(), force_terminal=True)
    screen.print(Text.from_ansi(text.render(one, colour=True)))
    drawn = screen.export_svg(title=f"voicelog summary {DOG}", unique_id="summary")
    for needless in (r"@font-face \{.*?\}\s*", r"<!-- .*? -->\s*", r"<circle [^>]*/>\s*"):
        drawn = re.sub(needless, "", drawn, flags=re.DOTALL)
    return drawn


def page(folder: Path, picture: Path) -> None:
    """The session on the page, as it opens."""
    command = [*PROGRAM, "review", "--port", "0", "--no-browser", "--as", "Anna"]
    command += ["--data-dir", str(folder)]
    with (
        subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as serving,
        sync_playwright() as run,
    ):
        try:
            assert serving.stdout is not None
            lines = (re.search(r"http://\S+/open/\S+", line) for line in serving.stdout)
            address = next(found.group() for found in lines if found)
            chromium = shutil.which("chromium") or shutil.which("chromium-browser")
            browser = run.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            view = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT})
            view.goto(address)
            view.get_by_role("link", name="Apr 2026").first.click()
            view.wait_for_selector(".row.now")
            view.wait_for_load_state("networkidle")  # the loudness comes piece by piece
            time.sleep(10)  # ... and drawn, on a busy machine too
            view.screenshot(path=picture)
            browser.close()
        finally:
            serving.terminate()


if __name__ == "__main__":
    main()
