"""The signs of a dog that defends itself: with one of them a session is over.

What is then advised is worded in `voicelog.safety.advice`.
"""

from __future__ import annotations

__all__ = ["AGGRESSION_SIGNS"]

AGGRESSION_SIGNS = frozenset({"growling", "snapped", "bit the collar", "bit me"})
"""Strong signs of a dog that defends itself; common practice."""
