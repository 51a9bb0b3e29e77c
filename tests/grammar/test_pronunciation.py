"""Every word can be pronounced, the surest source first, and only in the model's phones."""

from __future__ import annotations

import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import Levenshtein

from voicelog.grammar.pronunciation import (
    PHONES,
    NoDictionaryError,
    NoPronunciationError,
    Origin,
    Phones,
    Pronouncer,
    edit_distance,
    phone_distance,
    shipped_dictionary,
    sound_similarity,
)

SAY = Pronouncer()

phones = st.lists(st.sampled_from(sorted(PHONES)), max_size=8).map(tuple)


def said(word: str) -> list[str]:
    return [" ".join(variant) for variant in SAY.variants(word)]


@pytest.mark.parametrize(
    ("word", "origin", "first"),
    [
        ("level", "dictionary", "L EH V AH L"),
        ("Bracken", "dictionary", "B R AE K AH N"),
        ("Zoë", "dictionary", "Z OW IY"),
        ("O'Hara", "dictionary", "OW HH EH R AH"),
        ("O’Hara", "dictionary", "OW HH EH R AH"),
        ("squealed", "inflection", "S K W IY L D"),
        ("cowered", "inflection", "K AW ER D"),
        ("whined", "inflection", "W AY N D"),
        ("kennelled", "inflection", "K EH N AH L D"),
        ("clingy", "inflection", "K L IH NG IY"),
        ("Bracken's", "inflection", "B R AE K AH N Z"),
        ("sheepdog", "compound", "SH IY P D AO G"),
        ("sheepdogs", "compound", "SH IY P D AO G Z"),
        ("sheepdog's", "inflection", "SH IY P D AO G Z"),
        ("bird-dog", "compound", "B ER D D AO G"),
        ("Kyla", "letters", "K AY L AH"),
        ("Rhu", "letters", "R UW"),
        ("hup", "letters", "HH AH P"),
        ("Rhu's", "letters", "R UW Z"),
        ("Bracken-Rhu", "letters", "B R AE K AH N R UW"),
    ],
)
def test_a_word_comes_from_the_surest_source(word: str, origin: Origin, first: str) -> None:
    assert (SAY.origin(word), said(word)[0]) == (origin, first)


def test_all_listed_variants_come_in_the_order_of_the_dictionary() -> None:
    assert said("the") == ["DH AH", "DH IY"]
    assert said("read") == ["R EH D", "R IY D"]


def test_a_compound_offers_the_reading_by_letters_and_by_parts() -> None:
    assert said("deerhound") == ["D IH ER HH AW N D", "D IH R HH AW N D"]
    assert "T IY Z AH L" in said("Teasel")


def test_an_inflection_keeps_every_variant_of_its_stem() -> None:
    assert said("trialled") == ["T R AY AH L D", "T R AY L D"]


@pytest.mark.parametrize(
    ("dictionary", "word", "expected"),
    [
        ("yelp Y EH L P", "yelped", "Y EH L P T"),
        ("bolt B OW L T", "bolted", "B OW L T IH D"),
        ("hop HH AA P\nhope HH OW P", "hoped", "HH OW P T"),
        ("hop HH AA P\nhope HH OW P", "hopped", "HH AA P T"),
        ("hop HH AA P\nhope HH OW P", "hoping", "HH OW P IH NG"),
        ("point P OY N T\npointe P W AE N T", "pointed", "P OY N T IH D"),
        ("steady S T EH D IY", "steadied", "S T EH D IY D"),
        ("fly F L AY", "flies", "F L AY Z"),
        ("watch W AA CH", "watches", "W AA CH IH Z"),
        ("nose N OW Z", "noses", "N OW Z IH Z"),
        ("tap T AE P", "taps", "T AE P S"),
        ("moss M AO S", "moss's", "M AO S IH Z"),
        ("mud M AH D", "muddy", "M AH D IY"),
        ("whistle W IH S AH L", "whistler", "W IH S AH L ER"),
    ],
)
def test_endings_sound_as_english_says_them(
    dictionary: str, word: str, expected: str, tmp_path: Path
) -> None:
    file = tmp_path / "own.dict"
    file.write_text(dictionary + "\n")
    say = Pronouncer(file)
    assert say.origin(word) == "inflection"
    assert [" ".join(variant) for variant in say.variants(word)] == [expected]


@given(st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=12))
@settings(max_examples=25, deadline=None)
def test_any_letters_give_phones_of_the_model(word: str) -> None:
    variants = SAY.variants(word)
    assert variants
    assert all(variant and PHONES.issuperset(variant) for variant in variants)


@pytest.mark.parametrize("name", ["Zoë", "Siân", "Søren", "Ægir", "Łata", "Þor", "D'Arcy-Féy's"])
def test_accented_and_joined_names_are_pronounced(name: str) -> None:
    assert all(v and PHONES.issuperset(v) for v in SAY.variants(name))


def test_a_word_of_silent_letters_still_sounds() -> None:
    assert said("hh") == ["HH HH"]


