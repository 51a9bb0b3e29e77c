"""Opens a page of this machine in the user's browser, where there is a screen."""

from __future__ import annotations

import os
import sys
import webbrowser

__all__ = ["open_in_browser"]


def open_in_browser(address: str) -> None:
    """Open an address: of the page on this machine, or of a file. Without a screen nothing is done,
    since a text browser would take the terminal."""
    on_linux = sys.platform.startswith("linux")
    if not on_linux or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
        webbrowser.open(address)
