"""The lock of the log that a page shows: who may try its passphrase, and what is to be changed.

A log is locked, or its lock taken off, only while no program has it open. So the page is closed for
that, the change that was asked for here is made, and the page is opened again.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from threading import Lock

from voicelog.app.lock import (
    lock_whole_log,
    needs_passphrase,
    open_whole_log,
    replace_passphrase,
    unlock_with,
)
from voicelog.app.review.errors import BadRequestError
from voicelog.model import VoicelogError
from voicelog.report.lock_words import (
    WRONG_AT_PAGE,
    changing_words,
    locked_words,
    opened_words,
)
from voicelog.store.log_lock import WrongPassphraseError
from voicelog.web.security import CodeAttempts

__all__ = ["LockKeeper"]

Told = Callable[[int, int], None]


class LockKeeper:
    """The lock of the log in a `folder`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.told = ""
        """What came of the last change."""
        self.progress = ""
        """How far the change is that is being made; empty where none is."""
        self._change: Callable[[Told], str] | None = None
        self._attempts = CodeAttempts()
        self._one = Lock()

    @property
    def closed(self) -> bool:
        """Whether the passphrase has to be typed before anything can be read."""
        return needs_passphrase(self.folder)

    @property
    def to_do(self) -> bool:
        """Whether a change was asked for, and not made yet."""
        return self._change is not None

    def unlock(self, passphrase: str, who: str) -> None:
        """Open the log; raises as `replace`. `who`: the address it was typed at."""
        self._try(lambda: unlock_with(self.folder, passphrase), who)

    def replace(self, old: str, new: str, who: str) -> None:
        """Give the log another passphrase.

        Raises:
            BadRequestError: `old` is not the passphrase.
            ForbiddenError: too many wrong ones were typed there.
            ShortPassphraseError: `new` would keep nobody out.
        """
        self._try(lambda: replace_passphrase(self.folder, old, new), who)

    def ask_to_lock(self, passphrase: str) -> None:
        """Let the log be locked once the page is closed."""

        def change(told: Told) -> str:
            lock_whole_log(self.folder, passphrase, told)
            unlock_with(self.folder, passphrase)
            return locked_words(self.folder)

        self._change = change

    def ask_to_open(self, passphrase: str, who: str) -> None:
        """Let the lock be taken off once the page is closed; raises as `unlock`."""
        self.unlock(passphrase, who)

        def change(told: Told) -> str:
            return opened_words(open_whole_log(self.folder, told))

        self._change = change

    def make_change(self) -> None:
        """Make the change that was asked for; `told` says what came of it, also where it failed."""
        change, self._change = self._change, None
        if change is None:
            return
        self._show(0, 0)
        try:
            self.told = change(self._show)
        except VoicelogError as error:
            self.told = str(error)
        finally:
            self.progress = ""

    def _show(self, done: int, total: int) -> None:
        self.progress = changing_words(done, total)

    def _try(self, deed: Callable[[], None], who: str) -> None:
        def opens() -> bool:
            try:
                deed()
            except WrongPassphraseError:
                return False
            return True

        with self._one:
            if not self._attempts.try_it(opens, who, "passphrases"):
                raise BadRequestError(WRONG_AT_PAGE)
