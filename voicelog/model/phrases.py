"""What one spoken phrase may hold: a class for each kind, or for each shape of a kind.

A grammar file marks its words with tags ({do=level}, {level=#}); `make_phrase` is the one place
where the tags of a phrase become a record, `phrase_slots` the one that writes a record out as
tags again, as the contract prints them. Which tags may stand together is what the classes say:
a grammar whose rules break it is refused when it is loaded (`voicelog.grammar.tag_check`).

Conditions and equipment are open: whatever a grammar names there holds from then on and is
shown, so a grammar may name things that we do not know (`others`). Every other kind is closed,
since what a tag of it does to a rep or a session must be written here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import lru_cache
from typing import Any, ClassVar, Literal, get_args, get_type_hints

from pydantic import ConfigDict, TypeAdapter, ValidationError

__all__ = [
    "PHRASE_KINDS",
    "AnswerPhrase",
    "ConditionPhrase",
    "CueBy",
    "CueCountPhrase",
    "CuePhrase",
    "EditPhrase",
    "EquipmentPhrase",
    "HandlerPhrase",
    "LevelPhrase",
    "Mode",
    "ModePhrase",
    "NotchPhrase",
    "Outcome",
    "OutcomePhrase",
    "Phrase",
    "PhraseKind",
    "Question",
    "QuestionPhrase",
    "RepPhrase",
    "RewardPhrase",
    "SessionControlPhrase",
    "SessionDogPhrase",
    "SessionPhrase",
    "SignClass",
    "SignPhrase",
    "Slot",
    "StimulusPhrase",
    "StrikeRepPhrase",
    "ThumbOffPhrase",
    "TurnedPhrase",
    "allowed_tags",
    "is_open_kind",
    "make_phrase",
    "named_level",
    "phrase_class",
    "phrase_meaning",
    "phrase_slots",
    "tag_is_known",
]

PhraseKind = Literal[
    "session",
    "equipment",
    "condition",
    "cue",
    "stimulus",
    "turned",
    "outcome",
    "sign",
    "reward",
    "edit",
    "ask",
]
"""What a spoken phrase is about. Each kind is one file of grammars/<language>/."""
PHRASE_KINDS: tuple[PhraseKind, ...] = get_args(PhraseKind)

Slot = str | int
"""A value that a phrase carries: a word of the grammar, or a spoken number."""
Mode = Literal["none", "vibrate", "tone", "momentary", "continuous", "unknown"]
Outcome = Literal["complied", "slow", "partial", "ignored", "left", "broke", "helped", "unknown"]
SignClass = Literal["noticed", "strong", "weak", "none"]
CueBy = Literal["voice", "whistle", "helper"]
Question = Literal["level", "count", "last", "working level", "ceiling", "open", "again"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _PhraseRecord:
    """Base of the phrases: the words as they were spoken, and the tags as fields."""

    words: str = ""


# --- session ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionDogPhrase(_PhraseRecord):
    """Says which dog is worked: "start session Bracken", "next dog Wren", "wrong dog Wren"."""

    kind: ClassVar[PhraseKind] = "session"
    dog: str
    do: Literal["start", "next", "wrong dog"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandlerPhrase(_PhraseRecord):
    """Says who works the dog: "handler Anna"."""

    kind: ClassVar[PhraseKind] = "session"
    handler: str
    do: Literal["handler"] = "handler"


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionControlPhrase(_PhraseRecord):
    """Ends the session, or pauses and resumes the log."""

    kind: ClassVar[PhraseKind] = "session"
    do: Literal["end", "pause", "resume"]


# --- what holds ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _HoldingPhrase(_PhraseRecord):
    """A phrase of an open kind; `others` are the values that only the grammar knows."""

    others: Mapping[str, Slot] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class EquipmentPhrase(_HoldingPhrase):
    """The collar, its fit and contact, the skin, the coat, the line: "contact solid"."""

    kind: ClassVar[PhraseKind] = "equipment"
    collar: str | None = None
    collar_number: int | None = None
    test: str | None = None
    fit: Slot | None = None
    contact: str | None = None
    skin: str | None = None
    coat: str | None = None
    line: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionPhrase(_HoldingPhrase):
    """The drill, the place, the weather, the dog's health, the limits: "distance fifty metres".

    A shot, and what the dog did on game, happen once: they are kept with their moment.
    """

    kind: ClassVar[PhraseKind] = "condition"
    drill: str | None = None
    distraction: str | None = None
    distraction_source: str | None = None
    distance: int | None = None
    location: str | None = None
    temperature: int | None = None
    humidity: int | None = None
    health: str | None = None
    ceiling: int | None = None
    shot: int | None = None
    game: str | None = None
    unit: str | None = None
    """Of `distance` and `shot`."""


# --- what is done in a rep -------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CuePhrase(_PhraseRecord):
    """A cue, and the dog called with it where one was: "Bracken here", "recall pips"."""

    kind: ClassVar[PhraseKind] = "cue"
    dog: str | None = None
    cue: str
    cue_by: CueBy


@dataclass(frozen=True, slots=True, kw_only=True)
class CueCountPhrase(_PhraseRecord):
    """How often the dog was called: "called twice"."""

    kind: ClassVar[PhraseKind] = "cue"
    cues: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ModePhrase(_PhraseRecord):
    """A press without a level, or none at all: "vibrate", "no button"."""

    kind: ClassVar[PhraseKind] = "stimulus"
    do: Literal["none", "vibrate", "tone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPhrase(_PhraseRecord):
    """A level pressed ("level three", "up to four") or only set ("dial four")."""

    kind: ClassVar[PhraseKind] = "stimulus"
    level: int
    do: Literal["level", "up", "down", "back", "dial"]
    mode: Literal["momentary", "continuous"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotchPhrase(_PhraseRecord):
    """A press one notch of the dial higher or lower than the last."""

    kind: ClassVar[PhraseKind] = "stimulus"
    do: Literal["notch up", "notch down"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ThumbOffPhrase(_PhraseRecord):
    """The end of a press: "thumb off"."""

    kind: ClassVar[PhraseKind] = "stimulus"
    do: Literal["off"] = "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedPhrase(_PhraseRecord):
    """The moment the dog turns: "committed"."""

    kind: ClassVar[PhraseKind] = "turned"
    turned: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomePhrase(_PhraseRecord):
    """How the rep ended; `word` is the one said for it, where the grammar keeps it, `game` what
    that tells of game: "broke to flush"."""

    kind: ClassVar[PhraseKind] = "outcome"
    word: str | None = None
    outcome: Outcome
    game: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SignPhrase(_PhraseRecord):
    """What the body showed: "ear flick"."""

    kind: ClassVar[PhraseKind] = "sign"
    sign: str
    class_: SignClass


@dataclass(frozen=True, slots=True, kw_only=True)
class RewardPhrase(_PhraseRecord):
    """What the dog was given for it: "treat"."""

    kind: ClassVar[PhraseKind] = "reward"
    reward: str


# --- about the notes themselves --------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class EditPhrase(_PhraseRecord):
    """Mends, flags or sets aside what is said: "strike that", "correction", "memo"."""

    kind: ClassVar[PhraseKind] = "edit"
    do: Literal["strike", "correct", "flag", "memo", "end memo"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeRepPhrase(_PhraseRecord):
    """Strikes a rep by its number: "strike rep four"."""

    kind: ClassVar[PhraseKind] = "edit"
    rep: int
    do: Literal["strike rep"] = "strike rep"


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionPhrase(_PhraseRecord):
    """Asks the earphone: "say level"."""

    kind: ClassVar[PhraseKind] = "ask"
    say: Question


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerPhrase(_PhraseRecord):
    """Answers the earphone: "affirm"."""

    kind: ClassVar[PhraseKind] = "ask"
    answer: Literal["affirm", "negative", "roger"]


SessionPhrase = SessionDogPhrase | HandlerPhrase | SessionControlPhrase
StimulusPhrase = ModePhrase | LevelPhrase | NotchPhrase | ThumbOffPhrase
RepPhrase = (
    CuePhrase
    | CueCountPhrase
    | StimulusPhrase
    | TurnedPhrase
    | OutcomePhrase
    | SignPhrase
    | RewardPhrase
)
"""What tells of a rep."""
Phrase = (
    SessionPhrase
    | EquipmentPhrase
    | ConditionPhrase
    | RepPhrase
    | EditPhrase
    | StrikeRepPhrase
    | QuestionPhrase
    | AnswerPhrase
)
"""One thing said."""

_PhraseClass = type[Phrase]


# --- tags to records and back ----------------------------------------------------------

_CLASSES: Mapping[PhraseKind, tuple[_PhraseClass, ...]] = {
    kind: tuple(cls for cls in get_args(Phrase) if cls.kind == kind) for kind in PHRASE_KINDS
}
_FIELDS: Mapping[_PhraseClass, Mapping[str, str]] = {
    cls: {
        name.removesuffix("_"): name
        for name in (one.name for one in fields(cls))
        if name not in ("words", "others")
    }
    for cls in get_args(Phrase)
}
"""Of each class the tags that it knows, in the order in which they are written out, and the
field of each."""


def make_phrase(kind: PhraseKind, tags: Mapping[str, Slot], words: str) -> Phrase:
    """The record of a phrase of `kind` that carries `tags` and was spoken as `words`.

    Raises ValueError when no class knows these tags together; a grammar that was loaded has no
    such phrase. The values must be some that `tag_is_known` knows: they are not looked at again.
    """
    cls = phrase_class(kind, tuple(tags), tags.get("do"))
    if cls is None:
        raise ValueError(f"no phrase of {kind} carries {dict(tags)}")
    known = _FIELDS[cls]
    held: dict[str, Any] = {known[tag]: value for tag, value in tags.items() if tag in known}
    if len(held) < len(tags):
        held["others"] = {tag: value for tag, value in tags.items() if tag not in known}
    return cls(words=words, **held)


def phrase_slots(phrase: Phrase) -> dict[str, Slot]:
    """The tags of a phrase as the contract prints them: what was not said is left out."""
    slots: dict[str, Slot] = {}
    for tag, name in _FIELDS[type(phrase)].items():
        value = getattr(phrase, name)
        if value is not None:
            slots[tag] = value
    if isinstance(phrase, _HoldingPhrase):
        slots |= phrase.others
    return slots


def phrase_meaning(phrases: Iterable[Phrase]) -> tuple[object, ...]:
    """What phrases say, without the words: equal for two wordings of the same."""
    return tuple((phrase.kind, frozenset(phrase_slots(phrase).items())) for phrase in phrases)


@lru_cache(maxsize=1024)
def phrase_class(kind: PhraseKind, tags: tuple[str, ...], do: Slot | None) -> _PhraseClass | None:
    """The class of a phrase that carries these tags, `do` with this value, or None."""
    for cls in _CLASSES[kind]:
        known = _FIELDS[cls]
        if issubclass(cls, _HoldingPhrase):
            return cls
        if known.keys() >= set(tags) >= _needed(cls) and ("do" not in known or do in _dos(cls)):
            return cls
    return None


@lru_cache(maxsize=1024)
def tag_is_known(kind: PhraseKind, tag: str, value: Slot) -> bool:
    """Whether some phrase of `kind` may carry the tag with this value.

    "#" and "-#" stand for a number that is spoken.
    """
    if value in ("#", "-#"):
        value = 0
    classes = [cls for cls in _CLASSES[kind] if tag in _FIELDS[cls]]
    if not classes:
        return is_open_kind(kind)
    return any(_accepts(cls, tag, value) for cls in classes)


def is_open_kind(kind: PhraseKind) -> bool:
    """Whether a phrase of `kind` may carry values that only the grammar knows."""
    return issubclass(_CLASSES[kind][0], _HoldingPhrase)


def allowed_tags(kind: PhraseKind) -> str:
    """What a phrase of `kind` may carry, for a message: "{do=end|pause|resume}; ..."."""
    return "; ".join(
        " ".join(_tag_text(cls, tag) for tag in _FIELDS[cls]) for cls in _CLASSES[kind]
    )


def named_level(phrase: Phrase) -> int | None:
    """The level that a phrase names: pressed, set on the dial, or set as the ceiling."""
    match phrase:
        case LevelPhrase():
            return phrase.level
        case ConditionPhrase():
            return phrase.ceiling
        case _:
            return None


def _needed(cls: _PhraseClass) -> set[str]:
    """The tags without which a phrase is none of this class."""
    may_miss = {one.name for one in fields(cls) if one.default is not MISSING}
    return {tag for tag, name in _FIELDS[cls].items() if tag == "do" or name not in may_miss}


def _type_of(cls: _PhraseClass, tag: str) -> Any:
    return get_type_hints(cls)[_FIELDS[cls][tag]]


_VALIDATORS: dict[tuple[_PhraseClass, str], TypeAdapter[Any]] = {}


def _validator(cls: _PhraseClass, tag: str) -> TypeAdapter[Any]:
    """What checks a tag's value; each is made once, since that takes longer than all checks."""
    if (cls, tag) not in _VALIDATORS:
        strict = ConfigDict(strict=True)
        _VALIDATORS[cls, tag] = TypeAdapter(_type_of(cls, tag), config=strict)
    return _VALIDATORS[cls, tag]


def _dos(cls: _PhraseClass) -> tuple[Slot, ...]:
    return get_args(_type_of(cls, "do"))


def _accepts(cls: _PhraseClass, tag: str, value: Slot) -> bool:
    try:
        _validator(cls, tag).validate_python(value)
    except ValidationError:
        return False
    return True


def _tag_text(cls: _PhraseClass, tag: str) -> str:
    """One tag as a grammar writes it, in brackets where it may be left out."""
    named = get_args(_type_of(cls, tag))
    words = [one for part in named for one in (get_args(part) or (part,)) if isinstance(one, str)]
    text = f"{{{tag}={'|'.join(words)}}}" if words else f"{{{tag}=...}}"
    return text if tag in _needed(cls) else f"[{text}]"
