"""A sentence of advice with the reps it rests on."""

from __future__ import annotations

from voicelog.model import FrozenModel

__all__ = ["Reason"]


class Reason(FrozenModel):
    """Why something is advised, and the ids of the reps that say so."""

    words: str
    reps: tuple[str, ...] = ()
