"""What the cache holds as text, kept as values for as long as the text is the same.

A long session's text takes longer to read than to compare; and who has just written it need not
read it at all.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any, TypeVar

__all__ = ["DecodedBodies"]

MOST = 8
"""Values that are kept."""

T = TypeVar("T")


class DecodedBodies:
    """The values of the texts that were asked for last. May be used from several threads."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: OrderedDict[tuple[str, str], Any] = OrderedDict()

    def get(self, kind: str, body: str, decode: Callable[[str], T]) -> T:
        """The value of a text. `kind` says of what sort it is, `decode` reads it where it is not
        known; what that raises is passed on."""
        with self._lock:
            if (kind, body) in self._known:
                self._known.move_to_end((kind, body))
                known: T = self._known[kind, body]
                return known
        found = decode(body)
        self.put(kind, body, found)
        return found

    def put(self, kind: str, body: str, value: object) -> None:
        """A text of that kind reads as this value."""
        with self._lock:
            self._known[kind, body] = value
            while len(self._known) > MOST:
                self._known.popitem(last=False)
