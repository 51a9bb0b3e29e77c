"""The grammar of a language: what may be said, and what it means.

`Grammar.load` reads a folder of JSGF files. Every public rule of a file named for a kind
(`cue.jsgf`, `outcome.jsgf`, ...) is one phrase of that kind; a note is one or more phrases
in any order. Names of dogs and handlers and the dogs' own cue words come from the roster
as the rules <roster.dog>, <roster.handler> and <roster.cue>.

Words mean the same anywhere: `interpret` looks at nothing but the words. What a listener
may hear can be narrowed (`network`), never what words mean.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from voicelog.grammar import jsgf
from voicelog.grammar.abbreviations import read_abbreviations
from voicelog.grammar.automaton import (
    EpsilonFreeGraph,
    GrammarNetwork,
    NetworkBuilder,
    Operation,
    PhraseEnd,
    PhraseStart,
)
from voicelog.grammar.data_folders import data_folder
from voicelog.grammar.enumeration import (
    MAX_TEMPLATES,
    product_of_sentences,
    take_sample,
    vary_each_part,
)
from voicelog.grammar.generation import shortest_wording
from voicelog.grammar.jsgf import (
    VOID,
    Alternatives,
    Expansion,
    GrammarRule,
    GrammarSyntaxError,
    JsgfGrammar,
    OptionalItem,
    Repeat,
    RuleRef,
    Tag,
    Tagged,
    Token,
)
from voicelog.grammar.jsgf import SequenceItem as Spoken
from voicelog.grammar.tag_check import check_tags
from voicelog.model import Phrase, PhraseKind, Roster, Slot, VoicelogError
from voicelog.model.phrases import (
    PHRASE_KINDS,
    make_phrase,
    named_level,
    phrase_meaning,
    phrase_slots,
)

__all__ = [
    "Grammar",
    "GrammarError",
    "RecognitionContext",
    "beyond_range",
    "normalize",
    "optional_grammars_of",
]

NOBODY = Roster()
ROSTER = "roster"
LEVEL = "numbers.level"
MAX_NUMBERS = 20_000
"""Ways to say the numbers of one rule; up to 999 there are 3,685."""
_MAX_MEANINGS = 4  # ways into one state that are followed; more than any honest grammar has


class GrammarError(VoicelogError):
    """A folder of grammars that cannot be used as a whole."""


@dataclass(frozen=True, slots=True)
class RecognitionContext:
    """What is not expected: levels above `top_level`, when it is given.

    It never takes a reading out of the search: what was not considered cannot win, and the
    nearest level within the range would stand in its place. It says what is not taken for sure.
    """

    top_level: int | None = None


EVERYTHING = RecognitionContext()


def beyond_range(grammar: Grammar, words: str, recognition_context: RecognitionContext) -> bool:
    """Whether `words` hold a level, or a ceiling, above what the transmitter has."""
    top = recognition_context.top_level
    return top is not None and any(
        (level := named_level(phrase)) is not None and level > top
        for phrase in grammar.interpret(words) or ()
    )


def normalize(text: str) -> str:
    """Text as the grammar writes words: lower case, no punctuation, single spaces.

    Apostrophes and hyphens inside words are kept; digits are kept for `Grammar.verbalize`, and
    so are the sign and the point of a number, lest "-3" be read as 3 and "20.5" as 20 5.
    """
    text = unicodedata.normalize("NFKC", text).casefold().translate(_ALIKE)
    text = re.sub(r"(?<!\d)[.,]|[.,](?!\d)|[^\w'\-., ]|_", " ", text)
    words = (raw.strip("'") for raw in text.split())
    return " ".join(filter(None, (w if _NEGATIVE.fullmatch(w) else w.strip("'-") for w in words)))


_ALIKE = str.maketrans({"\u2019": "'", "\u2212": "-", "\u2013": "-"})
_HYPHENATED = re.compile(r"[^\W\d]+(-[^\W\d]+)+")
_NEGATIVE = re.compile(r"-\d[\d.,]*")


def optional_grammars_of(name: str) -> tuple[str, ...]:
    """The opt-in grammars that a grammar of this name (`Grammar.name`) was loaded with."""
    return tuple(name.rpartition("-")[0].split("+")[1:])


@dataclass(frozen=True, slots=True)
class _NumberSlot:
    """A place in a spoken form that any number of a rule may fill."""

    rule: str


_Part = str | _NumberSlot | Tag


@dataclass(frozen=True, slots=True)
class PhraseTemplate:
    """One way to say a phrase: its words and number places, and the slots it carries.

    A slot value of "#" or "-#" takes the number spoken before it.
    """

    kind: PhraseKind
    parts: tuple[str | _NumberSlot, ...]
    slots: Mapping[str, Slot]


class Grammar:
    """A language's grammar together with the names that may be spoken.

    `graph` is the whole of it as a word graph: what `interpret` follows. `abbreviations` is what
    may be typed for short, which `interpret` does not look at. Raises
    GrammarSyntaxError for a rule that cannot be followed, UnknownTagError for tags that no
    phrase carries.
    """

    def __init__(
        self,
        files: Iterable[JsgfGrammar],
        roster: Roster = NOBODY,
        *,
        name: str,
        abbreviations: Mapping[str, tuple[str, ...]] = MappingProxyType({}),
    ) -> None:
        self.abbreviations = abbreviations
        modules = {file.name: file for file in files}
        self.roster = roster
        self.language = next((m.language for m in modules.values() if m.language), "")
        modules[ROSTER] = _roster_file(roster)
        self._modules = modules
        self._rules = {
            f"{module.name}.{rule.name}": rule
            for module in modules.values()
            for rule in module.rules
        }
        self._kinds = [kind for kind in PHRASE_KINDS if kind in modules]
        if not self._kinds:
            raise GrammarError(
                f"Found no phrases in the grammar {name}, wanted at least one file named for "
                f"a kind ({', '.join(PHRASE_KINDS)}); add one."
            )
        self._expand: dict[str, Expansion] = {}
        self._numbers = _spoken_numbers(_NumberFiles(self._reached_from("numbers"), self))
        self._meaning = lru_cache(maxsize=4096)(self._interpret)
        digest = hashlib.sha256(repr(sorted(self._rules.items())).encode()).hexdigest()[:10]
        self.name = f"{name}-{digest}"
        network = self.network()
        check_tags(network, {kind: modules[kind].source for kind in self._kinds})
        self.graph = EpsilonFreeGraph(network)

    @classmethod
    def load(
        cls,
        folder: Path | None = None,
        roster: Roster = NOBODY,
        *,
        optional: Sequence[str] = (),
    ) -> Grammar:
        """Read every *.jsgf of `folder` (default: the English grammar that ships).

        A file whose grammar is neither a kind nor imported by one is opt-in: it is used only
        when named in `optional`, and then its public rules add to the rules of the same name
        in numbers.jsgf. Raises GrammarSyntaxError with the place of a mistake, AbbreviationError,
        UnknownTagError for tags that no phrase carries, GrammarError when the folder has no
        grammar.
        """
        folder = folder or data_folder("grammars") / "en"
        paths = sorted(folder.glob("*.jsgf")) if folder.is_dir() else []
        if not paths:
            raise GrammarError(
                f"Found no .jsgf files in '{folder}', wanted a folder of grammars; name one."
            )
        files = {file.name: file for file in map(jsgf.read, paths)}
        imported = {name.partition(".")[0] for file in files.values() for name in file.imports}
        opt_in = {name for name in files if name not in PHRASE_KINDS and name not in imported}
        for name in optional:
            if name not in opt_in:
                raise GrammarError(
                    f"Found no opt-in grammar '{name}' in '{folder}', wanted one of: "
                    f"{', '.join(sorted(opt_in)) or 'none there'}; correct the name."
                )
        base = [file for name, file in files.items() if name not in opt_in]
        base = _extended(base, [files[name] for name in optional])
        label = "+".join([folder.name, *optional])
        short = read_abbreviations(folder / "abbreviations.txt")
        return cls(base, roster, name=label, abbreviations=short)

    def with_roster(self, roster: Roster) -> Grammar:
        """The same grammar with the names of another roster."""
        files = (file for name, file in self._modules.items() if name != ROSTER)
        label = self.name.rpartition("-")[0]
        return Grammar(files, roster, name=label, abbreviations=self.abbreviations)

    # --- words to meaning ---------------------------------------------------------------

    def interpret(self, words: str) -> tuple[Phrase, ...] | None:
        """The phrases that `words` say, or None when they are not wholly of this grammar.

        Of several meanings, the one with the fewest phrases is taken, then the one that the
        grammar files put first (`meanings` gives them all).
        """
        found = self._meaning(self.verbalize(words))
        return found[0] if found else None

    def meanings(self, words: str) -> tuple[tuple[Phrase, ...], ...]:
        """Every different meaning of `words`, the one that `interpret` takes first."""
        return self._meaning(self.verbalize(words))

    def verbalize(self, text: str) -> str:
        """Written text as spoken words: plain, with digits spelled as this grammar says them.

        Two numbers in a row are left as they are, lest "20 5" be read as 25. A word written with
        a hyphen that is none of the grammar's is its parts ("twenty-five", "self-hunting").
        """
        words = [part for word in normalize(text).split() for part in self._parts(word)]
        lone = [
            word.isdigit() and not any(other.isdigit() for other in (before, after))
            for before, word, after in zip(["", *words], words, [*words[1:], ""], strict=False)
        ]
        return " ".join(
            self.numerals.get(word, word) if spelled else word
            for word, spelled in zip(words, lone, strict=True)
        )

    def _parts(self, word: str) -> list[str]:
        if _HYPHENATED.fullmatch(word) and word not in self.vocabulary:
            return word.split("-")
        return [word]

    def is_note_prefix(self, words: str) -> bool:
        """Whether `words` could be the beginning of a note that is not yet complete."""
        graph, states = self.graph, {self.graph.start}
        for word in self.verbalize(words).split():
            states = {step.state for state in states for step in graph.onward(state).get(word, ())}
        return bool(states)

    def may_go_on(self, words: str) -> bool:
        """Whether the last phrase of a note could go on by a word ("came" by "slow"); what would
        begin another phrase does not count."""
        graph, states = self.graph, {self.graph.start}
        for word in self.verbalize(words).split():
            states = {step.state for state in states for step in graph.onward(state).get(word, ())}
        return any(
            not any(isinstance(op, PhraseStart) for op in step.ops)
            for state in states
            for steps in graph.onward(state).values()
            for step in steps
        )

    def goes_on_from(self, words: str, first: str) -> bool:
        """Whether `words` say the note `first` and go on inside its last phrase."""
        begun, whole = self.interpret(first) or (), self.interpret(words) or ()
        last = len(begun) - 1
        return (
            0 <= last < len(whole)
            and phrase_meaning(whole[:last]) == phrase_meaning(begun[:last])
            and whole[last].words.startswith(f"{begun[last].words} ")
        )

    def _interpret(self, words: str) -> tuple[tuple[Phrase, ...], ...]:
        graph = self.graph
        ways: list[tuple[int, _GraphPath | None]] = [(graph.start, None)]
        for word in words.split():
            onward: list[tuple[int, _GraphPath | None]] = []
            into: Counter[int] = Counter()
            for state, passed in ways:
                for step in graph.onward(state).get(word, ()):
                    into[step.state] += 1
                    if into[step.state] <= _MAX_MEANINGS:
                        onward.append((step.state, _GraphPath(passed, step.ops, word)))
            ways = onward
        readings = [
            _phrases(_GraphPath(passed, ops, None))
            for state, passed in ways
            for ops in graph.stops(state)
        ]
        if len(readings) < 2:
            return tuple(readings)
        found: dict[tuple[object, ...], tuple[Phrase, ...]] = {}
        for phrases in readings:
            found.setdefault(phrase_meaning(phrases), phrases)
        return tuple(sorted(found.values(), key=len))

    # --- meaning to words ---------------------------------------------------------------

    def speak(self, phrases: Iterable[Phrase]) -> str:
        """Words that say exactly these phrases (GrammarError when there are none)."""
        return " ".join(self._speak(phrase) for phrase in phrases)

    def _speak(self, phrase: Phrase) -> str:
        meant = phrase_slots(phrase)
        for form in sorted(self.forms, key=lambda form: len(form.parts)):
            if form.kind != phrase.kind or form.slots.keys() != meant.keys():
                continue
            number: int | None = None
            for name, value in form.slots.items():
                wanted = meant[name]
                if value in ("#", "-#") and isinstance(wanted, int):
                    number = wanted if value == "#" else -wanted
                elif value != wanted:
                    break
            else:
                rule = next((p.rule for p in form.parts if isinstance(p, _NumberSlot)), None)
                if rule is None:
                    return " ".join(map(str, form.parts))
                if number is not None and (spoken := self.numbers(rule).get(number)):
                    return " ".join(spoken if isinstance(p, _NumberSlot) else p for p in form.parts)
        words = shortest_wording(self.graph, phrase) if self.sampled else None
        if words is None:
            raise GrammarError(
                f"Found no words for {phrase.kind} {meant}, wanted something the "
                f"grammar {self.name} can say; choose words from the grammar."
            )
        return words

    @property
    def forms(self) -> tuple[PhraseTemplate, ...]:
        """Ways to say the phrases, numbers left open, in the order of the files.

        All ways, where a rule has at most MAX_TEMPLATES. Of a richer one (`sampled`) so many that
        each of its words, names and tags is in one of them, with the first choice everywhere
        else; of a rule beyond any that a person wrote, as many as MAX_SAMPLE_PARTS parts allow.
        """
        return self._forms[0]

    @property
    def sampled(self) -> tuple[str, ...]:
        """The rules, as "kind.rule", that have more ways to say them than are in `forms`."""
        return self._forms[1]

    @cached_property
    def _forms(self) -> tuple[tuple[PhraseTemplate, ...], tuple[str, ...]]:
        forms: dict[str, PhraseTemplate] = {}
        sampled: list[str] = []
        for kind, rule in self._phrase_rules():
            found, whole = take_sample(self._sentences(rule.expansion, kind), MAX_TEMPLATES)
            if not whole:
                sampled.append(f"{kind}.{rule.name}")
                found, _ = take_sample(self._sentences(rule.expansion, kind, thin=True))
            for parts in found:
                slots: dict[str, Slot] = {
                    part.name: part.value
                    for part in parts
                    if isinstance(part, Tag) and part.name is not None
                }
                spoken = tuple(part for part in parts if not isinstance(part, Tag))
                form = PhraseTemplate(kind, spoken, slots)
                forms.setdefault(repr((kind, spoken, slots)), form)
        return tuple(forms.values()), tuple(sampled)

    @cached_property
    def vocabulary(self) -> tuple[str, ...]:
        """Every word that may be spoken, sorted."""
        return self.network().words()

    @cached_property
    def words(self) -> frozenset[str]:
        """The same words as a set."""
        return frozenset(self.vocabulary)

    def numbers(self, rule: str) -> Mapping[int, str]:
        """The numbers that a rule of numbers.jsgf can say, each in its first wording; none, where
        the grammar has no such rule."""
        return self._numbers.get(rule, {})

    def _reached_from(self, name: str) -> tuple[JsgfGrammar, ...]:
        """A file and all that it imports, also through others."""
        found: dict[str, JsgfGrammar] = {}
        ahead = [name]
        while ahead:
            file = self._modules.get(ahead.pop())
            if file is not None and file.name not in found:
                found[file.name] = file
                ahead += [imported.rpartition(".")[0] for imported in file.imports]
        return tuple(found.values())

    def spoken_numbers(self) -> dict[str, dict[int, str]]:
        """What every rule says that says numbers only: each number in its first wording.

        Raises GrammarError for a rule with too many ways to say one.
        """
        table: dict[str, dict[int, str]] = {}
        for name in self._rules:
            if name.startswith("numbers.") and self._says_numbers_only(name):
                spoken: dict[int, str] = {}
                sayings = self._sentences(self._rules[name].expansion, "numbers", True)
                for count, parts in enumerate(sayings):
                    if count == MAX_NUMBERS:
                        raise GrammarError(
                            f"Found more than {MAX_NUMBERS} ways to say a number in the rule "
                            f"<{name}>, wanted fewer; shorten the rule."
                        )
                    words = " ".join(part for part in parts if isinstance(part, str))
                    value = sum(int(part.value) for part in parts if isinstance(part, Tag))
                    spoken.setdefault(value, words)
                table[name] = spoken
        return table

    @cached_property
    def numerals(self) -> Mapping[str, str]:
        """How each number that may be spoken is said, by its digits ("20": "twenty")."""
        return {
            str(value): words
            for spoken in sorted(self._numbers.values(), key=len)
            for value, words in spoken.items()
        }

    def _says_numbers_only(self, name: str) -> bool:
        met = {name}

        def only_numbers(expansion: Expansion, home: str) -> bool:
            match expansion:
                case Token():
                    return True
                case RuleRef():
                    full, inner = self._resolve(expansion, home)
                    if full in met:
                        return True
                    met.add(full)
                    return only_numbers(inner, full.rpartition(".")[0])
                case Spoken(items):
                    return all(only_numbers(item, home) for item in items)
                case Alternatives(options, _):
                    return all(only_numbers(option, home) for option in options)
                case OptionalItem(item) | Repeat(item, _):
                    return only_numbers(item, home)
                case Tagged(item, tag):
                    return tag.name is None and only_numbers(item, home)

        return only_numbers(self._rules[name].expansion, name.rpartition(".")[0])

    def _sentences(
        self,
        expansion: Expansion,
        home: str,
        spell: bool = False,
        inside: frozenset[str] = frozenset(),
        *,
        thin: bool = False,
    ) -> Iterator[tuple[_Part, ...]]:
        """Sentences of an expansion, one by one; number rules kept as places unless `spell`.

        Repeats are said once, and a rule does not come again `inside` itself. A `thin` list says
        each part of the expansion at least once, not with every other: it grows as the expansion
        does, and not as a power of it.
        """

        def each(item: Expansion) -> Iterator[tuple[_Part, ...]]:
            return self._sentences(item, home, spell, inside, thin=thin)

        match expansion:
            case Token(word):
                yield (word,)
            case Spoken(items):
                firsts = [next(each(item), None) for item in items]
                said = [first for first in firsts if first is not None]
                if len(said) == len(items):
                    yield from (
                        vary_each_part(items, said, each)
                        if thin
                        else product_of_sentences(items, each)
                    )
            case Alternatives(options, _):
                for option in options:
                    yield from each(option)
            case OptionalItem(item):
                yield ()
                yield from each(item)
            case Repeat(item, least):
                if least == 0:
                    yield ()
                yield from each(item)
            case Tagged(item, tag):
                for parts in each(item):
                    yield (*parts, tag)
            case RuleRef():
                full, inner = self._resolve(expansion, home)
                if not spell and full in self._numbers:
                    yield (_NumberSlot(full),)
                elif full not in inside:
                    home, inside = full.rpartition(".")[0], inside | {full}
                    yield from each(inner)

    # --- for the listeners --------------------------------------------------------------

    def network(self, recognition_context: RecognitionContext = EVERYTHING) -> GrammarNetwork:
        """One or more phrases as a network of words, narrowed to what may be expected."""
        levels = self._narrowed_levels(recognition_context)

        def resolve(ref: RuleRef, home: str) -> tuple[str, Expansion]:
            name, expansion = self._resolve(ref, home)
            return (name, levels) if levels is not None and name == LEVEL else (name, expansion)

        builder = NetworkBuilder(resolve, lambda home: self._modules[home].source)
        start, loop, done, final = (builder.state() for _ in range(4))
        builder.arc(start, loop)
        for kind, rule in self._phrase_rules():
            entry = builder.state()
            builder.arc(loop, entry, op=PhraseStart(kind))
            name = RuleRef(f"{kind}.{rule.name}", rule.line, 1)
            builder.arc(builder.add(name, entry, kind), done, op=PhraseEnd())
        builder.arc(done, loop)
        builder.arc(done, final)
        return builder.network(start, final)

    def _narrowed_levels(self, recognition_context: RecognitionContext) -> Expansion | None:
        if recognition_context.top_level is None or LEVEL not in self._numbers:
            return None
        sayings = [
            tuple(part for part in parts if isinstance(part, str))
            for parts in self._sentences(self._rules[LEVEL].expansion, "numbers", True)
            if sum(int(part.value) for part in parts if isinstance(part, Tag))
            <= recognition_context.top_level
        ]
        options = tuple(Spoken(tuple(map(Token, words))) for words in dict.fromkeys(sayings))
        return Alternatives(options, (1.0,) * len(options))

    # --- rules --------------------------------------------------------------------------

    def _phrase_rules(self) -> Iterator[tuple[PhraseKind, GrammarRule]]:
        for kind in self._kinds:
            for rule in self._modules[kind].rules:
                if rule.public:
                    yield kind, rule

    def _resolve(self, ref: RuleRef, home: str) -> tuple[str, Expansion]:
        module = self._modules[home]
        for name in self._candidates(ref.name, module):
            rule = self._rules.get(name)
            if rule is not None and (rule.public or name.rpartition(".")[0] == home):
                return name, rule.expansion
        raise GrammarSyntaxError(
            module.source,
            ref.line,
            ref.column,
            f"<{ref.name}>",
            "a rule of this file or a public one that it imports",
        )

    def _candidates(self, name: str, module: JsgfGrammar) -> Iterator[str]:
        if "." in name:
            yield name
            return
        yield f"{module.name}.{name}"
        for imported in module.imports:
            package, _, rule = imported.rpartition(".")
            if rule in ("*", name):
                yield f"{package}.{name}"


@dataclass(frozen=True, slots=True)
class _NumberFiles:
    """What the spoken numbers of a grammar hang on: not on its roster, unless they name it."""

    files: tuple[JsgfGrammar, ...]
    grammar: Grammar = field(compare=False)


@lru_cache(maxsize=8)
def _spoken_numbers(of: _NumberFiles) -> Mapping[str, Mapping[int, str]]:
    """Those of a grammar; kept, since spelling them is half of the work of loading one."""
    return MappingProxyType(of.grammar.spoken_numbers())


class _GraphPath(NamedTuple):
    """A way through the graph, newest step first: operations passed, then a word spoken."""

    before: _GraphPath | None
    ops: tuple[Operation, ...]
    word: str | None


def _phrases(way: _GraphPath) -> tuple[Phrase, ...]:
    """Play a way through the graph back as the phrases it says."""
    steps: list[_GraphPath] = []
    last: _GraphPath | None = way
    while last is not None:
        steps.append(last)
        last = last.before
    phrases: list[Phrase] = []
    kind: PhraseKind
    slots: dict[str, Slot] = {}
    words: list[str] = []
    number = 0
    for step in reversed(steps):
        for op in step.ops:
            match op:
                case PhraseStart(begun):
                    kind, slots, words, number = begun, {}, [], 0
                case Tag(None, value):
                    number += int(value)
                case Tag(str(name), "#"):
                    slots[name], number = number, 0
                case Tag(str(name), "-#"):
                    slots[name], number = -number, 0
                case Tag(str(name), value):
                    slots[name] = value
                case PhraseEnd():
                    phrases.append(make_phrase(kind, slots, " ".join(words)))
        if step.word is not None:
            words.append(step.word)
    return tuple(phrases)


def _roster_file(roster: Roster) -> JsgfGrammar:
    """The roster as a grammar: its names and cue words, each carrying itself as a tag."""

    def one_of(slot: str, names: Iterable[str]) -> Expansion:
        options = tuple(
            Tagged(Spoken(tuple(map(Token, normalize(name).split()))), Tag(slot, name))
            for name in names
            if normalize(name)
        )
        return Alternatives(options, (1.0,) * len(options)) if options else VOID

    rules = (
        GrammarRule("dog", True, one_of("dog", (dog.name for dog in roster.dogs))),
        GrammarRule("handler", True, one_of("handler", roster.handlers)),
        GrammarRule("cue", True, one_of("cue", roster.cues)),
    )
    return JsgfGrammar(ROSTER, "the roster", "", (), rules)


def _extended(base: list[JsgfGrammar], extras: list[JsgfGrammar]) -> list[JsgfGrammar]:
    """Let the public rules of opt-in files add to the same rules of numbers.jsgf."""
    for extra in extras:
        own = tuple(rule for rule in extra.rules if not rule.public)
        added = {rule.name: rule.expansion for rule in extra.rules if rule.public}
        base = [
            replace(
                file,
                rules=tuple(
                    replace(
                        rule,
                        expansion=Alternatives((rule.expansion, added[rule.name]), (1.0, 1.0)),
                    )
                    if rule.name in added
                    else rule
                    for rule in file.rules
                )
                + own,
            )
            if file.name == "numbers"
            else file
            for file in base
        ]
    return base
