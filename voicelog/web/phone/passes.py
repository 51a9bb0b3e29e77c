"""Which phones may send: those that brought a code, which works once, from the laptop's screen.

A pass outlives the program, since a phone with an hour of sound in it has to find the laptop as it
left it after a restart. Only the hash of a pass is kept.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import threading
from collections.abc import Callable
from pathlib import Path

from pydantic import ValidationError

from voicelog.app.review.errors import ForbiddenError
from voicelog.model import FrozenModel
from voicelog.report.phone_words import WRONG_CODE
from voicelog.web.security import CodeAttempts

__all__ = ["PhonePasses"]

LONGEST_NAME = 40


class _JoinedPhones(FrozenModel):
    phones: dict[str, str]
    """What each phone is called, by the hash of its pass."""


class PhonePasses:
    """The passes that were given out.

    Args:
        folder: where they are kept.
        new_code: makes the next code.
        told: is given each code that takes the place of one that was used.
    """

    def __init__(
        self, folder: Path, new_code: Callable[[], str], told: Callable[[str], None]
    ) -> None:
        self._path = folder / "phone-passes.json"
        self._new_code, self._told = new_code, told
        self._attempts = CodeAttempts()
        self._one = threading.Lock()
        self.code = new_code()
        """The code that joins the next phone."""
        try:
            self._phones = dict(_JoinedPhones.model_validate_json(self._path.read_bytes()).phones)
        except (OSError, ValidationError):
            self._phones = {}

    def join(self, code: str, device: str, who: str) -> str:
        """A pass for the phone that brings the code; the code is used up.

        Args:
            code: what it brings.
            device: what it calls itself.
            who: the address that it asks from.

        Raises:
            ForbiddenError: the code is wrong or was used, or too many wrong ones came from there.
        """
        with self._one:
            if not self._attempts.right(code, self.code, who):
                raise ForbiddenError(WRONG_CODE)
            shown = secrets.token_urlsafe(32)
            self._phones[_hash(shown)] = device[:LONGEST_NAME] or "phone"
            self._write()
            self.code = self._new_code()
        self._told(self.code)
        return shown

    def device(self, shown: str) -> str | None:
        """What the phone with this pass is called; None for no such pass."""
        return self._phones.get(_hash(shown))

    def _write(self) -> None:
        new = self._path.with_suffix(".new")
        flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC
        with os.fdopen(os.open(new, flags, 0o600), "w", encoding="utf-8") as file:
            file.write(_JoinedPhones(phones=self._phones).model_dump_json())
            file.flush()
            os.fsync(file.fileno())
        os.replace(new, self._path)


def _hash(shown: str) -> str:
    return hashlib.sha256(shown.encode()).hexdigest()
