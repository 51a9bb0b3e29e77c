"""Two names that look alike are one, and none holds what cannot be seen."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from voicelog.model import Dog, Roster
from voicelog.model.names import name_key, plain_text, tidy_name

TRICKS = ["\u202e", "\u200b", "\x1b[8m", "\0", "\u2066", "\r", "\ufeff", "\u00ad", "\U000e0041"]


@given(st.text(max_size=30))
def test_tidying_is_done_once_and_leaves_what_can_be_seen(name: str) -> None:
    tidy = tidy_name(name)
    assert tidy_name(tidy) == tidy
    assert name_key(tidy) == name_key(name)
    assert name_key(name_key(name)) == name_key(name)
    kinds = {unicodedata.category(letter) for letter in tidy}
    assert not kinds & {"Cc", "Cs", "Zl", "Zp"}
    assert tidy == tidy.strip()


def test_spellings_of_one_name_are_one() -> None:
    for name in ("José", "  jose\u0301 ", "JOSÉ", "Jo\u202esé", "jos\u200bé"):
        assert name_key(name) == "josé"
    for trick in TRICKS:
        assert "[8m" in trick or tidy_name(f"Bra{trick}cken") == "Bracken"
        assert not set(trick) & set("\0\x1b\r\u202e\u2066") & set(plain_text(f"a{trick}b"))


def test_the_model_holds_tidy_names_only() -> None:
    roster = Roster(dogs=(Dog(name=" Jose\u0301\u202e "),), handlers=("An\u200bna\n",))
    assert (roster.dogs[0].name, roster.handlers) == ("José", ("Anna",))
    assert roster.dog("JOSE\u0301") is roster.dogs[0]
    assert roster.spelt({"josé": "JOSÉ"}).dogs[0].name == "JOSÉ"
    assert roster.spelt({"other": "Other"}) is roster