def test_case_and_accents_do_not_change_the_sound() -> None:
    assert SAY.variants("ZOË") == SAY.variants("zoe")


@pytest.mark.parametrize(
    "word", ["", " ", "-", "'", "42", "b2", "two words", "Ольга", "犬", "a--b"]
)
def test_what_is_not_a_word_is_refused(word: str) -> None:
    with pytest.raises(NoPronunciationError) as caught:
        SAY.variants(word)
    assert caught.value.word == word
    assert str(caught.value) == (
        f"The word {word!r} cannot be pronounced; letters a to z were wanted, with hyphens or "
        "apostrophes between them: spell it as it is said, numbers as words."
    )


@given(st.text(max_size=6))
@settings(max_examples=50, deadline=None)
def test_no_text_fails_in_another_way(text: str) -> None:
    with suppress(NoPronunciationError):
        assert all(PHONES.issuperset(variant) for variant in SAY.variants(text))


def test_a_missing_dictionary_is_named(tmp_path: Path) -> None:
    missing = tmp_path / "none.dict"
    with pytest.raises(NoDictionaryError) as caught:
        Pronouncer(missing).variants("level")
    assert str(caught.value) == (
        f"No pronouncing dictionary was found at {missing}; the file cmudict-en-us.dict of the "
        "pocketsphinx package was wanted: install pocketsphinx again."
    )


def test_a_missing_package_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.grammar.pronunciation.find_spec", lambda _name: None)
    with pytest.raises(NoDictionaryError, match="beside the pocketsphinx package"):
        shipped_dictionary()


def test_an_empty_dictionary_leaves_the_commonest_sounds(tmp_path: Path) -> None:
    file = tmp_path / "empty.dict"
    file.write_text("")
    assert Pronouncer(file).variants("bob") == (("B", "OW", "B"),)


def test_entries_with_other_phones_are_passed_over(tmp_path: Path) -> None:
    file = tmp_path / "odd.dict"
    file.write_text("uh SIL\nuh(2) AH\n")
    assert Pronouncer(file).variants("uh") == (("AH",),)


def test_the_engine_is_not_loaded() -> None:
    code = (
        "import sys; from voicelog.grammar.pronunciation import Pronouncer; "
        "Pronouncer().variants('level'); "
        "print([m for m in sys.modules if m.split('.')[0] in ('pocketsphinx', 'numpy')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_the_phones_are_those_of_the_acoustic_model() -> None:
    model = (shipped_dictionary().parent / "en-us" / "mdef").read_bytes()
    named = model[model.index(b"+NSN+") :].split(b"\0")[:60]
    assert PHONES | {"SIL"} <= {name.decode("ascii", "ignore") for name in named}


def test_a_phrase_joins_its_words_with_the_usual_variants_first() -> None:
    assert SAY.phrase("gone away") == SAY.phrase(" gone  away ")
    first = SAY.variants("the")[0] + SAY.variants("collar")[0]
    assert SAY.phrase("the collar")[0] == first
    assert len(SAY.phrase("the the the the the", limit=4)) == 4
    with pytest.raises(NoPronunciationError):
        SAY.phrase(" ")


@given(phones, phones)
def test_edits_are_the_levenshtein_distance(a: Phones, b: Phones) -> None:
    assert edit_distance(a, b) == Levenshtein.distance(a, b)


@given(phones, phones)
def test_distance_is_symmetric_and_never_above_edits(a: Phones, b: Phones) -> None:
    assert phone_distance(a, b) == pytest.approx(phone_distance(b, a))
    assert 0 <= phone_distance(a, b) <= edit_distance(a, b)
    assert (phone_distance(a, b) == 0) == (a == b)


def test_similar_phones_are_nearer_than_unlike_ones() -> None:
    bee, pea, see = ("B", "IY"), ("P", "IY"), ("S", "IY")
    assert phone_distance(bee, pea) == pytest.approx(0.3)
    assert phone_distance(bee, see) == 1


def test_a_name_that_sounds_like_a_command_is_found() -> None:
    assert sound_similarity("Bird", "bird") == 1
    assert sound_similarity("Rhu", "roo") == 1
    assert sound_similarity("hup", "up") == pytest.approx(1 - 0.7 / 3)
    assert sound_similarity("Tess", "test") > 0.75
    assert sound_similarity("Bracken", "praised") < 0.5
    assert sound_similarity("gone away", "level") < 0.5


@pytest.mark.parametrize(("a", "b"), [("Fenn", "ten"), ("gone away", "came"), ("hup", "up")])
def test_likeness_is_symmetric_and_a_share(a: str, b: str) -> None:
    assert 0 <= sound_similarity(a, b) <= 1
    assert sound_similarity(a, b) == pytest.approx(sound_similarity(b, a))


def test_the_last_line_of_a_dictionary_needs_no_newline(tmp_path: Path) -> None:
    file = tmp_path / "short.dict"
    file.write_text("up AH P")
    assert Pronouncer(file).variants("up") == (("AH", "P"),)
    assert Pronouncer(file).variants("pup") == (("P", "AH", "P"),)
