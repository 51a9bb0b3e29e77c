"""Which stretches of sound were heard in which browser, for as long as the page is served.

A guess at talk is taken, and what a stop may hang on is decided, only by who has heard it. A page
that held this by itself would forget it when it is loaded again, and another program could say it
of sound that never left here. So a stretch counts as heard where the browser says that it played it
to its end, and this machine has sent that stretch to it at least as long before as it lasts.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from time import monotonic

__all__ = ["PlayedSound"]

_MOST = 5000
"""Stretches that are remembered of all browsers; the oldest are forgotten, and then played anew."""
_SLACK_S = 0.05
"""By how much two times of the same moment may differ, rounded on their way, s."""

_Stretch = tuple[str, str, float, float]  # browser, recording, its begin and its end, s


class PlayedSound:
    """May be used from several threads.

    Args:
        now: the time in seconds, from any beginning.
    """

    def __init__(self, now: Callable[[], float] = monotonic) -> None:
        self._now = now
        self._lock = threading.Lock()
        self._sent: OrderedDict[_Stretch, tuple[float, float]] = OrderedDict()
        self._heard: OrderedDict[_Stretch, None] = OrderedDict()

    def sent(
        self, browser: str, recording: str, from_s: float, to_s: float, lasts_s: float
    ) -> None:
        """A stretch was sent to a browser to its end. It `lasts_s`, which is less than was asked
        for (`from_s` to `to_s`) where the recording ends within it."""
        with self._lock:
            self._sent.setdefault((browser, recording, from_s, to_s), (self._now(), lasts_s))
            _forget(self._sent)

    def played(self, browser: str, recording: str, from_s: float, to_s: float) -> bool:
        """A browser says that it has played a stretch to its end; whether that can be."""
        stretch = (browser, recording, from_s, to_s)
        with self._lock:
            if stretch not in self._sent:
                return False
            sent_at, lasts_s = self._sent[stretch]
            if self._now() - sent_at < lasts_s - _SLACK_S:
                return False
            self._heard[stretch] = None
            _forget(self._heard)
            return True

    def has_heard(self, browser: str, recording: str, from_s: float, to_s: float) -> bool:
        """Whether a stretch was heard in a browser, within one that was played."""
        with self._lock:
            return any(
                (who, what) == (browser, recording)
                and begin <= from_s + _SLACK_S
                and to_s <= end + _SLACK_S
                for who, what, begin, end in self._heard
            )


def _forget(
    known: OrderedDict[_Stretch, tuple[float, float]] | OrderedDict[_Stretch, None],
) -> None:
    while len(known) > _MOST:
        known.popitem(last=False)
