"""Read JSGF grammars (W3C Note, 5 June 2000) into expansions.

The whole of the Note's rule syntax is read. Two things are ours: tags may only be
`name=value` or a whole number, so that a grammar file carries meaning and never code;
and a rule may refer to itself only at its very end (the Note allows right recursion).

A mistake is refused with file, line, column, what was found and what was wanted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from voicelog.model import VoicelogError

__all__ = [
    "NULL",
    "VOID",
    "Alternatives",
    "Expansion",
    "GrammarRule",
    "GrammarSyntaxError",
    "JsgfGrammar",
    "OptionalItem",
    "Repeat",
    "RuleRef",
    "SequenceItem",
    "Tag",
    "Tagged",
    "Token",
    "parse",
    "read",
]


class GrammarSyntaxError(VoicelogError):
    """A grammar file that cannot be read, with the place of the mistake."""

    def __init__(self, source: str, line: int, column: int, found: str, wanted: str) -> None:
        self.source, self.line, self.column = source, line, column
        self.found, self.wanted = found, wanted
        shown = " ".join(found.splitlines())  # a tag may run over the end of a line
        super().__init__(
            f"{source}, line {line}, column {column}: found {shown}, wanted {wanted}; "
            "correct the grammar file there."
        )


@dataclass(frozen=True, slots=True)
class Tag:
    """`{name=value}`, or `{5}`, which has no name and adds 5 to the number being spoken.

    The value "#" stands for that number, "-#" for its negative.
    """

    name: str | None
    value: str | int


@dataclass(frozen=True, slots=True)
class Token:
    """A word to be spoken."""

    word: str


@dataclass(frozen=True, slots=True)
class RuleRef:
    """A reference to a rule, by simple or full name, and where it stands."""

    name: str
    line: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True)
class SequenceItem:
    """Expansions spoken one after the other; an empty one is <NULL>."""

    items: tuple[Expansion, ...]


@dataclass(frozen=True, slots=True)
class Alternatives:
    """One of several expansions, with relative weights; none at all is <VOID>."""

    options: tuple[Expansion, ...]
    weights: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class OptionalItem:
    """An expansion that may be left out."""

    item: Expansion


@dataclass(frozen=True, slots=True)
class Repeat:
    """An expansion spoken `least` (0 or 1) or more times."""

    item: Expansion
    least: int


@dataclass(frozen=True, slots=True)
class Tagged:
    """An expansion that, once spoken, carries a tag."""

    item: Expansion
    tag: Tag


Expansion = Token | RuleRef | SequenceItem | Alternatives | OptionalItem | Repeat | Tagged

NULL = SequenceItem(())
VOID = Alternatives((), ())


@dataclass(frozen=True, slots=True)
class GrammarRule:
    """A named expansion; only a public one may be imported, or spoken on its own."""

    name: str
    public: bool
    expansion: Expansion
    line: int = 0


@dataclass(frozen=True, slots=True)
class JsgfGrammar:
    """One grammar file: its name, its imports ("numbers.level", "numbers.*"), its rules."""

    name: str
    source: str
    language: str
    imports: tuple[str, ...]
    rules: tuple[GrammarRule, ...]


MAX_NESTING = 20
MAX_TAGS = 8
"""Brackets inside each other, and tags on one item; more no person wrote."""

_LEXEME = re.compile(
    r"""
      (?P<space>\s+)
    | (?P<comment>//[^\n]*|/\*.*?\*/)
    | (?P<header>\#JSGF\b[^;\n]*;)
    | (?P<rule><[^<>\s]+>)
    | (?P<tag>\{(?:\\.|[^\\{}])*\})
    | (?P<weight>/\s*[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?[fFdD]?\s*/)
    | (?P<quoted>"(?:\\.|[^"\\])*")
    | (?P<mark>[=|;()\[\]*+])
    | (?P<word>[^\s;=|*+<>()\[\]{}/"]+)
    """,
    re.VERBOSE | re.DOTALL,
)
_RULE_NAME = re.compile(r"[^\s.<>*]+(?:\.[^\s.<>*]+)*")
_IMPORT_NAME = re.compile(r"[^\s.<>*]+(?:\.[^\s.<>*]+)*\.(?:\*|[^\s.<>*]+)")
_TAG = re.compile(r"\s*(?P<name>[a-z][a-z0-9_]*)\s*=\s*(?P<value>.*\S)\s*", re.DOTALL)
_HEADER = re.compile(r"#JSGF\s+V1\.0(?:\s+(?P<charset>\S+?))?(?:\s+(?P<locale>\S+?))?\s*;")


@dataclass(frozen=True, slots=True)
class _Lexeme:
    kind: str
    text: str
    line: int
    column: int

    def __str__(self) -> str:
        return "the end of the file" if self.kind == "end" else f"'{self.text}'"


def _lexemes(text: str, source: str) -> Iterator[_Lexeme]:
    position, line, line_start = 0, 1, 0
    while position < len(text):
        match = _LEXEME.match(text, position)
        column = position - line_start + 1
        if match is None:
            raise GrammarSyntaxError(
                source, line, column, f"'{text[position]}'", "a rule, a word or a closed comment"
            )
        kind, found = match.lastgroup or "", match.group()
        if kind not in ("space", "comment"):
            yield _Lexeme(kind, found, line, column)
        if newlines := found.count("\n"):
            line += newlines
            line_start = position + found.rindex("\n") + 1
        position = match.end()
    yield _Lexeme("end", "", line, position - line_start + 1)


class _Parser:
    def __init__(self, text: str, source: str) -> None:
        self.source = source
        self.ahead = _lexemes(text, source)
        self.now = next(self.ahead)
        self.brackets = 0

    def fail(self, wanted: str, at: _Lexeme | None = None) -> GrammarSyntaxError:
        where = at or self.now
        return GrammarSyntaxError(self.source, where.line, where.column, str(where), wanted)

    def take(self) -> _Lexeme:
        taken = self.now
        if taken.kind != "end":
            self.now = next(self.ahead)
        return taken

    def is_mark(self, *marks: str) -> bool:
        return self.now.kind == "mark" and self.now.text in marks

    def mark(self, mark: str, wanted: str | None = None) -> None:
        if not self.is_mark(mark):
            raise self.fail(wanted or f"'{mark}'")
        self.take()

    def word(self, wanted: str) -> _Lexeme:
        if self.now.kind != "word":
            raise self.fail(wanted)
        return self.take()

    def grammar(self) -> JsgfGrammar:
        header = _HEADER.fullmatch(self.now.text) if self.now.kind == "header" else None
        if header is None:
            raise self.fail("the header '#JSGF V1.0;'")
        self.take()
        if self.now.text != "grammar":
            raise self.fail("'grammar NAME;'")
        self.take()
        name = self.word("the grammar's name").text
        self.mark(";")
        imports: list[str] = []
        while self.now.kind == "word" and self.now.text == "import":
            self.take()
            imported = self.now.text[1:-1]
            if self.now.kind != "rule" or not _IMPORT_NAME.fullmatch(imported):
                raise self.fail("an import such as <numbers.level> or <numbers.*>")
            self.take()
            imports.append(imported)
            self.mark(";")
        rules: list[GrammarRule] = []
        while self.now.kind != "end":
            rule = self.rule()
            if any(rule.name == other.name for other in rules):
                raise GrammarSyntaxError(
                    self.source, rule.line, 1, f"a second rule <{rule.name}>", "each rule once"
                )
            rules.append(rule)
        return JsgfGrammar(name, self.source, header["locale"] or "", tuple(imports), tuple(rules))

    def rule(self) -> GrammarRule:
        public = self.now.kind == "word" and self.now.text == "public"
        if public:
            self.take()
        if self.now.kind != "rule":
            raise self.fail("a rule such as '<name> = words;'")
        head = self.take()
        name = head.text[1:-1]
        if not _RULE_NAME.fullmatch(name) or "." in name or name in ("NULL", "VOID"):
            raise self.fail("a simple rule name", head)
        self.mark("=")
        expansion = self.alternatives()
        self.mark(";", "';' at the end of the rule, or more words")
        return GrammarRule(name, public, expansion, head.line)

    def alternatives(self) -> Expansion:
        weighted = self.now.kind == "weight"
        options: list[Expansion] = []
        weights: list[float] = []
        while True:
            if (self.now.kind == "weight") != weighted:
                raise self.fail("a weight on every alternative or on none")
            weights.append(
                float(self.take().text.strip("/ \t\n").rstrip("fFdD")) if weighted else 1.0
            )
            options.append(self.sequence())
            if not self.is_mark("|"):
                break
            self.take()
        if len(options) == 1:
            return options[0]
        return Alternatives(tuple(options), tuple(weights))

    def sequence(self) -> Expansion:
        items = [self.item()]
        while self.now.kind in ("word", "quoted", "rule") or self.is_mark("(", "["):
            items.append(self.item())
        return items[0] if len(items) == 1 else SequenceItem(tuple(items))

    def item(self) -> Expansion:
        found = self.atom()
        if self.is_mark("*", "+"):
            found = Repeat(found, 0 if self.take().text == "*" else 1)
        tags = 0
        while self.now.kind == "tag":
            tags += 1
            if tags > MAX_TAGS:
                raise self.fail(f"at most {MAX_TAGS} tags on one item")
            found = Tagged(found, self.tag())
        return found

    def atom(self) -> Expansion:
        if self.is_mark("(", "["):
            self.brackets += 1
            if self.brackets > MAX_NESTING:
                raise self.fail(f"at most {MAX_NESTING} brackets inside each other")
            closing = ")" if self.take().text == "(" else "]"
            inner = self.alternatives()
            self.mark(closing)
            self.brackets -= 1
            return OptionalItem(inner) if closing == "]" else inner
        if self.now.kind == "rule":
            lexeme = self.take()
            name = lexeme.text[1:-1]
            if name == "NULL":
                return NULL
            if name == "VOID":
                return VOID
            if not _RULE_NAME.fullmatch(name):
                raise self.fail("a rule name", lexeme)
            return RuleRef(name, lexeme.line, lexeme.column)
        if self.now.kind == "quoted":
            lexeme = self.take()
            words = re.sub(r"\\(.)", r"\1", lexeme.text[1:-1]).split()
            if not words:
                raise self.fail("at least one word between the quotes", lexeme)
            tokens = tuple(Token(word.casefold()) for word in words)
            return tokens[0] if len(tokens) == 1 else SequenceItem(tokens)
        if self.now.kind == "word":
            return Token(self.take().text.casefold())
        raise self.fail("a word, a rule, '(' or '['")

    def tag(self) -> Tag:
        lexeme = self.take()
        text = re.sub(r"\\(.)", r"\1", lexeme.text[1:-1]).strip()
        if re.fullmatch(r"[0-9]{1,6}", text):
            return Tag(None, int(text))
        match = _TAG.fullmatch(text)
        if match is None:
            raise self.fail("a tag of the form {name=value} or {number}", lexeme)
        value = match["value"]
        return Tag(match["name"], int(value) if re.fullmatch(r"-?[0-9]{1,6}", value) else value)


@lru_cache(maxsize=64)
def parse(text: str, source: str = "grammar") -> JsgfGrammar:
    """Read one grammar; `source` names it in errors (GrammarSyntaxError)."""
    return _Parser(text, source).grammar()


def read(path: Path) -> JsgfGrammar:
    """Read one grammar file in UTF-8 (GrammarSyntaxError, also when it is not UTF-8)."""
    source = f"{path.parent.name}/{path.name}"
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise GrammarSyntaxError(source, 1, 1, "bytes that are not UTF-8", "UTF-8") from error
    return parse(text, source)
