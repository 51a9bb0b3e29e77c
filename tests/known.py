"""A value that a test knows to be there, with its type: what no type checker can see."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def known(value: T | None) -> T:
    """The value. AssertionError when there is none."""
    assert value is not None
    return value
