"""Who is trained, by whom and with what."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, Literal

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer, model_validator

from voicelog.model.base import FrozenModel
from voicelog.model.names import Name, name_key

__all__ = ["LONGEST_MEANING", "CueMeaning", "Dog", "HeatTrait", "Roster", "Stage", "Transmitter"]

LONGEST_MEANING = 60
"""Characters of what a cue asks for, at most: it has to fit a line of a card."""
Stage = Literal["bird", "gun", "off line"]
HeatTrait = Literal["heavy", "dark", "short-faced"]
"""Why a dog bears heat worse than others."""


class Transmitter(FrozenModel):
    """What the dog's hand unit can do; from the maker's instructions.

    `top` is None where nobody said it: then no level is refused for being too high up to
    `highest`, and steps are the smallest there are (see `voicelog.model.dial`). `step` is what the
    dial moves by at a notch.
    """

    top: int | None = Field(default=None, ge=1, le=999)
    lowest: int = Field(default=1, ge=0)
    step: int | None = Field(default=None, ge=1)
    modes: tuple[Literal["vibrate", "tone", "momentary", "continuous"], ...] = (
        "vibrate",
        "tone",
        "momentary",
        "continuous",
    )
    cutoff_s: float | None = Field(default=None, gt=0)

    @model_validator(mode="after")
    def _lowest_is_in_range(self) -> Transmitter:
        if self.lowest > self.highest:
            raise ValueError(f"lowest level {self.lowest} is above the top level {self.highest}")
        return self

    @property
    def highest(self) -> int:
        """The top level, or 100 where it is not known: the usual finest dial (common practice,
        no source)."""
        return 100 if self.top is None else self.top


class CueMeaning(FrozenModel):
    """What a cue asks for, in the words of the trainer: "hup" may be "sit"."""

    cue: str
    meaning: str = Field(min_length=1, max_length=LONGEST_MEANING)


class Dog(FrozenModel):
    """A dog's profile, copied into each of its sessions when the session starts.

    An empty name stands for a dog that was not named.
    """

    name: Name
    transmitter: Transmitter = Transmitter()
    collar_number: int | None = Field(default=None, ge=0)
    cues: tuple[str, ...] = ("here",)
    cue_meanings: tuple[CueMeaning, ...] = ()
    """Of those cues whose meaning was given; the others mean what their trainer knows."""
    default_mode: Literal["momentary", "continuous"] = "continuous"
    born: date | None = None
    reached: tuple[Stage, ...] = ()
    ceiling: int | None = Field(default=None, ge=0)
    heat_traits: tuple[HeatTrait, ...] = ()
    client: str = ""
    """Whose dog it is, for the record of use; empty when not given."""
    litter: str = ""
    """The name of the litter it comes from; empty when not given."""
    identification: str = ""
    """Its chip number, tattoo or description, for the record of use; empty when not given."""

    @model_serializer(mode="wrap")
    def _without_empty_meanings(self, write: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Where none was given a profile is written as it always was: with the same hash, and to be
        read by a program that knows of no meanings."""
        written: dict[str, Any] = write(self)
        if not self.cue_meanings:
            written.pop("cue_meanings", None)
        return written

    def meaning_of(self, cue: str) -> str:
        """What a `cue` asks for as its trainer says it; empty where that was not given."""
        return next((one.meaning for one in self.cue_meanings if one.cue == cue), "")

    @property
    def has_collar(self) -> bool:
        """Whether the profile tells of a collar: its number, anything of its transmitter, or a
        ceiling."""
        told = self.collar_number is not None or self.ceiling is not None
        return told or self.transmitter != Transmitter()


class Roster(FrozenModel):
    """The dogs and handlers whose names may be spoken."""

    dogs: tuple[Dog, ...] = ()
    handlers: tuple[Name, ...] = ()

    def dog(self, name: str) -> Dog | None:
        """The dog of that name, without regard to letter case."""
        wanted = name_key(name)
        return next((dog for dog in self.dogs if name_key(dog.name) == wanted), None)

    def spelt(self, spellings: Mapping[str, str]) -> Roster:
        """The same with dogs named as they are here; `spellings` maps a `name_key` to a name."""
        dogs = tuple(
            dog
            if (name := spellings.get(name_key(dog.name), dog.name)) == dog.name
            else dog.model_copy(update={"name": name})
            for dog in self.dogs
        )
        return self if dogs == self.dogs else self.model_copy(update={"dogs": dogs})

    @property
    def cues(self) -> tuple[str, ...]:
        """Every cue of every dog, once each, in order of first use."""
        return tuple(dict.fromkeys(cue for dog in self.dogs for cue in dog.cues)) or ("here",)

    @property
    def top_level(self) -> int:
        """The highest level of any transmitter on the roster."""
        return max((dog.transmitter.highest for dog in self.dogs), default=Transmitter().highest)
