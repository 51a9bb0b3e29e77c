"""What is told of a name or cue that is heard as something else."""

from __future__ import annotations

from typing import get_args

import pytest

from voicelog.grammar.name_conflicts import NameConflict
from voicelog.grammar.sound_alikes import Mistaken
from voicelog.report.roster_words import HEARD_AS, heard_as_words


def test_both_words_stand_in_it_how_soon_it_happens_and_what_to_do() -> None:
    tree = NameConflict("dog", "Tree", "three", "easily", ("Toffee", "Magpie", "Bruno"))
    assert heard_as_words(tree) == (
        "The name 'Tree' is easily heard as 'three'. Another is safer, for example 'Toffee', "
        "'Magpie' or 'Bruno'; or check it in the evening."
    )


def test_a_name_that_is_a_word_of_the_notes_is_not_said_to_sound_like_itself() -> None:
    cue = NameConflict("cue", "Come", "come", "same", ("home",))
    assert heard_as_words(cue) == (
        "The cue 'Come' is a word of the notes as well. Another is safer, for example 'home'; or "
        "check it in the evening."
    )


@pytest.mark.parametrize(
    ("better", "told"),
    [
        ((), "Another is safer; or check it in the evening."),
        (("home",), "Another is safer, for example 'home'; or check it in the evening."),
    ],
)
def test_fewer_others_are_told_too(better: tuple[str, ...], told: str) -> None:
    cue = NameConflict("cue", "hup", "up", "sometimes", better)
    assert heard_as_words(cue) == f"The cue 'hup' is sometimes heard as 'up'. {told}"


def test_each_way_has_its_words_and_a_terminal_is_sent_none_of_its_own() -> None:
    assert set(HEARD_AS) == set(get_args(Mistaken))
    assert "\x1b" not in heard_as_words(NameConflict("handler", "A\x1b[2J", "a", "same", ()))
