"""What a safety rule saw in a session."""

from __future__ import annotations

from typing import Literal

from voicelog.model.base import FrozenModel

__all__ = ["Finding", "Severity"]

Severity = Literal["remark", "caution", "stop"]


class Finding(FrozenModel):
    """Something a safety rule saw, with its evidence and where the rule comes from."""

    rule: str
    severity: Severity
    session: str
    reps: tuple[int, ...] = ()
    evidence: tuple[str, ...] = ()
    on_doubt: bool = False
    struck: bool = False
    message: str
    advice: str
    basis: str
