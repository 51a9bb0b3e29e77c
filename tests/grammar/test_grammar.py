"""What may be said, what it means, and that nothing else means anything."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.strategies import notes, rosters
from voicelog.grammar.automaton import EpsilonFreeGraph
from voicelog.grammar.grammar import Grammar, GrammarError, RecognitionContext, normalize
from voicelog.grammar.jsgf import parse
from voicelog.grammar.pronunciation import Pronouncer
from voicelog.model import Dog, Phrase, Roster
from voicelog.model.phrases import LevelPhrase, named_level, phrase_meaning, phrase_slots

HERE = Path(__file__).parent
ROSTER = Roster(
    dogs=(Dog(name="Bracken"), Dog(name="Wren", cues=("here", "heel"))), handlers=("Anna", "Joe")
)
GRAMMAR = Grammar.load(roster=ROSTER)


def lines(name: str) -> Iterator[str]:
    for line in (HERE / name).read_text(encoding="utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            yield line


def meant(phrases: tuple[Phrase, ...] | None) -> str | None:
    """Phrases as accept.txt writes them."""
    if phrases is None:
        return None
    return "; ".join(
        " ".join(
            [p.kind, *(f"{k}={v}".replace(" ", "_") for k, v in sorted(phrase_slots(p).items()))]
        )
        for p in phrases
    )


def sorted_slots(meaning: str) -> str:
    return "; ".join(
        " ".join([phrase.split()[0], *sorted(phrase.split()[1:])]) for phrase in meaning.split(";")
    )


ACCEPTED = [tuple(line.split("->")) for line in lines("accept.txt")]


@pytest.mark.parametrize(("words", "meaning"), ACCEPTED, ids=[words for words, _ in ACCEPTED])
def test_what_may_be_said_means_what_the_list_says_and_nothing_else(
    words: str, meaning: str
) -> None:
    assert [meant(phrases) for phrases in GRAMMAR.meanings(words)] == [sorted_slots(meaning)]


@pytest.mark.parametrize("words", list(lines("refuse.txt")))
def test_what_is_no_note_means_nothing(words: str) -> None:
    assert GRAMMAR.interpret(words) is None
    assert GRAMMAR.meanings(words) == ()


def test_nothing_said_means_nothing() -> None:
    assert GRAMMAR.interpret("") is None
    assert GRAMMAR.interpret(" ,.!") is None


def test_the_accept_list_says_every_word_and_every_value_of_the_grammar() -> None:
    phrases = [p for words, _ in ACCEPTED for p in GRAMMAR.interpret(words) or ()]
    numbers = set(" ".join(GRAMMAR.numbers("numbers.number").values()).split()) | {"a", "and"}
    said = {word for phrase in phrases for word in phrase.words.split()}
    assert set(GRAMMAR.vocabulary) - numbers - said == set()
    values = {(p.kind, *slot) for p in phrases for slot in phrase_slots(p).items()}
    carried = {(f.kind, *slot) for f in GRAMMAR.forms for slot in f.slots.items()}
    of_names = {"dog", "handler", "cue"}
    assert {
        value for value in carried - values if value[1] not in of_names and "#" not in str(value[2])
    } == set()


# --- one meaning each -----------------------------------------------------------------------


def test_every_form_has_one_meaning() -> None:
    for form in GRAMMAR.forms:
        words = " ".join(part if isinstance(part, str) else "two" for part in form.parts)
        assert len(GRAMMAR.meanings(words)) == 1, words


@given(notes(GRAMMAR))
def test_every_note_has_one_meaning(phrases: tuple[Phrase, ...]) -> None:
    """Except where two phrases run into each other: then the shorter reading is taken."""
    meanings = GRAMMAR.meanings(GRAMMAR.speak(phrases))
    assert meant(phrases) in [meant(meaning) for meaning in meanings]
    assert len(meanings[0]) == min(map(len, meanings))


@settings(max_examples=30)  # each loads a grammar
@given(st.data())
def test_any_reading_spoken_and_read_again_is_the_same(data: st.DataObject) -> None:
    grammar = Grammar.load(roster=data.draw(rosters()))
    phrases = data.draw(notes(grammar))
    assert meant(grammar.interpret(grammar.speak(phrases))) == meant(phrases)


@given(notes(GRAMMAR), notes(GRAMMAR))
def test_words_mean_the_same_anywhere(first: tuple[Phrase, ...], then: tuple[Phrase, ...]) -> None:
    together = GRAMMAR.interpret(f"{GRAMMAR.speak(first)} {GRAMMAR.speak(then)}")
    assert meant(together) == meant((*first, *then))


@given(notes(GRAMMAR), st.sampled_from([str.upper, str.title, lambda w: f"  {w}, "]))
def test_letter_case_and_punctuation_mean_nothing(phrases: tuple[Phrase, ...], write: type) -> None:
    words = GRAMMAR.speak(phrases)
    assert GRAMMAR.interpret(write(words)) == GRAMMAR.interpret(words)


@given(st.text(max_size=80))
def test_no_text_raises(text: str) -> None:
    GRAMMAR.interpret(text)
    assert normalize(normalize(text)) == normalize(text)


@given(notes(GRAMMAR))
def test_the_beginning_of_a_note_is_known_as_one(phrases: tuple[Phrase, ...]) -> None:
    words = GRAMMAR.speak(phrases).split()
    assert all(GRAMMAR.is_note_prefix(" ".join(words[:i])) for i in range(len(words) + 1))
    assert not GRAMMAR.is_note_prefix(" ".join([*words, "zebra"]))


@pytest.mark.parametrize(
    ("first", "goes_on"),
    [
        ("level twenty", "level twenty three"),
        ("here level three", "here level three momentary"),
        ("came", "came slow"),
        ("distraction low", "distraction low birds neck twitch"),
    ],
)
def test_a_phrase_that_is_whole_may_still_go_on(first: str, goes_on: str) -> None:
    assert GRAMMAR.may_go_on(first)
    assert GRAMMAR.goes_on_from(goes_on, first)
    assert not GRAMMAR.goes_on_from(first, first)
    assert not GRAMMAR.goes_on_from(f"{first} yelped", first), "that begins another phrase"
    assert not GRAMMAR.goes_on_from(goes_on, f"yelped {first}"), "that begins otherwise"


@pytest.mark.parametrize("words", ["vibrate", "neck twitch", "thumb off", "level", "zebra", ""])
def test_what_is_at_its_end_or_no_note_goes_on_nowhere(words: str) -> None:
    assert not GRAMMAR.goes_on_from("vibrate came", words)
    assert GRAMMAR.may_go_on(words) is (words == "level")


def test_the_words_of_a_phrase_are_those_it_was_said_with() -> None:
    phrases = GRAMMAR.interpret("Bracken here, level 3, came slow") or ()
    assert [phrase.words for phrase in phrases] == ["bracken here", "level three", "came slow"]


def test_speaking_what_the_grammar_cannot_say_is_refused() -> None:
    phrase = LevelPhrase(do="level", level=5000)
    with pytest.raises(GrammarError) as error:
        GRAMMAR.speak([phrase])
    assert str(error.value) == (
        "Found no words for stimulus {'level': 5000, 'do': 'level'}, wanted something the "
        f"grammar {GRAMMAR.name} can say; choose words from the grammar."
    )


# --- numbers --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spoken", "number"),
    [
        ("zero", 0),
        ("ten", 10),
        ("nineteen", 19),
        ("forty", 40),
        ("forty two", 42),
        ("one hundred", 100),
        ("a hundred", 100),
        ("one hundred five", 105),
        ("one hundred and five", 105),
        ("a hundred and twenty seven", 127),
        ("nine hundred ninety nine", 999),
    ],
)
def test_numbers_are_said_as_people_say_them(spoken: str, number: int) -> None:
    (phrase,) = GRAMMAR.interpret(f"level {spoken}") or ()
    assert named_level(phrase) == number


def test_every_number_comes_back_spoken_and_typed() -> None:
    for number in range(1000):
        phrase = LevelPhrase(do="level", level=number)
        spoken = GRAMMAR.speak([phrase])
        for words in (spoken, f"level {number}", f"Level {number}."):
            assert phrase_meaning(GRAMMAR.interpret(words) or ()) == phrase_meaning([phrase])


def test_words_of_spells_digits_and_leaves_what_it_cannot_say() -> None:
    assert GRAMMAR.verbalize("Level 23, came.") == "level twenty three came"
    assert GRAMMAR.verbalize("level 1000") == "level 1000"


# --- what a listener expects ----------------------------------------------------------------


def goes(graph: EpsilonFreeGraph, words: str) -> bool:
    states = {graph.start}
    for word in words.split():
        states = {step.state for s in states for step in graph.onward(s).get(word, ())}
    return any(graph.stops(state) for state in states)


NARROW = EpsilonFreeGraph(GRAMMAR.network(RecognitionContext(top_level=20)))


@pytest.mark.parametrize("words", ["level twenty", "tap zero", "up to twelve", "level three came"])
def test_levels_up_to_the_top_are_expected(words: str) -> None:
    assert goes(NARROW, words)


@pytest.mark.parametrize("words", ["level twenty one", "tap thirty", "dial one hundred"])
def test_levels_above_the_top_are_not_expected(words: str) -> None:
    assert not goes(NARROW, words)
    assert goes(GRAMMAR.graph, words)


@pytest.mark.parametrize(
    "words", ["distance fifty metres", "temperature thirty", "strike rep ninety"]
)
def test_narrowing_leaves_other_numbers_alone(words: str) -> None:
    assert goes(NARROW, words)


@pytest.mark.parametrize("top", [1, 9, 20, 100, 127])
def test_exactly_the_levels_of_the_transmitter_are_expected(top: int) -> None:
    graph = EpsilonFreeGraph(GRAMMAR.network(RecognitionContext(top_level=top)))
    numbers = GRAMMAR.numbers("numbers.level")
    assert [n for n in range(200) if goes(graph, f"level {numbers[n]}")] == list(range(top + 1))


# --- names ----------------------------------------------------------------------------------


def test_names_come_back_as_they_are_written() -> None:
    roster = Roster(dogs=(Dog(name="O'Malley"), Dog(name="Old Nan")), handlers=("Mary-Ann",))
    grammar = Grammar.load(roster=roster)
    assert meant(grammar.interpret("next dog o'malley")) == "session do=next dog=O'Malley"
    assert meant(grammar.interpret("old nan here")) == ("cue cue=here cue_by=voice dog=Old_Nan")
    assert meant(grammar.interpret("handler mary-ann")) == "session do=handler handler=Mary-Ann"


def test_without_a_roster_no_dog_can_be_named() -> None:
    grammar = Grammar.load()
    assert grammar.interpret("start session bracken") is None
    assert grammar.interpret("here level two came") is not None


def test_names_and_grammars_are_part_of_the_grammars_name() -> None:
    assert Grammar.load().name != GRAMMAR.name
    assert Grammar.load(roster=ROSTER).name == GRAMMAR.name


# --- folders --------------------------------------------------------------------------------


def test_every_word_of_the_grammars_can_be_pronounced() -> None:
    say = Pronouncer()
    words = set(GRAMMAR.vocabulary)
    words |= set(Grammar.load(roster=ROSTER, optional=["radiotelephony"]).vocabulary)
    assert len(words) > 150
    assert [word for word in words if not say.variants(word)] == []


def test_grammar_files_use_lower_case_words_and_nothing_else() -> None:
    assert [
        word for word in GRAMMAR.vocabulary if not re.fullmatch(r"[a-z]+('[a-z]+)?", word)
    ] == []


def test_an_unknown_opt_in_grammar_is_named_with_those_there_are() -> None:
    with pytest.raises(GrammarError, match=r"^Found no opt-in grammar 'morse' in '.*', wanted one "
                                           r"of: radiotelephony; correct the name\.$"):  # fmt: skip
        Grammar.load(optional=["morse"])


def test_a_folder_without_grammars_is_refused(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "missing"):
        with pytest.raises(GrammarError) as error:
            Grammar.load(folder)
        assert str(error.value) == (
            f"Found no .jsgf files in '{folder}', wanted a folder of grammars; name one."
        )


def test_a_grammar_without_phrases_is_refused() -> None:
    with pytest.raises(GrammarError, match=r"^Found no phrases in the grammar odd, wanted at "):
        Grammar([parse("#JSGF V1.0; grammar animals; public <a> = cat;")], name="odd")


def test_a_word_added_to_a_file_is_a_word_of_the_grammar(tmp_path: Path) -> None:
    (tmp_path / "reward.jsgf").write_text(
        "#JSGF V1.0;\ngrammar reward;\npublic <r> = liver {reward=liver};\n", encoding="utf-8"
    )
    assert meant(Grammar.load(tmp_path).interpret("liver")) == "reward reward=liver"


def test_a_rule_that_follows_itself_lists_its_forms_once() -> None:
    grammar = Grammar([parse("#JSGF V1.0; grammar condition; public <a> = x [<a>];")], name="x")
    assert {form.parts for form in grammar.forms} == {("x",), ("x", "x")}
    assert grammar.interpret("x x x x") is not None


def test_a_long_note_is_read_in_one_go() -> None:
    assert len(GRAMMAR.interpret("here level three came " * 500) or ()) == 1500
