"""Random notes, recordings, rosters and grammars, in one place for every property test."""

from __future__ import annotations

from hypothesis import strategies as st

from voicelog.grammar.grammar import Grammar, PhraseTemplate
from voicelog.grammar.jsgf import (
    NULL,
    Alternatives,
    Expansion,
    OptionalItem,
    Repeat,
    SequenceItem,
    Token,
)
from voicelog.model import Dog, Phrase, Roster, Slot, Transmitter
from voicelog.model.phrases import make_phrase

# --- notes ----------------------------------------------------------------------------------

LEVEL = st.integers(0, 100)

REP_PIECE = st.one_of(
    LEVEL.map(lambda level: f"level {level}"),
    LEVEL.map(lambda level: f"tap {level}"),
    LEVEL.map(lambda level: f"up to {level}"),
    st.sampled_from(["here", "bracken here", "recall pips", "helper called", "called twice"]),
    st.sampled_from(["no button", "vibrate", "tone", "dial 7", "rolled back to 2", "notch up"]),
    st.sampled_from(["notch down", "thumb off", "committed"]),
    st.sampled_from(["came", "came slow", "on place", "ignored", "broke", "line help"]),
    st.sampled_from(["neck twitch", "nothing", "yelped", "lip lick", "panting"]),
    st.sampled_from(["treat", "praised"]),
)
"""Part of a rep."""

SETTING_PIECE = st.sampled_from(
    [
        *("drill recall", "drill find level", "distraction low birds", "distance 20 metres"),
        *("location woods", "temperature minus 3", "ceiling 9", "shot 80 yards", "handler anna"),
        *("collar fitted", "collar stripped", "fit check two fingers", "no contact"),
        *("contact solid", "skin red", "coat wet", "line trailing"),
    ]
)
"""Something that holds."""

SESSION_PIECE = st.sampled_from(
    [
        *("start session bracken", "next dog wren", "end session", "wrong dog wren"),
        *("pause log", "resume log", "memo", "end memo"),
    ]
)
"""Something that begins or ends."""

EDIT_PIECE = st.one_of(
    st.sampled_from(["strike that", "flag that", "correction level 2", "correction ignored"]),
    st.integers(0, 6).map(lambda number: f"strike rep {number}"),
)
"""Something that mends."""

ASK_PIECE = st.sampled_from(["say level", "affirm", "negative", "roger", "say again"])

PIECE = REP_PIECE | REP_PIECE | SETTING_PIECE | SESSION_PIECE | EDIT_PIECE | ASK_PIECE
"""Anything that can be said, parts of reps most often."""


APART_S = st.sampled_from([1.5, 3.0, 6.0, 9.0, 12.0, 40.0])


@st.composite
def lines(
    draw: st.DrawFn,
    piece: st.SearchStrategy[str] = PIECE,
    marks: tuple[str, ...] = ("", "", "?", "x"),
    start_s: float = 0.0,
    most: int = 12,
) -> list[str]:
    """Lines for tests.session.said: breaths of one to four pieces, 1.5 to 40 s apart.

    `marks` are drawn from: "" accepted, "?" doubtful, "x" rejected.
    """
    told = []
    pieces, marking = st.lists(piece, min_size=1, max_size=4), st.sampled_from(marks)
    for _ in range(draw(st.integers(1, most))):
        words = " ".join(draw(pieces))
        told.append(f"{start_s} {draw(marking)}{words}")
        start_s += draw(APART_S)
    return told


# --- rosters and phrases --------------------------------------------------------------------

NAMES = ("Bracken", "Wren", "Old Nan", "O'Malley", "Jean-Luc", "Fífa")
CUES = ("here", "heel", "hup", "this way", "kom")


@st.composite
def rosters(draw: st.DrawFn) -> Roster:
    """Up to four dogs with their own cue words, and up to two handlers."""
    names = draw(st.lists(st.sampled_from(NAMES), unique=True, max_size=4))
    cues = st.lists(st.sampled_from(CUES), unique=True, min_size=1, max_size=3).map(tuple)
    return Roster(
        dogs=tuple(
            Dog(name=name, cues=draw(cues), transmitter=Transmitter(top=draw(st.integers(1, 999))))
            for name in names
        ),
        handlers=tuple(draw(st.lists(st.sampled_from(["Anna", "Joe Bloggs"]), unique=True))),
    )


def phrases(grammar: Grammar) -> st.SearchStrategy[Phrase]:
    """Any one phrase of a grammar, with any numbers that its form takes."""

    @st.composite
    def filled(draw: st.DrawFn, form: PhraseTemplate) -> Phrase:
        slots: dict[str, Slot] = dict(form.slots)
        for part in form.parts:
            if not isinstance(part, str):
                number = draw(st.sampled_from(sorted(grammar.numbers(part.rule))))
                for name, value in form.slots.items():
                    if value in ("#", "-#"):
                        slots[name] = number if value == "#" else -number
        return make_phrase(form.kind, slots, "")

    return st.sampled_from(grammar.forms).flatmap(filled)


def notes(grammar: Grammar) -> st.SearchStrategy[tuple[Phrase, ...]]:
    """One to five phrases of a grammar, in any order."""
    return st.lists(phrases(grammar), min_size=1, max_size=5).map(tuple)


# --- grammars -------------------------------------------------------------------------------


def expansions(words: str = "abc", most_leaves: int = 8) -> st.SearchStrategy[Expansion]:
    """Expansions over a few one-letter words, without rule references or tags."""
    return st.recursive(
        st.sampled_from([Token(word) for word in words]) | st.just(NULL),
        lambda inner: st.one_of(
            st.lists(inner, min_size=2, max_size=3).map(lambda items: SequenceItem(tuple(items))),
            st.lists(inner, min_size=2, max_size=3).map(
                lambda options: Alternatives(tuple(options), (1.0,) * len(options))
            ),
            inner.map(OptionalItem),
            st.builds(Repeat, inner, st.sampled_from([0, 1])),
        ),
        max_leaves=most_leaves,
    )


def written(expansion: Expansion) -> str:
    """An expansion as JSGF, every part in brackets of its own."""
    match expansion:
        case Token(word):
            return word
        case SequenceItem(items):
            return f"({' '.join(map(written, items))})" if items else "<NULL>"
        case Alternatives(options, _):
            return f"({' | '.join(map(written, options))})" if options else "<VOID>"
        case OptionalItem(item):
            return f"[{written(item)}]"
        case Repeat(item, least):
            return f"({written(item)}){'*' if least == 0 else '+'}"
        case _:
            raise AssertionError(f"{expansion} is not made by expansions()")
