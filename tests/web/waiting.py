"""Waits for the state of a page, however slow the machine is: what a key or a click brings is drawn
with the next frame, or comes with an answer of the program."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["PATIENCE_S", "drawn", "until"]

PATIENCE_S = 60.0
"""It counts only where something is wrong."""


def until(page: Page, condition: str, seconds: float = PATIENCE_S) -> None:
    """Wait for a condition in the page, whose policy forbids the browser's driver to wait there."""
    deadline = time.monotonic() + seconds
    while not page.evaluate(condition):
        assert time.monotonic() < deadline, (condition, page.inner_text("body"))
        page.wait_for_timeout(20)  # what the browser tells is taken in meanwhile


def drawn(page: Page) -> None:
    """Wait until what was asked of the next frame is drawn, and what that asked of its next."""
    frame = "new Promise(then => requestAnimationFrame(() => requestAnimationFrame(then)))"
    page.evaluate(f"{frame}.then(() => null)")
