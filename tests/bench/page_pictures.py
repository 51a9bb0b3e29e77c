"""Pictures of every page of an invented log, and of the phone's page, in three widths and both
schemes, to look at.

    python -m tests.bench.page_pictures FOLDER [--only NAME ...] [--axe]

They are for whoever designs the page, and are not kept. Beside them it prints what a phone's thumb
cannot hit (targets below 44 pixels at the narrowest width, text links in a sentence left aside),
what is wider than its window, and, with `--axe`, what axe finds on each page and what is cut off
with wider text spacing (WCAG 2.2, 1.4.12), with counts at the end. Debian's Chromium is needed, and
its libnss3-tools for the phone's page.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from tests.bench.phone_page import speech
from tests.bench.served_page import served_page
from tests.web.evening import FULL, LEVELS, NOW, QUEUE, ROSTER, SIXTY, keep, tone
from tests.web.phone.phone_browser import PhonePage, open_phone, record
from voicelog.app.review.review_service import ReviewService
from voicelog.store import Log, SessionFilter

if TYPE_CHECKING:
    from playwright.sync_api import Page

WIDTHS = (390, 820, 1280)
SCHEMES = ("light", "dark")
TALLEST = 2600
"""Pixels of a page that are taken."""
EMPTY = {
    "no-sessions": "/?check=1",
    "no-dogs": "/dogs",
    "no-evening": "/evening",
    "no-kennel": "/kennel",
    "no-matters": "/matters",
}
"""Pages of a log in which nothing is."""
SMALL = """() => [...document.querySelectorAll("a, button, input, select, summary, [role=slider]")]
  .filter(one => {
    const box = one.getBoundingClientRect();
    const style = getComputedStyle(one);
    if (!box.width || !box.height || style.visibility === "hidden" || box.right < 0) return false;
    if (one.tagName === "INPUT" && one.closest("label.tick")) return false;
    const inSentence = one.tagName === "A" && style.display === "inline";
    return !inSentence && Math.min(box.width, box.height) < 43.5;
  })
  .map(one => `${one.tagName.toLowerCase()} `
    + (one.textContent || one.name || "").trim().slice(0, 24)
    + ` ${Math.round(one.getBoundingClientRect().width)}x`
    + `${Math.round(one.getBoundingClientRect().height)}`)"""
WIDE = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"

SPACE = """() => { const wide = new CSSStyleSheet(); wide.replaceSync(
  `* { line-height: 1.5 !important; letter-spacing: .12em !important;
       word-spacing: .16em !important }
   p { margin-bottom: 2em !important }`);
  document.adoptedStyleSheets = [wide]; }"""
"""The spacing of 1.4.12, put on a page as a reader's own style would be."""
CUT = """() => [...document.querySelectorAll("body *")].filter(one => {
    const style = getComputedStyle(one);
    const box = one.getBoundingClientRect();
    if (box.width < 2 || box.height < 2 || one.closest(".unseen, .skip, svg, input")) return false;
    const cuts = [style.overflowX, style.overflowY].some(way => ["hidden", "clip"].includes(way));
    if (!cuts && one.tagName !== "BUTTON") return false;
    return one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1;
  }).map(one => `${one.tagName.toLowerCase()}.${one.className} `
    + (one.textContent || "").trim().slice(0, 24))"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--widths", type=int, nargs="*", default=WIDTHS)
    parser.add_argument("--schemes", nargs="*", default=SCHEMES)
    parser.add_argument("--axe", action="store_true")
    given = parser.parse_args()
    counts: Counter[str] = Counter(pages=0, axe=0, cut=0)
    given.folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        _fill(Path(place))
        pages = dict(_pages(Path(place)))
        with served_page(Path(place)) as page:
            start = page.url.rstrip("/")
            for name, path in pages.items():
                if not given.only or name in given.only:
                    _picture(page, given, name, f"{start}{path}", counts)
        (Path(place) / "empty").mkdir()
        with served_page(Path(place) / "empty") as page:
            start = page.url.removesuffix("/start/dogs")
            for name, path in EMPTY.items():
                if not given.only or name in given.only:
                    _picture(page, given, name, f"{start}{path}", counts)
    if not given.only or "phone-page" in given.only:
        _phone(given, counts)
    if given.axe:
        print("{pages} pages: axe {axe}, cut off {cut}".format_map(counts))
    print(f"pictures in {given.folder}")


def _phone(given: argparse.Namespace, counts: Counter[str]) -> None:
    """The phone's page: before it has joined, when it may record, while it does, and dark."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "log"
        with Log.open(folder, now=lambda: NOW) as log:
            log.put_dog(ROSTER.dogs[0])
        served = PhonePage(folder)
        try:
            sound = speech(Path(place) / "speech.wav", 600)
            with open_phone(Path(place), served, sound) as (_, page, _):
                _picture(page, given, "phone-page", served.address, counts)
                page.goto("about:blank")  # from one hash to another nothing is loaded
                page.goto(f"{served.address}/#c={served.code}")
                page.wait_for_selector("#start:enabled")
                _picture(page, given, "phone-ready", None, counts)
                record(page)
                _picture(page, given, "phone-recording", None, counts)
                page.click("#dark")
                _picture(page, given, "phone-dark", None, counts)
        finally:
            served.end()


