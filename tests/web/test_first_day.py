"""A trainer's first day in a real browser: from an empty log to the owner's report, no terminal."""

from __future__ import annotations

import re
import shutil
import wave
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from tests.bench.served_page import served_page
from voicelog.app.demo import demo_recordings
from voicelog.audio.files import blocks
from voicelog.audio.resampling import RATE

playwright = pytest.importorskip("playwright.sync_api", reason="needs playwright")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")
pytest.importorskip("typst", reason="the owner's report needs voicelog[papers]")
pytestmark = pytest.mark.skipif(not shutil.which("chromium"), reason="needs Debian's chromium")

NOTES = """\
start session bracken
collar fitted
drill recall
here level three came ear flick
here no button came
here level four yelped
here no button caem
"""
"""The last line is a slip, so it is to check."""


def spoken(path: Path, seconds: float) -> Path:
    """The beginning of a recording of the demo (synthetic voices, invented dogs) as a WAV file."""
    sound = np.concatenate(list(islice(blocks(demo_recordings()[0]), 400)))[: int(seconds * RATE)]
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((sound * 32767).astype("<i2").tobytes())
    return path


@pytest.mark.timeout(400)
def test_a_first_day_needs_no_terminal(tmp_path: Path) -> None:
    notes = tmp_path / "morning.txt"
    notes.write_text(NOTES)
    sound = spoken(tmp_path / "noon.wav", 8.0)
    with served_page(tmp_path / "log") as page:
        page.set_default_timeout(60_000)
        wrong: list[str] = []
        page.on("pageerror", lambda error: wrong.append(str(error)))
        found: dict[str, object] = {}

        def look() -> None:
            page.wait_for_load_state("networkidle")  # with what is shown within the page
            rules = axe.Axe().run(page).response["violations"]
            found.update({f"{page.url} {one['id']}": one["nodes"] for one in rules})

        def button(name: str) -> None:
            page.get_by_role("button", name=name).click()

        # the three first steps
        assert page.url.endswith("/start/dogs")
        page.get_by_label("Name, as it is called").fill("Bracken")
        page.get_by_label("Highest level").fill("20")
        button("Add the dog")
        page.get_by_text("Bracken is on the roster.").wait_for()
        look()
        page.get_by_role("link", name="Go on").click()
        page.get_by_role("heading", name="Your microphone").wait_for()
        look()
        page.get_by_role("link", name="Go on").click()
        page.get_by_text("nothing of it is kept in the log").wait_for()
        page.get_by_role("link", name="Add a recording of my own").click()

        # what she said, brought and heard
        page.get_by_label("When they were recorded").fill(
            f"{datetime.now() - timedelta(hours=1):%Y-%m-%dT%H:%M}"
        )
        page.get_by_label("Choose files, or drop them here").set_input_files([notes, sound])
        heard = page.locator("[data-state=done]")
        over = page.locator("#incoming li:is([data-state=done], [data-state=refused])")
        over.nth(1).wait_for(timeout=120_000)
        assert heard.count() == 2, over.all_inner_texts()
        assert re.search(r"noon.wav\s+[1-9] notes? sure", heard.first.inner_text())
        look()
        heard.last.get_by_role("link", name="Open it").click()

        # what is to check
        page.wait_for_selector(".row.now")
        page.get_by_role("button", name="here no button came").first.wait_for()
        page.keyboard.press("Enter")
        page.wait_for_selector("#said p")

        # what went against the dog, closed
        page.get_by_role("link", name="Open matters", exact=True).click()
        page.get_by_text("Before you close one, give your name").first.wait_for()
        page.wait_for_load_state()  # with its script, which keeps the name
        page.get_by_text("Your name?").first.click()
        page.get_by_label("Your name").fill("Anna")
        with page.expect_navigation():
            button("Save")
        page.get_by_text("You: Anna").wait_for()
        while page.get_by_role("button", name=re.compile("Close it")).count():
            matter = page.locator("li").filter(has=page.get_by_role("button", name="Close it"))
            matter.first.get_by_label("Why").fill("seen by the vet, all is well")
            if (asked := matter.first.get_by_label("Who was asked")).count():
                asked.fill("Dr Fern")
            with page.expect_navigation():
                matter.first.get_by_role("button").click()

        # the owner's report
        page.get_by_role("link", name="Dogs", exact=True).click()
        page.wait_for_url("**/dogs")
        page.get_by_role("link", name="Bracken").click()
        page.wait_for_url("**/dogs/Bracken")
        page.get_by_role("link", name="Owner's report").click()
        page.get_by_label("Who the owner may call").fill("Anna, 555 0100")
        look()
        with page.expect_download() as report:
            button("Make the report")
        assert report.value.path().read_bytes().startswith(b"%PDF")
        assert report.value.suggested_filename == "Bracken.pdf"
        pages = ("/more", "/people", "/take-out", "/settings", "/words", "/delete?dog=Bracken")
        address = page.url.partition("/dogs")[0]
        for at in (*pages, "/dogs/Bracken/before"):
            page.goto(f"{address}{at}")
            look()
        assert (wrong, found) == ([], {})
