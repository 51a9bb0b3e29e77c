"""A rule of ordinary richness is loaded and used without making all of its sentences.

Each shape has more sentences than could ever be listed, so whatever listed them would run out
of the memory that the process below is given, or never end.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from voicelog.grammar.ambiguity import ambiguous_words
from voicelog.grammar.completion import completions
from voicelog.grammar.confusability import (
    confusable_names,
    confusable_words,
    derived,
    phrases_without_word,
)
from voicelog.grammar.enumeration import MAX_TEMPLATES
from voicelog.grammar.fuzzy_match import fuzzy_matches
from voicelog.grammar.grammar import MAX_NUMBERS, Grammar, GrammarError
from voicelog.grammar.number_confusions import number_confusions
from voicelog.grammar.reading_card import card
from voicelog.model import Dog, Roster
from voicelog.model.phrases import make_phrase, phrase_meaning, phrase_slots

SHIPPED = Path(__file__).parents[2] / "grammars" / "en"
ROSTER = Roster(dogs=(Dog(name="Bracken"), Dog(name="Wren", cues=("here", "heel"))))
MEMORY = 600 * 2**20  # bytes of address space; the program without its heavy libraries needs 200

WHERE = "( out {where=out} | back {where=back} | left {where=left} | right {where=right} )"
HOW = "( quickly {how=quick} | slowly {how=slow} | straight {how=straight} | wide {how=wide} )"
WHEN = "( first {when=first} | second {when=second} | third {when=third} )"
NOUN = "( dummy {what=dummy} | bird {what=bird} | ball {what=ball} )"
EXTRA = "[ over water {over=water} | over a fence {over=fence} ] [ alone | with <dog> ]"
SLOT = f"[ {WHERE} | {HOW} | {WHEN} ]"
WORDS = (
    *("alpha", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliet"),
    *("kilo", "lima", "mike", "november"),
)
SHAPES = {
    "slots in any order": (
        f"( sent for | sent to find ) {SLOT} {SLOT} {SLOT} the {NOUN} {EXTRA}",
        "sent for slowly out third the ball over water with wren",
    ),
    "slots repeated": (
        f"( sent for | sent to find ) ( [ {WHERE} ] [ {HOW} ] [ {WHEN} ] )* the {NOUN} {EXTRA}",
        "sent for slowly out third wide the ball over water with wren",
    ),
    "optionals inside each other": (
        "sent [ " * 12 + f"[ {WHERE} ] [ {HOW} ] [ {WHEN} ]" + " ] [ now ]" * 12 + f" the {NOUN}",
        "sent " * 12 + "out quickly now now the ball",
    ),
    "alternatives in repeats": (
        f"sent ( {WHERE} | ( {HOW} | [ {WHEN} ] and )+ | {NOUN} [ of {WHERE} ] )+ "
        f"{' '.join([SLOT] * 14)} home",
        "sent slowly and third and ball of out home",
    ),
    "tags on what may be left out": (
        " ".join(f"[ [ {word} ] {{{word}=said}} ]" for word in WORDS) + " the ball",
        "alpha echo foxtrot the ball",
    ),
    "rules in rules": (
        "<a> <a> <a> <a> home; <a> = <b> <b> <b>; <b> = <c> <c> <c>; <c> = [ one ] [ more ] bird",
        " ".join(["one bird"] * 36) + " home",
    ),
}


def folder_of(tmp_path: Path, rule: str) -> Path:
    """The grammar that ships with a rule more in condition.jsgf, where any tag may stand."""
    folder = tmp_path / "en"
    folder.mkdir()
    for path in SHIPPED.glob("*.jsgf"):
        text = path.read_text("utf-8")
        if path.name == "condition.jsgf":
            text = text.replace("grammar condition;", "grammar condition;\nimport <roster.*>;")
            text += f"public <rich> = {rule};\n"
        (folder / path.name).write_text(text, "utf-8")
    return folder


@pytest.fixture(params=SHAPES)
def rich(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str]:
    """A folder with a rich rule, and a note of it."""
    rule, note = SHAPES[request.param]
    return folder_of(tmp_path, rule), note


LOAD = f"""
import resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_AS, ({MEMORY}, {MEMORY}))
from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Roster
grammar = Grammar.load(Path(sys.argv[1]), Roster(dogs=(Dog(name="Wren"),)))
assert grammar.interpret(sys.argv[2]) is not None
assert grammar.interpret("level nine came") is not None
print(len(grammar.forms), grammar.sampled)
"""


@pytest.mark.timeout(120)
def test_it_loads_in_little_memory(rich: tuple[Path, str]) -> None:
    folder, note = rich
    done = subprocess.run(
        [sys.executable, "-c", LOAD, str(folder), note], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    count, _, sampled = done.stdout.strip().partition(" ")
    assert sampled == "('condition.rich',)"
    assert int(count) < 2 * MAX_TEMPLATES


@pytest.mark.timeout(300)
def test_everything_that_lists_words_goes_on_working(rich: tuple[Path, str]) -> None:
    folder, note = rich
    grammar = Grammar.load(folder, ROSTER)
    meant = grammar.interpret(note)
    assert meant is not None
    assert grammar.interpret(grammar.speak(meant)) is not None
    listed = {word for form in grammar.forms for part in form.parts for word in [str(part)]}
    assert set(note.split()) <= listed
    ambiguous_words(grammar)
    confusable_names(grammar)
    confusable_words(grammar, 20)
    derived(grammar)
    phrases_without_word(grammar, "bird")
    assert number_confusions(grammar, "level nine")
    assert all(grammar.interpret(line) is not None for line in card(grammar, 20))
    assert completions(grammar, "level 9 c")[0].words.startswith("level nine c")
    assert completions(grammar, note)[0].words == note
    assert fuzzy_matches(grammar, note.replace("bird", "burd", 1))


def test_a_phrase_of_a_rich_rule_is_spoken_as_it_is_meant(tmp_path: Path) -> None:
    grammar = Grammar.load(folder_of(tmp_path, SHAPES["slots in any order"][0]), ROSTER)
    meant = grammar.interpret("sent to find wide third left the bird over a fence with wren")
    assert meant is not None
    spoken = grammar.speak(meant)
    assert phrase_meaning(grammar.interpret(spoken) or ()) == phrase_meaning(meant)
    silly = make_phrase("condition", phrase_slots(meant[0]) | {"what": "kite"}, "")
    with pytest.raises(GrammarError, match="Found no words for condition"):
        grammar.speak([silly])


def test_the_grammar_that_ships_is_listed_whole() -> None:
    grammar = Grammar.load(SHIPPED, ROSTER)
    assert grammar.sampled == ()
    assert ambiguous_words(grammar) == ()


def test_numbers_that_can_be_said_in_too_many_ways_are_refused(tmp_path: Path) -> None:
    folder = folder_of(tmp_path, "biscuit")
    numbers = folder / "numbers.jsgf"
    ways = " ".join(["( one {1} | two {2} | three {3} )"] * 40)
    numbers.write_text(f"{numbers.read_text('utf-8')}\npublic <long> = {ways};\n", "utf-8")
    with pytest.raises(GrammarError, match=f"Found more than {MAX_NUMBERS} ways to say a number"):
        Grammar.load(folder, ROSTER)
