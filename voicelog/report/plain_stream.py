"""What reaches a terminal is text: no character in it moves the cursor, hides or turns words.

Names, notes and file names come from anywhere, and an error may quote any of them. Papers clean
what they show; this stands behind them all, so that nobody has to think of it in each sentence.
"""

from __future__ import annotations

import re
from typing import IO, Any

__all__ = ["PlainStream", "json_escaped", "unguarded"]

_OURS = "|".join(("1;31", "1;33", "33", "2", "1", "0"))
"""The only colours that papers use, see `voicelog.report.terminal_page`; none hides a word."""
_UNSAFE = re.compile(
    rf"(\x1b\[(?:{_OURS})m)"
    r"|\r(?!\n)"
    "|[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
)


def json_escaped(text: str) -> str:
    """JSON that means the same, with such characters written as escapes, so that nobody has to
    change them on their way to a terminal."""
    return _UNSAFE.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


class PlainStream:
    """A text stream that puts U+FFFD in place of control and direction characters.

    Everything else of the stream is as it is, but for its bytes (`buffer`), which nothing needs.
    """

    def __init__(self, stream: IO[str]) -> None:
        self.unguarded = stream

    def write(self, text: str) -> int:
        """Write it; the length of what was given."""
        self.unguarded.write(_UNSAFE.sub(lambda found: found[1] or "\ufffd", text))
        return len(text)

    def writelines(self, lines: list[str]) -> None:
        """Write each."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        if name == "buffer":
            raise AttributeError(name)
        return getattr(self.unguarded, name)


def unguarded(stream: Any) -> IO[str]:
    """The stream beneath a `PlainStream`, for a screen that is drawn; any other as it is."""
    found: IO[str] = stream.unguarded if isinstance(stream, PlainStream) else stream
    return found
