"""A line that was not understood is told by its letters where it may tell of harm."""

from __future__ import annotations

import pytest

from voicelog.grammar.harm_words import HarmKind, harm_told


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        ("yelpd at 7", "pain or stress"),
        ("Yelpt!", "pain or stress"),
        ("collar off, skin bit red", "skin"),
        ("a little blod on her neck", "skin"),
        ("neck was sore", "skin"),
        ("growld at me", "biting or growling"),
        ("tried to bite", "biting or growling"),
        ("ignord me twice", "ignored"),
        ("pressed 4, then home", "press"),
        ("l3 levl 4 xx", "press"),
        ("limping", "pain or stress"),
        ("yelped and skin red", "skin"),  # what weighs most first
        ("he squeaked at level 12", "pain or stress"),
        ("yip at 6", "pain or stress"),
        ("hid behind me", "pain or stress"),
        ("head shake", "pain or stress"),
        ("tail under", "pain or stress"),
        ("rubbed his neck on the grass", "skin"),
        ("neck a bit warm", "skin"),
        ("he was a bit sticky on the hare", None),
        ("a little bit slow, a bit of sausage", None),
        ("he bit a bit", "biting or growling"),
        ("bit me", "biting or growling"),
        ("neck twitch at first", None),
        ("neck red", "skin"),
        ("wouldn't eat tonight", "pain or stress"),
        ("wouldn’t eat", "pain or stress"),
        ("didnt want to eat", "pain or stress"),
        ("off his food", "pain or stress"),
        ("ate well", None),
        ("here - he wouldn't look at me, I left it", "ignored"),
        ("looked at me", None),
        ("she was lazy today", None),
        ("good girl, sort of", None),
        ("she needed help", None),
        ("3/4", None),
        ("", None),
    ],
)
def test_what_lies_near_a_word_of_harm_is_told(typed: str, kind: HarmKind | None) -> None:
    assert harm_told(typed) == kind