def _fill(folder: Path) -> None:
    """Some weeks of two dogs, with sound in one session, a queue, and a dog without a session."""
    with Log.open(folder, now=lambda: NOW) as log:
        for dog in (*ROSTER.dogs, FULL):
            log.put_dog(dog)
        lines = [line.lstrip("?").partition("|")[0].strip() for line in SIXTY]
        for week in range(6):
            eased = [line.replace("three", ("four", "three")[week % 2]) for line in lines]
            keep(log, eased, f"week {week}", at=NOW - timedelta(days=40 - 7 * week))
        keep(log, LEVELS, "levels", at=datetime(2026, 4, 19, 7, 30), sound=tone(4.0 * len(LEVELS)))
        keep(log, QUEUE[0], "queue", at=datetime(2026, 4, 20, 7, 30))
        ReviewService(log, lambda: NOW).session_catalog.refresh()


def _pages(folder: Path) -> Iterator[tuple[str, str]]:
    with Log.open(folder, now=lambda: NOW) as log:
        rows = log.headings(SessionFilter()).rows
    yield from (
        ("sessions", "/"),
        ("session", f"/session/{rows[1].key}"),
        ("long", f"/session/{rows[0].key}"),
        ("evening", "/evening"),
        ("dogs", "/dogs"),
        ("dog", "/dogs/Fern"),
        ("new-dog", "/new-dog"),
        ("progress", "/dogs/Bracken/progress"),
        ("plan", "/dogs/Bracken/plan"),
        ("owner", "/dogs/Bracken/owner"),
        ("kennel", "/kennel"),
        ("matters", "/matters"),
        ("learn", "/learn"),
        ("add", "/add"),
        ("people", "/people"),
        ("take-out", "/take-out"),
        ("more", "/more"),
        ("live", "/live"),
        ("settings", "/settings"),
        ("words", "/words"),
        ("share", "/share"),
        ("watch", "/watch"),
        ("phone", "/phone"),
        ("rehear", "/rehear"),
        ("voice", "/voice"),
        ("upkeep", "/upkeep"),
        ("lock", "/lock"),
        ("delete", "/delete"),
        ("before", "/dogs/Bracken/before"),
        ("start", "/start/dogs"),
        ("start-microphone", "/start/microphone"),
        ("start-recording", "/start/recording"),
        ("none-there", "/none"),
    )


def _picture(
    page: Page, given: argparse.Namespace, name: str, address: str | None, counts: Counter[str]
) -> None:
    """Pictures of the page at an address, or of the one that is open, which is not loaded anew."""
    for width in given.widths:
        page.set_viewport_size({"width": width, "height": 900})
        for scheme in given.schemes:
            page.emulate_media(color_scheme=scheme)
            if address is not None:
                page.goto(address)
                page.wait_for_load_state("networkidle")
            high = min(TALLEST, page.evaluate("document.documentElement.scrollHeight"))
            page.screenshot(
                path=given.folder / f"{name}-{width}-{scheme}.png",
                full_page=True,
                clip={"x": 0, "y": 0, "width": width, "height": high},
            )
            if given.axe:
                counts["pages"] += 1
                counts["axe"] += _axe(page, f"{name} {width} {scheme}")
        if given.axe:
            page.evaluate(SPACE)
            cut = dict.fromkeys(page.evaluate(CUT))
            over = page.evaluate(WIDE)
            counts["cut"] += len(cut) + (over > 0)
            if cut or over > 0:
                print(f"spacing, {name} {width}: cut {'; '.join(cut)[:300]}; {over} pixels over")
            page.evaluate("document.adoptedStyleSheets = []")
        if (over := page.evaluate(WIDE)) > 0:
            print(f"{name} {width}: {over} pixels wider than the window")
        if width == min(WIDTHS):
            small = dict.fromkeys(page.evaluate(SMALL))
            print(f"{name}: {len(small)} small targets {'; '.join(small)[:400]}")


def _axe(page: Page, name: str) -> int:
    axe = import_module("axe_playwright_python.sync_playwright")  # only where it is asked for
    found = axe.Axe().run(page).response["violations"]
    for one in found:
        where = [node["target"] for node in one["nodes"]][:3]
        print(f"axe, {name}: {one['id']} ({one['help']}) {where}")
    return len(found)


if __name__ == "__main__":
    main()
