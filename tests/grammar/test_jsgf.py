"""JSGF is read as its Note says, and a mistake is refused at its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.grammar.accepting import accepts, graph_of
from voicelog.grammar.grammar import Grammar
from voicelog.grammar.jsgf import (
    NULL,
    VOID,
    Alternatives,
    GrammarSyntaxError,
    OptionalItem,
    Repeat,
    SequenceItem,
    Tag,
    Tagged,
    Token,
    parse,
    read,
)

HERE = Path(__file__).parent
SENTENCES = [
    line
    for line in (HERE / "broken.txt").read_text(encoding="utf-8").splitlines()
    if not line.startswith("#")
]


@pytest.mark.parametrize("sentence", SENTENCES, ids=lambda sentence: sentence.partition(".")[0])
def test_a_mistake_is_refused_with_its_place_what_was_found_and_what_was_wanted(
    sentence: str,
) -> None:
    with pytest.raises(GrammarSyntaxError) as error:
        Grammar([read(HERE / sentence.partition(",")[0])], name="broken")
    assert str(error.value) == sentence


def test_every_broken_grammar_has_its_sentence() -> None:
    assert sorted(f"broken/{path.name}" for path in (HERE / "broken").glob("*.jsgf")) == sorted(
        sentence.partition(",")[0] for sentence in SENTENCES
    )


def refused(text: str) -> GrammarSyntaxError | None:
    try:
        parse(text)
    except GrammarSyntaxError as error:
        return error
    return None


def body(expansion: str) -> object:
    (rule,) = parse(f"#JSGF V1.0; grammar g; public <a> = {expansion};").rules
    return rule.expansion


A, B, C = Token("a"), Token("b"), Token("c")


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("a", A),
        ("A", A),
        ("a b", SequenceItem((A, B))),
        ("a | b", Alternatives((A, B), (1.0, 1.0))),
        ("a b | c", Alternatives((SequenceItem((A, B)), C), (1.0, 1.0))),
        ("(a | b) c", SequenceItem((Alternatives((A, B), (1.0, 1.0)), C))),
        ("((a))", A),
        ("[a]", OptionalItem(A)),
        ("a*", Repeat(A, 0)),
        ("a+", Repeat(A, 1)),
        ("a b*", SequenceItem((A, Repeat(B, 0)))),
        ("(a b)+", Repeat(SequenceItem((A, B)), 1)),
        ("/3/ a | /0.5/ b", Alternatives((A, B), (3.0, 0.5))),
        ("/1e-2/ a | /10f/ b", Alternatives((A, B), (0.01, 10.0))),
        ("a {n=x}", Tagged(A, Tag("n", "x"))),
        ("a {n=5}", Tagged(A, Tag("n", 5))),
        ("a {n=-5}", Tagged(A, Tag("n", -5))),
        ("a {5}", Tagged(A, Tag(None, 5))),
        ("a { n = bit the collar }", Tagged(A, Tag("n", "bit the collar"))),
        ("a {n=\\}}", Tagged(A, Tag("n", "}"))),
        ("a {n=1} {m=2}", Tagged(Tagged(A, Tag("n", 1)), Tag("m", 2))),
        ("a b {n=1}", SequenceItem((A, Tagged(B, Tag("n", 1))))),
        ("(a | b) {n=1}", Tagged(Alternatives((A, B), (1.0, 1.0)), Tag("n", 1))),
        ("<NULL>", NULL),
        ("<VOID>", VOID),
        ('"new york"', SequenceItem((Token("new"), Token("york")))),
        ('"a.b"', Token("a.b")),
        ("o'clock", Token("o'clock")),
        ("a // rest of the line | b\n", A),
        ("a /* b\n */ c", SequenceItem((A, C))),
    ],
    ids=str,
)
def test_expansions_are_read_as_the_note_says(written: str, read: object) -> None:
    assert body(written) == read


def test_a_header_may_name_charset_and_language() -> None:
    for header, language in [
        ("#JSGF V1.0;", ""),
        ("#JSGF V1.0 UTF-8;", ""),
        ("#JSGF V1.0 ISO8859-5 en;", "en"),
        ("#JSGF  V1.0  UTF-8  ko ;", "ko"),
    ]:
        assert parse(f"{header} grammar g;").language == language


def test_names_imports_and_rules_are_read() -> None:
    grammar = parse(
        "#JSGF V1.0 UTF-8 en; grammar com.acme.polite; import <numbers.*>;\n"
        "import <numbers.level>; <secret> = a; public <open> = b;"
    )
    assert (grammar.name, grammar.imports) == ("com.acme.polite", ("numbers.*", "numbers.level"))
    assert [(rule.name, rule.public, rule.line) for rule in grammar.rules] == [
        ("secret", False, 2),
        ("open", True, 2),
    ]


def test_a_byte_order_mark_is_no_word(tmp_path: Path) -> None:
    path = tmp_path / "cue.jsgf"
    path.write_bytes(b"\xef\xbb\xbf#JSGF V1.0; grammar cue; public <a> = here;")
    assert read(path).name == "cue"


def test_lines_and_columns_count_through_comments_and_windows_lines() -> None:
    with pytest.raises(GrammarSyntaxError) as error:
        parse("#JSGF V1.0;\r\n/* a\r\n b */ grammar g;\r\n<a> = |;")
    assert (error.value.line, error.value.column) == (4, 7)


def test_rules_of_other_files_must_be_public() -> None:
    numbers = "#JSGF V1.0; grammar numbers; <one> = one; public <two> = two;"
    cue = "#JSGF V1.0; grammar condition; import <numbers.*>; public <a> = <{}>;"
    Grammar([parse(cue.format("two")), parse(numbers)], name="g")
    Grammar([parse(cue.format("numbers.two")), parse(numbers)], name="g")
    for private in ("one", "numbers.one"):
        with pytest.raises(GrammarSyntaxError, match=f"found <{private}>, wanted a rule of this"):
            Grammar([parse(cue.format(private)), parse(numbers)], name="g")


@pytest.mark.parametrize(
    "rules",
    ["<a> = go [<a>]", "<a> = go | go <a>", "<a> = go <b>; <b> = <NULL> | <a>"],
)
def test_right_recursion_is_followed(rules: str) -> None:
    graph = graph_of(f"#JSGF V1.0; grammar g; {rules};", "a")
    assert all(accepts(graph, " ".join(["go"] * times)) for times in (1, 2, 30))
    assert not accepts(graph, "go went")


@given(st.text(max_size=60))
def test_any_text_is_a_grammar_or_a_mistake_with_a_place(text: str) -> None:
    for whole in (text, "#JSGF V1.0; grammar g; " + text, "#JSGF V1.0; grammar g; <a> = " + text):
        error = refused(whole)
        assert error is None or 1 <= error.line <= whole.count("\n") + 1
        assert error is None or error.column >= 1


@given(st.lists(st.sampled_from(list('<>()[]{}|/*+;="\\ a1\n#')), max_size=40).map("".join))
def test_any_row_of_signs_is_a_grammar_or_a_mistake(signs: str) -> None:
    error = refused(f"#JSGF V1.0; grammar g; public <a> = {signs};")
    assert error is None or str(error).endswith("; correct the grammar file there.")


@pytest.mark.parametrize("opening", ["(", "[", "a (", "a | ["])
def test_nesting_without_end_is_refused_and_not_run_into(opening: str) -> None:
    with pytest.raises(GrammarSyntaxError, match="at most 20 brackets inside each other"):
        parse("#JSGF V1.0; grammar g; <a> = " + opening * 100_000)


def test_a_grammar_with_thousands_of_words_is_read() -> None:
    words = " | ".join(f"w{number}" for number in range(3000))
    grammar = Grammar([parse(f"#JSGF V1.0; grammar condition; public <a> = {words};")], name="g")
    assert len(grammar.vocabulary) == 3000
    assert grammar.interpret("w17 w2999") is not None


def test_a_row_of_things_that_may_be_left_out_is_read() -> None:
    rule = "[a] ([b] | [c]) " * 100 + "end"
    grammar = Grammar([parse(f"#JSGF V1.0; grammar condition; public <a> = {rule};")], name="g")
    assert grammar.interpret("end") is not None
    assert grammar.interpret("a c a b end") is not None
