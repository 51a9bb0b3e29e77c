"""A file on its way into the log: how much of it is there, and what came of it."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from pydantic import Field

from voicelog.model.base import FrozenModel
from voicelog.model.names import LONGEST_NAME

__all__ = ["LARGEST_FILE", "IncomingFile", "IncomingKind", "IncomingState"]

LARGEST_FILE = 1 << 37
"""Bytes of a file, at most (128 GiB): more is a slip or made to do harm."""

IncomingKind = Literal["recording", "backup", "demo", "card"]
IncomingState = Literal["arriving", "waiting", "hearing", "done", "like another", "refused"]


class IncomingFile(FrozenModel):
    """One of them. `id` follows from what was chosen, so that the same file chosen again goes on
    where it stopped. `heard_s` of `total_s` seconds are heard (None: the file does not say).

    A demo is heard and nothing of it is kept but its page, and of a voice card that was read
    nothing but what was found, a line each in `told`.
    """

    id: str
    number: int = 0
    """In which order it came."""
    name: str = Field(min_length=1, max_length=LONGEST_NAME)
    size: int = Field(ge=1, le=LARGEST_FILE)
    kind: IncomingKind = "recording"
    dogs: tuple[str, ...] = ()
    at: datetime | None = None
    anyway: bool = False
    """It is added though it sounds like one that is there."""
    state: IncomingState = "arriving"
    tries: int = 0
    """How often its hearing was begun."""
    heard_s: float = 0.0
    total_s: float | None = None
    told: str = ""
    """What came of it, in words."""
    key: str = ""
    """The session, or recording, that came of it; empty for none."""
