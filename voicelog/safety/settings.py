"""Every threshold of the safety rules, with its unit and where it comes from.

A threshold may be changed, within bounds, for all dogs or for one; a rule cannot be
switched off. A changed threshold is named in each finding that rests on it, and `changed`
lists all of them for the papers, so that a rule made quiet is still seen.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field, field_validator, model_validator
from pydantic.fields import FieldInfo

from voicelog.analysis.criteria import Criteria
from voicelog.analysis.criteria import threshold_field as _threshold
from voicelog.model.aggression import AGGRESSION_SIGNS
from voicelog.model.names import name_key

__all__ = ["Settings", "Thresholds", "bounds", "changed", "default_of", "stored_settings"]


class Thresholds(Criteria):
    """The thresholds in force for one dog, and what the analysis over weeks goes by. Units are
    part of the names: _s seconds, _c degrees Celsius, _h hours; steps are the transmitter's
    (`model.dial.step_up`)."""

    step_up: int = _threshold(1, 1, 3, "steps up between two presses; common practice")
    start_above: int = _threshold(
        1, 0, 3, "steps above the answered level at a session's first press; common practice"
    )
    roll_back: int = _threshold(
        1, 0, 3, "steps above the level last answered at the start of a rep; common practice"
    )
    strong_signs: int = _threshold(
        2, 1, 3, "strong signs in a day that end its stimulation; common practice"
    )
    ending_signs: tuple[str, ...] = Field(
        default=(*sorted(AGGRESSION_SIGNS), "screamed", "froze", "bolted"),
        min_length=1,
        strict=False,
        description="strong signs that end the day's stimulation at once, a growl, snap or bite "
        "the session too; what is given is added to these; common practice",
    )
    weak_signs: int = _threshold(2, 1, 4, "different weak signs in one rep; common practice")
    weak_reps: int = _threshold(3, 1, 6, "reps with a weak sign among the last; common practice")
    weak_window: int = _threshold(
        10, 3, 30, "number of last reps that weak_reps counts in; common practice"
    )
    press_s: float = _threshold(
        3.0, 0.5, 12.0, "seconds that one press may last, never past the cut-off; common practice"
    )
    rep_presses: int = _threshold(3, 1, 6, "presses in one rep; common practice")
    quiet_rises: int = _threshold(
        3,
        2,
        5,
        "rising levels with no reaction, after which contact must be checked; common practice",
    )
    failed_rises: int = _threshold(3, 2, 5, "failures in a row at rising levels; common practice")
    cue_s: float = _threshold(10.0, 3.0, 30.0, "seconds from cue to press; common practice")
    presses_first: int = _threshold(6, 1, 20, "presses in the first session; common practice")
    presses_pup: int = _threshold(12, 1, 40, "presses in a pup's session; common practice")
    presses_adult: int = _threshold(20, 1, 60, "presses in a session; common practice")
    minutes_pup: float = _threshold(
        8.0, 1.0, 30.0, "minutes of a pup's or a first session; common practice"
    )
    minutes_adult: float = _threshold(15.0, 1.0, 60.0, "minutes of a session; common practice")
    wear_h: float = _threshold(2.0, 0.25, 4.0, "hours worn without a break; common practice")
    wear_day_h: float = _threshold(
        8.0, 0.5, 12.0, "hours worn in a day; common practice, no published safe limit was found"
    )
    same_site_h: float = _threshold(
        12.0,
        1.0,
        72.0,
        "hours before a collar may be used again without being turned; common practice",
    )
    narrator_s: float = _threshold(
        1.0, 0.2, 3.0, "seconds between a moment and its word, either way; common practice"
    )
    mostly_share: float = _threshold(
        0.8,
        0.5,
        1.0,
        "share of the possible time between two words that must be beyond a limit for a finding; "
        "common practice",
    )
    arrival_s: float = _threshold(
        1.0, 0.0, 2.0, "seconds that a stimulus may last after the arrival; common practice"
    )
    answer_s: float = _threshold(
        2.0, 1.0, 5.0, "seconds to give the dog to answer before the button; common practice"
    )
    rest_s: float = _threshold(
        60.0,
        30.0,
        600.0,
        "seconds of rest after a strong sign before the next press; common practice",
    )
    climb_steps: int = _threshold(
        4, 2, 8, "steps from the lowest to the highest level of a session; common practice"
    )
    fit_least: int = _threshold(
        1, 1, 2, "fingers that go under the collar, at least; common practice"
    )
    fit_most: int = _threshold(
        3, 2, 3, "fingers that go under the collar, at most; common practice"
    )
    vibrate_months: int = _threshold(
        6, 4, 24, "months of age below which there is no vibrate and no tone; common practice"
    )
    every_calls: int = _threshold(
        5, 3, 10, "calls of a session, all with the button, that make a finding; common practice"
    )
    # Heat may only be taken more seriously than it is by default.
    heat_remark_c: float = _threshold(
        21.0, 10.0, 21.0, "air temperature for a remark, degrees Celsius; common practice"
    )
    heat_caution_c: float = _threshold(
        24.0, 10.0, 24.0, "air temperature for a caution, degrees Celsius; common practice"
    )
    heat_stop_c: float = _threshold(
        29.0, 10.0, 29.0, "air temperature for a stop, degrees Celsius; common practice"
    )
    heat_lower_c: float = _threshold(
        3.0, 3.0, 10.0, "degrees Celsius lower for pups and dogs that suffer in heat"
    )

    @field_validator("ending_signs")
    @classmethod
    def _none_is_taken_away(cls, given: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*default_of("ending_signs"), *given)))

    @model_validator(mode="after")
    def _heat_bands_rise(self) -> Thresholds:
        if not self.heat_remark_c <= self.heat_caution_c <= self.heat_stop_c:
            raise ValueError(
                "heat_remark_c, heat_caution_c and heat_stop_c must rise in this order"
            )
        return self


class Settings(Thresholds):
    """The thresholds for every dog, and complete ones for each dog that has its own.

    The thresholds of heat are in degrees Celsius whatever the unit in which it is said.
    """

    temperature_unit: Literal["C", "F"] = Field(
        default="C", description="the unit of a temperature that is said without one"
    )
    learn_entries: int = Field(
        default=200,
        ge=20,
        le=5000,
        description="entries that people have reviewed before the log says how accurate it is",
    )
    dog: Mapping[str, Thresholds] = {}

    def for_dog(self, name: str) -> Thresholds:
        """The thresholds in force for a dog, without regard to letter case. `name` is the dog's, as
        on the roster."""
        if self.dog:
            wanted = name_key(name)
            for known, own in self.dog.items():
                if name_key(known) == wanted:
                    return own
        return self


def default_of(name: str) -> Any:
    """The default of a threshold. `name` is a field of the settings."""
    return Thresholds.model_fields[name].default


def stored_settings(kept: Mapping[str, Any]) -> Settings:
    """The settings that a recording was kept with.

    Bounds were wider once, so a number beyond today's is brought to the nearest that is allowed:
    what was kept must be read, and no rule was ever to be quieter than that.
    """
    dogs = {name: _within(own) for name, own in kept.get("dog", {}).items()}
    return Settings.model_validate(_within(kept) | ({"dog": dogs} if dogs else {}))


def _within(kept: Mapping[str, Any]) -> dict[str, Any]:
    found = dict(kept)
    for name, field in Settings.model_fields.items():
        value = found.get(name)
        if isinstance(value, int | float) and not isinstance(value, bool):
            low, high = bounds(field)
            found[name] = type(value)(min(max(value, low), high))
    return found


def bounds(field: FieldInfo) -> tuple[float, float]:
    """The lowest and the highest value that a number may have."""
    low = next(item.ge for item in field.metadata if hasattr(item, "ge"))
    high = next(item.le for item in field.metadata if hasattr(item, "le"))
    return low, high


def changed(thresholds: Thresholds, names: tuple[str, ...] | None = None) -> tuple[str, ...]:
    """A phrase for each threshold that differs from its default, of those named or of all."""
    return tuple(
        f"threshold {name} set to {_say(getattr(thresholds, name))} "
        f"(default {_say(default_of(name))})"
        for name in (Thresholds.model_fields if names is None else names)
        if getattr(thresholds, name) != default_of(name)
    )


def _say(value: Any) -> str:
    if isinstance(value, tuple):
        return ", ".join(value)
    return f"{value:g}"
