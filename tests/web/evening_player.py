"""A person at the evening queue, who knows what was said, and counts the keys that are pressed."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from tests.web.waiting import PATIENCE_S, until

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["EveningPlayer"]

_CLOCK = """{ const now = performance.now.bind(performance); let ahead = 0;
  performance.now = () => now() + ahead;
  window.later = (by) => { ahead += by; }; }"""
_SEEN_MS = 260
"""A card that was shown for less was seen by nobody."""
LEFT = "Number(document.getElementById('left').textContent.split(' ')[0])"
CARD = "document.documentElement.dataset.card"
QUIET = "!document.documentElement.hasAttribute('data-busy')"


class EveningPlayer:
    """Goes through the cards of `evening.QUEUE` at a page, by keys alone."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses = page, 0
        page.add_init_script(_CLOCK)

    def open(self, address: str, cards: int) -> None:
        """Open the queue, once so many cards are in it."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            self.page.goto(address)
            self.page.wait_for_selector("html[data-card]", state="attached")
            if self.page.evaluate(LEFT) == cards:
                return
            assert time.monotonic() < deadline, self.page.inner_text("#left")
            time.sleep(0.3)

    def press(self, *keys: str) -> None:
        for key in keys:
            self.presses += 1
            self.page.keyboard.press(key)

    def see(self) -> None:
        """Look at the card as long as it takes to have seen it, by the page's clock."""
        self.page.evaluate(f"later({_SEEN_MS})")

    def decide(self, *keys: str) -> None:
        """Press keys, the last of which decides, and wait for the next card."""
        before = self.page.evaluate(CARD)
        self.see()
        self.press(*keys)
        until(self.page, f"{CARD} !== {before!r} && {QUIET}")

    @property
    def left(self) -> int:
        return int(self.page.evaluate(LEFT))

    def play(self) -> list[str]:
        """Decide every card; what was on them."""
        seen = []
        while self.page.locator(".card").is_visible():
            words = self.page.locator(".asked").inner_text()
            seen.append(words)
            if words == "level seven":
                self.press("/", "1", "2")
                marked = "document.querySelector('.choices [aria-selected=true]')?.innerText"
                until(self.page, f"{marked} === 'level twelve'")
                self.decide("Enter")
            elif words != "level three":
                self.decide(str(self.page.locator(".card .offers li").count()))
            else:
                self.decide("Enter")
        return seen
