"""The page for phones as a process of its own, opened and closed from the page at the laptop.

It is `voicelog phone`, whoever starts it: it writes down where phones find it and which code joins
the next one, as long as it is open, so that a page can show what a terminal shows.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from voicelog.app.command_process import CommandProcess, voicelog_command
from voicelog.app.state_file import read_state, write_state
from voicelog.app.watch_state import state_folder
from voicelog.model import FrozenModel, UsageError
from voicelog.report.phone_words import ALREADY_OPEN, NOT_OPEN
from voicelog.store.file_lock import file_lock

__all__ = ["PhonePlace", "PhoneProcess", "PhoneState", "phone_at_work", "tell_phone_place"]

_NAME = "phone-page"
_PLACE = "phone-place.json"


class PhonePlace(FrozenModel):
    """Where a phone finds this machine: the address of the page, of what it needs to trust it and
    the SHA-256 of that authority, the code that joins the next phone, and the address that joins
    it. `live`: whether phones are answered."""

    page: str
    trust: str
    fingerprint: str
    code: str
    joining: str
    live: bool


@dataclass(frozen=True, slots=True)
class PhoneState:
    """How it stands: open for phones (`at_work`), `starting` or `ending`, where, and its last
    lines, oldest first."""

    at_work: bool
    starting: bool
    ending: bool
    place: PhonePlace | None
    lines: tuple[str, ...]


class PhoneProcess:
    """The page for phones of the log in `folder`. `command` is what starts it."""

    def __init__(self, folder: Path, command: Sequence[str] = voicelog_command("phone")) -> None:
        self.folder = folder
        self._process = CommandProcess(folder, _NAME, command, ALREADY_OPEN, signal.SIGINT)

    def start(self, *, live: bool, earpiece: bool, address: str = "") -> None:
        """Open it.

        Args:
            live: whether phones are answered while they record.
            earpiece: whether a phone's microphone cannot hear its earphone.
            address: this machine's, as phones see it; empty: found out.

        Raises:
            UsageError: it is open.
            LogError: what it prints cannot be written.
        """
        chosen = {"--live": live, "--earpiece": earpiece and live, f"--address={address}": address}
        self._process.run([option for option, given in chosen.items() if given])

    def stop(self) -> None:
        """Close it; a phone keeps what is not here yet. Raises UsageError where it is not open."""
        if not self._process.stop():
            raise UsageError(NOT_OPEN)

    def state(self) -> PhoneState:
        """How it stands now."""
        at_work, starting, ending = self._process.standing()
        place = read_state(_place(self.folder), PhonePlace) if at_work else None
        return PhoneState(at_work, starting, ending, place, self._process.lines(at_work=at_work))


@contextmanager
def phone_at_work(folder: Path) -> Iterator[None]:
    """Be the one that is open for phones of a log (UsageError where another is), and write down
    which process that is."""
    with file_lock(folder / f"{_NAME}.lock") as free:
        if not free:
            raise UsageError(ALREADY_OPEN)
        (folder / f"{_NAME}.pid").write_text(str(os.getpid()), encoding="ascii")
        _place(folder).unlink(missing_ok=True)
        try:
            yield
        finally:
            _place(folder).unlink(missing_ok=True)


def tell_phone_place(folder: Path, place: PhonePlace) -> None:
    """Write down where phones find it now. Raises LogError as the disk refuses."""
    write_state(folder, _place(folder), place)


def _place(folder: Path) -> Path:
    return state_folder(folder) / _PLACE
