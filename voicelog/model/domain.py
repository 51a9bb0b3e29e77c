"""Terms of the trade that more than one room goes by, each in one place."""

from __future__ import annotations

__all__ = [
    "COLLAR_OFF",
    "DISTRACTION_LADDER",
    "FAILED",
    "FIND_LEVEL",
    "NOT_COMING",
    "RECALL_WORDS",
    "STIMULATION",
]

STIMULATION = frozenset({"momentary", "continuous"})
"""The modes that carry a level."""

FIND_LEVEL = "find level"
"""The drill that looks for the level noticed; never pooled with any other."""

DISTRACTION_LADDER = ("none", "low", "medium", "high")
"""How much goes on around the dog, the least first."""

COLLAR_OFF = frozenset({"stripped", "slipped", "none"})
"""What is said of a collar that is not on the dog's neck."""

FAILED = frozenset({"ignored", "left", "broke"})
"""The outcomes in which a dog did not do what it was asked, and nothing was done about it yet."""

NOT_COMING = {
    "sat to whistle": "stop",
    "on place": "place",
    "loaded up": "place",
    "stood fast": "steady",
    "stayed put": "steady",
    "steady": "steady",
    "honoured": "steady",
}
"""What a dog did that stayed or went elsewhere, as the word kept for it, and the drill that it is
of: never a recall."""

RECALL_WORDS = frozenset({"here", "come", "come here", "come in", "to me"})
"""Words that call a dog in wherever dogs are trained. Common practice, no source."""
