"""Short forms and slips in typed words: one meaning is taken, several are offered, none is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.grammar.abbreviations import (
    AbbreviationError,
    expansions,
    read_abbreviations,
    typed_pieces,
)
from voicelog.grammar.grammar import Grammar, normalize
from voicelog.grammar.typed_names import spoken_names_in
from voicelog.grammar.typed_note import near_typed, read_typed_note, unknown_words, unread_parts
from voicelog.model import Dog, Roster
from voicelog.model.phrases import phrase_slots

ROSTER = Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren"), Dog(name="Lv")), handlers=("Anna",))
GRAMMAR = Grammar.load(roster=ROSTER)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("l9 c", "level nine came"),
        ("l9c", "level nine came"),
        ("L 9, C", "level nine came"),
        ("here l3 came, neck twitch", "here level three came neck twitch"),
        ("“here” l3 came 🐶", "here level three came"),
        ("nb c nt", "no button came neck twitch"),
        ("ss bracken", "start session bracken"),
        ("rb 2", "rolled back to two"),
        ("lvl 20 ign", "level twenty ignored"),
        ("here twice nb line help", "here called twice no button line help"),
        ("here called twice nb c", "here called twice no button came"),
        ("fitted, contact solid", "collar fitted contact solid"),
        ("recall, dist med, ceiling 6", "drill recall distraction medium ceiling six"),
        ("drill recall dist low field", "drill recall distraction low location field"),
        ("recall low", "drill recall distraction low"),
        ("dist 40 metres", "distance forty metres"),
        ("here tap 5 yelp c", "here tap five yelped came"),
        ("here beep c growl", "here beeped came growled"),
        ("l3 c tail low", "level three came tail low"),
    ],
)
def test_short_forms_of_one_meaning_are_written_out(typed: str, words: str) -> None:
    assert read_typed_note(GRAMMAR, typed) == (words, True, (), None)


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("l3 b", ("level three broke", "level three bolted")),
        ("t3 c", ("tap three came",)),
        ("lv 3 c", ("level three came",)),  # a dog is called so
        ("level free cam", ()),  # its sound is nothing to letters
        ("start session brack", ()),  # a dog is never guessed
        ("ss wre", ()),
        ("good girl then", ()),
        ("l-3 c", ()),
        ("l20.5", ()),
        ("", ()),
    ],
)
def test_what_is_in_doubt_is_only_offered(typed: str, offers: tuple[str, ...]) -> None:
    read = read_typed_note(GRAMMAR, typed)
    assert not read.sure
    assert read.offers[: len(offers)] == offers
    assert bool(read.offers) == bool(offers)


@pytest.mark.parametrize(
    ("typed", "near"),
    [
        ("skin red left side", "skin red"),
        ("drill recall, birds", None),  # how much distraction was not typed
        ("skin red toe", "skin red"),  # no tone
        ("here nt c left side", "here neck twitch came"),
        ("yelpd at l5", "yelped level five"),
        ("drill recall hens", "drill recall"),
        ("level free cam", None),  # a level that was not typed
        ("l3 nearly came", None),
        ("tone wouldn't yelp c", None),
        ("no", None),
        ("committed to it", None),
        ("contact wrne here", None),  # who stands before a cue may be another dog
        ("l3 44 c", None),
        ("here no button came, gave her a dummy", "here no button came threw a dummy"),
        ("here came, good girl", "here came"),
        ("here came, 2 good girls", None),  # a number is not talk
        ("here came, not good", None),  # nor what turns the meaning
        ("here l3 came back slow to me", None),  # nor half of how it ended
        ("here l3, then yelpd badly, came", None),  # nor a slip of a sign
        ("here wren nb came with a big smile", None),  # nor a name
    ],
)
def test_only_a_note_that_lies_in_the_text_stands_until_it_is_read(
    typed: str, near: str | None
) -> None:
    read = read_typed_note(GRAMMAR, typed)
    assert (read.sure, read.near) == (False, near)


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("skin red left side", ("skin red",)),
        ("skin red toe", ("skin red",)),  # not "skin red tone", a press
        ("skin sore left toes", ("skin sore",)),
        ("here nt c left side", ("here neck twitch came",)),
        ("tapp 3 c", ("tap three came",)),  # a slip of a press is a word for it
        ("vibr", ("vibrate", "vibration")),  # and so is its beginning
    ],
)
def test_a_press_is_offered_only_where_something_of_one_was_typed(
    typed: str, offers: tuple[str, ...]
) -> None:
    """A wrong key would book a press that nobody gave."""
    assert read_typed_note(GRAMMAR, typed).offers[: len(offers)] == offers
    told = [GRAMMAR.interpret(one) or () for one in read_typed_note(GRAMMAR, typed).offers]
    pressed = {one.kind for phrases in told for one in phrases if one.kind == "stimulus"}
    assert bool(pressed) == any("tap" in one or "vibra" in one for one in offers)


PIECES = "skin red left side drill birds here l3 c yelpd nb and lvl tapp then"


@given(st.lists(st.sampled_from(PIECES.split())))
def test_what_stands_holds_no_press_sign_or_stop_that_was_not_typed(pieces: list[str]) -> None:
    """Each word of it is one that was typed, a short form of one, or one slip away from it."""
    own = {
        "yelpd": "yelped",
        "tapp": "tap",
        "nb": "no button",
        "l3": "level three",
        "c": "came",
        "lvl": "level",
    }
    read = read_typed_note(GRAMMAR, " ".join(pieces))
    may_stand = " ".join(own.get(piece, piece) for piece in pieces).split()
    for word in (read.near or "").split():
        assert word in may_stand


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("l5 twich", [("twich", "twitch")]),
        ("here l3 came", []),
        ("yelpd, brackn", [("yelpd", "yelped"), ("brackn", None)]),
        ("xq", [("xq", None)]),
        ("skin red left side", [("left", None), ("side", None)]),  # not "lift"
        ("skin red toe", [("toe", None)]),  # not "tone"
        ("zzzzz 12 came", [("zzzzz", None)]),
    ],
)
def test_an_unknown_word_is_named_with_a_likely_one(
    typed: str, found: list[tuple[str, str | None]]
) -> None:
    assert unknown_words(GRAMMAR, typed) == tuple(found)


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("stim 4", ("level four", "tap four")),
        ("level 4 nick", ("level four momentary",)),
        ("retrive", ("retrieve",)),
        ("here no button c, retrive", ("here no button came retrieve",)),
        ("came, dummy", ("came threw a dummy",)),
        ("here levl 3 came", ("here level three came",)),
    ],
)
def test_what_is_offered_for_letters_comes_of_letters_and_puts_in_no_number(
    typed: str, offers: tuple[str, ...]
) -> None:
    read = read_typed_note(GRAMMAR, typed)
    assert (read.sure, read.offers) == (False, offers)


def test_two_wordings_of_one_press_are_no_doubt() -> None:
    assert read_typed_note(GRAMMAR, "here nick 4 c") == ("here nick four came", True, (), None)


def test_a_typed_number_is_offered_as_no_other() -> None:
    assert near_typed(GRAMMAR, "level 30", ["level thirteen", "level thirty"]) == ("level thirty",)
    assert near_typed(GRAMMAR, "level 25", ["level five", "level seventy"]) == ()


def test_every_short_form_stands_for_words_of_the_grammar_and_is_none_itself() -> None:
    plain = Grammar.load(roster=Roster(dogs=(Dog(name="Bracken"),)))
    assert plain.abbreviations
    for short, meanings in plain.abbreviations.items():
        if short not in ("nick", "stim"):  # they say no press where they stand
            assert short not in plain.words or all(short in words.split() for words in meanings)
        for words in meanings:
            assert plain.words.issuperset(words.split())


def test_a_table_with_a_slip_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "abbreviations.txt"
    for slip in ("l level", "l =", "l = level\nl = left", "9 = nine"):
        path.write_text(f"# short\n{slip}\n", encoding="utf-8")
        with pytest.raises(AbbreviationError, match=r"abbreviations.txt, line [23]"):
            read_abbreviations(path)
    assert read_abbreviations(tmp_path / "none.txt") == {}


def test_as_many_expansions_as_are_looked_at_and_no_more() -> None:
    assert len(expansions(typed_pieces({"b": ("broke", "bolted")}, (), "b " * 30))) == 64


@given(st.lists(st.sampled_from(["l", "3", "c", "b", "wren", "brack", "ss", "t", "came"])))
def test_a_name_that_was_not_typed_is_in_no_reading(pieces: list[str]) -> None:
    read = read_typed_note(GRAMMAR, " ".join(pieces))
    for words in (read.words, *read.offers):
        for phrase in GRAMMAR.interpret(words) or ():
            for name in spoken_names_in(phrase_slots(phrase)):
                assert name in pieces


@pytest.mark.parametrize(
    ("typed", "parts"),
    [
        ("here no button came, gave her a dummy", [("gave her a", None)]),
        ("collar fitted, 1 finger", [("1 finger", None)]),
        ("heere no button came", [("heere", "here")]),
        ("here level 3 ear flick came at 6", [("at 6", None)]),  # of several, none
        ("foggy, here came, not herself", [("foggy", None), ("not herself", None)]),
        ("she was lazy today", [("she was lazy today", None)]),
        ("level 4 nick", []),
        ("", []),
    ],
)
def test_the_parts_of_a_line_that_are_no_note_are_named(
    typed: str, parts: list[tuple[str, str | None]]
) -> None:
    assert [tuple(one) for one in unread_parts(GRAMMAR, typed)] == parts


@pytest.mark.parametrize(
    "typed",
    [
        "skin not red",
        "skin bit red",
        "no yelp",
        "here level 3 no yelp",
        "here level 3 no yelp came",
        "didn't yelp",
        "here level 3 didn't yelp, came",
        "almost came",
        "here level 3 almost came",
        "maybe yelped",
        "here lvl 3 maybe came",
        "pressed 4, nothing, no response",
        "yelped at 7",
        "collar fitted, 1 finger",
        "wren skin clear",
    ],
)
def test_an_offer_drops_no_word_that_turns_the_meaning_and_adds_none(typed: str) -> None:
    read = read_typed_note(GRAMMAR, typed)
    assert (read.sure, read.near, read.offers) == (False, None, ())


@pytest.mark.parametrize(
    ("typed", "offers"),
    [
        ("here tone came good", ("here tone came",)),
        ("here level 3 did not come in", ("here level three did not come",)),
        ("hear", ("here",)),
        ("hear level 3 came", ("here level three came",)),
        ("skin read", ("skin red",)),
        ("nobutton", ("no button",)),
        ("here nobutton came", ("here no button came",)),
        ("level for came", ()),  # no number for its sound
    ],
)
def test_an_english_word_is_offered_only_as_one_that_sounds_the_same(
    typed: str, offers: tuple[str, ...]
) -> None:
    assert read_typed_note(GRAMMAR, typed).offers == offers


TURNS = "no not never didn't don't doesn't wasn't isn't hardly almost nearly without bit maybe"
SAID = "here level 3 came yelped yelp skin red ignored nothing good pressed in then"


@given(
    st.lists(st.sampled_from(SAID.split()), min_size=1, max_size=6),
    st.sampled_from(TURNS.split()),
    st.integers(0, 6),
)
def test_no_offer_for_a_sentence_with_a_negation_is_without_it(
    said: list[str], turn: str, place: int
) -> None:
    said.insert(place, turn)
    read = read_typed_note(GRAMMAR, " ".join(said))
    for words in (*read.offers, *filter(None, [read.near])):
        assert turn in words.split()
        assert ("yelped" in words) == any(one.startswith("yelp") for one in said)
        assert ("ignored" in words) == ("ignored" in said)


@pytest.mark.parametrize(
    "typed",
    [
        "here level 3? came",
        "here level 3+ came",
        "here l3+ c",
        "here level ~3 came",
        "level 3 ?",
    ],
)
def test_a_mark_of_doubt_by_a_number_is_asked_about(typed: str) -> None:
    read = read_typed_note(GRAMMAR, typed)
    assert not read.sure
    assert read.offers == (read.near,)
    assert "level three" in read.words


def test_about_a_level_is_asked_about() -> None:
    for about in ("about", "ca", "circa", "roughly"):
        read = read_typed_note(GRAMMAR, f"here level {about} 3 came")
        assert (read.sure, read.near) == (False, "here level three came")


def test_twice_after_a_press_may_be_calls_or_presses() -> None:
    read = read_typed_note(GRAMMAR, "here level 3 twice came")
    both = ("here level three called twice came", "here level three level three came")
    assert (read.sure, read.near, read.offers) == (False, None, both)
    assert near_typed(GRAMMAR, "here level 3 twice came", both) == both
    assert read_typed_note(GRAMMAR, "here twice level 3 came").sure
    assert read_typed_note(GRAMMAR, "here level 3 called twice came").sure


@given(st.text(max_size=40))
def test_the_parts_of_any_text_are_its_own_words(text: str) -> None:
    typed = "".join(normalize(text).split())
    assert all(one.part.replace(" ", "") in typed for one in unread_parts(GRAMMAR, text))


@pytest.mark.parametrize(
    "typed",
    [
        "here level 6, yip, came",
        "here level 6, yiped, came",
        "here level 6, squeaked, came",
        "here level 3 but hid behind me, came",
        "here level 6 jerked, came",
        "here level 4 flattened, came",
        "here level 4, head shake, came",
        "here level 4 tail under, came",
        "here level 4 came, went stiff",
        "here level 4 came, neck warm",
        "here level 4 came, held up a paw",
        "here level 4 came, lay down",
        "here level 4 came, off food",
    ],
)
def test_no_offer_drops_a_word_that_may_tell_of_harm(typed: str) -> None:
    read = read_typed_note(GRAMMAR, typed)
    assert (read.sure, read.near) == (False, None)
    assert not [one for one in read.offers if set(one.split()) <= set(KEPT.split())]


KEPT = "here level three four six came"


def test_what_tells_of_no_harm_may_still_go() -> None:
    read = read_typed_note(GRAMMAR, "here level 4 came, lovely day")
    assert read.near == "here level four came"
