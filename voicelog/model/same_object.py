"""What was made of a frozen object, kept while the same object is asked about.

After a correction most of a long session's reps and findings are the very objects that they were,
and to see that costs less than to word them again.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, TypeVar

__all__ = ["once_per_object"]

MOST = 4096
"""Objects that are known of one function; with one more it forgets them all."""

Given = TypeVar("Given")
Made = TypeVar("Made")
More = ParamSpec("More")


def once_per_object(
    function: Callable[Concatenate[Given, More], Made],
) -> Callable[Concatenate[Given, More], Made]:
    """The `function`, not called again for the object that it was called for last with the same
    other arguments. For objects that never change, and what is made of these arguments alone. May
    be used from several threads."""
    known: dict[int, tuple[Given, object, Made]] = {}

    @wraps(function)
    def made(given: Given, /, *more: More.args, **named: More.kwargs) -> Made:
        found = known.get(id(given))
        if found is None or found[0] is not given or found[1] != (more, named):
            if len(known) >= MOST:
                known.clear()
            found = known[id(given)] = given, (more, named), function(given, *more, **named)
        return found[2]

    return made
