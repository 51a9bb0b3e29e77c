"""Terms of the trade that more than one room goes by, each in one place."""

from __future__ import annotations

__all__ = ["COLLAR_OFF", "DISTRACTION_LADDER", "FIND_LEVEL", "STIMULATION"]

STIMULATION = frozenset({"momentary", "continuous"})
"""The modes that carry a level."""

FIND_LEVEL = "find level"
"""The drill that looks for the level noticed; never pooled with any other."""

DISTRACTION_LADDER = ("none", "low", "medium", "high")
"""How much goes on around the dog, the least first."""

COLLAR_OFF = frozenset({"stripped", "slipped", "none"})
"""What is said of a collar that is not on the dog's neck."""
