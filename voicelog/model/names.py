"""Names and other text of people: what may be in them, and when two names are one.

A name comes from a keyboard, another laptop, a bundle made to do harm. Two that look alike
must be one (a dog's open matters are found by its name), and none may hold what rewrites a line
of a terminal or lets a name read as another. This is the one place for it: every name that the
model holds has passed `tidy_name`, and names are compared by `name_key`.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Annotated

from pydantic import AfterValidator, Field

__all__ = ["LONGEST_NAME", "Name", "name_key", "name_skeleton", "plain_text", "tidy_name"]

LONGEST_NAME = 200
"""Characters of a name, at most."""

_UNSAFE = re.compile(
    "[\x00-\x1f\x7f-\x9f\u00ad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\uffff"
    "\ud800-\udfff\U000e0000-\U000e0fff]+"
)
"""Control, direction, zero-width and tag characters, and halves of characters."""


def plain_text(text: str) -> str:
    """The text on one line, trimmed, with a space for what is control, direction or zero-width."""
    return " ".join(_UNSAFE.sub(" ", text).split())


def tidy_name(name: str) -> str:
    """A name as it is kept: composed (Unicode's form C), on one line, trimmed, with nothing in it
    that cannot be seen. Empty stays empty."""
    return " ".join(_UNSAFE.sub("", unicodedata.normalize("NFC", name)).split())


@lru_cache(maxsize=4096)
def name_key(name: str) -> str:
    """What two spellings of one name share: the tidy name without regard to letter case."""
    return unicodedata.normalize("NFC", tidy_name(name).casefold())


_CYRILLIC = (
    "\u0430\u0435\u043e\u0440\u0441\u0443\u0445\u0456\u0458\u0455\u043a\u043c\u043d\u0442\u0432"
)
_GREEK = "\u03b1\u03b5\u03b9\u03ba\u03bd\u03bf\u03c1\u03c4\u03c5\u03c7\u03b2"
_LOOKALIKES = str.maketrans(
    f"{_CYRILLIC}{_GREEK}0\u01311i|", "aeopcyxljskmhtb" + "aelkvoptuxb" + "ollll"
)
"""Letters drawn alike in another script (Cyrillic and Greek beside Latin), and nought, one, i and
the bar beside o and l. A short table from memory, in the manner of Unicode's UTS 39, not whole."""


def name_skeleton(name: str) -> str:
    """What two names share that look alike: without accents, letter case, spaces and punctuation,
    and with letters that are drawn alike taken for one. Empty where nothing is left."""
    bare = unicodedata.normalize("NFKD", tidy_name(name)).casefold().translate(_LOOKALIKES)
    return "".join(letter for letter in bare if letter.isalnum())


Name = Annotated[str, Field(max_length=LONGEST_NAME), AfterValidator(tidy_name)]
"""A name of a dog or a person, tidied when it is read."""
