"""What is said where a setting is changed, or cannot be."""

from __future__ import annotations

from voicelog.report.words import clean

__all__ = ["no_setting_words", "odd_layout_words", "setting_now_words"]


def setting_now_words(name: str, value: str, dog: str) -> str:
    """That a setting is `value` now, for a `dog` or (empty) for every dog."""
    whose = f" for {clean(dog)}" if dog else ""
    return f"{name} is {value}{whose} now; papers name it, and recordings keep what they had."


def no_setting_words(name: str, dog: str) -> str:
    """That there is no such setting, of every dog or of that `dog`."""
    of = f" of {clean(dog)}" if dog else ""
    return f"Found no setting '{clean(name)[:60]}'{of} to change; choose it from the list."


def odd_layout_words(path: str) -> str:
    """That the file at `path` cannot be changed by the page."""
    return f"{path} is laid out so that it cannot be changed here; change it by hand."
