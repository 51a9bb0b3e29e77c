"""Thresholds: defaults, per-dog ones, the file, and errors that say where."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from tests.known import known
from voicelog.model import VoicelogError
from voicelog.safety import (
    Settings,
    SettingsError,
    Thresholds,
    changed,
    default_toml,
    load_settings,
)
from voicelog.safety.settings import bounds, stored_settings

from .ask import found
from .build import Field


@dataclass(frozen=True)
class Load:
    """Settings from a text, by way of the file at `path`."""

    path: Path

    def __call__(self, text: str) -> Settings:
        self.path.write_text(text, encoding="utf-8")
        return load_settings(self.path)


@pytest.fixture
def load(tmp_path: Path) -> Load:
    return Load(tmp_path / "safety.toml")


def test_the_default_file_loads_back_equal(load: Load) -> None:
    assert load(default_toml()) == Settings()


def test_the_default_file_explains_every_threshold() -> None:
    text = default_toml()
    for name, field in Thresholds.model_fields.items():
        assert f"\n{name} = " in text
        assert known(field.description) in text
    assert '\ntemperature_unit = "C"\n' in text


def test_the_unit_of_temperature_is_set_once_beside_a_dogs_own(load: Load) -> None:
    settings = load('temperature_unit = "F"\n[dog.Juno]\nstep_up = 2\n')
    assert settings.temperature_unit == "F"
    assert settings.for_dog("Juno").step_up == 2


def test_settings_come_back_whole_from_what_a_recording_keeps(load: Load) -> None:
    settings = load('temperature_unit = "F"\npress_s = 2\n[dog.Juno]\nstep_up = 2\n')
    kept = settings.model_dump(mode="json", exclude_defaults=True)
    assert Settings.model_validate(kept) == settings


def test_an_empty_file_is_the_defaults(load: Load) -> None:
    assert load("") == Settings()


def test_a_dog_has_its_own_on_top_of_the_common_ones(load: Load) -> None:
    settings = load("presses_adult = 15\n[dog.Juno]\npress_s = 2\n")
    assert settings.for_dog("juno").press_s == 2
    assert settings.for_dog("Juno").presses_adult == 15
    assert settings.for_dog("Rook") == settings
    assert settings.for_dog("Rook").press_s == 3.0


def test_a_changed_threshold_is_named_in_the_finding(load: Load) -> None:
    settings = load("[dog.Juno]\nease_steps = 3\n")
    field = Field().cue().press(15).sign("yelped").out().rep(5)
    assert not found(field, "stress-not-eased")
    (finding,) = found(field, "stress-not-eased", settings=settings)
    assert finding.basis.endswith("; threshold ease_steps set to 3 (default 2)")


def test_changed_lists_every_changed_threshold() -> None:
    settings = Settings(press_s=2.5, ending_signs=("cowered",))
    assert changed(settings) == (
        "threshold ending_signs set to bit me, bit the collar, growling, snapped, screamed, froze, "
        "bolted, cowered (default bit me, bit the collar, growling, snapped, screamed, froze, "
        "bolted)",
        "threshold press_s set to 2.5 (default 3)",
    )
    assert changed(Settings()) == ()


@pytest.mark.parametrize(
    ("text", "line", "fault"),
    [
        ("\npres_s = 2", 2, '"pres_s" is not a setting; did you mean "press_s"?'),
        (
            "step_up = 2\n[dog.Juno]\n\nstep_upp = 1",
            4,
            '"step_upp" is not a setting; did you mean "step_up"?',
        ),
        ("[dgo.Juno]\nstep_up = 1", 1, '"dgo" is not a setting; did you mean "dog"?'),
        ("step_up = true", 1, "step_up is True, but has to be a whole number from 1 to 3."),
        ("step_up = 1.5", 1, "step_up is 1.5, but has to be a whole number from 1 to 3."),
        ('press_s = "3"', 1, "press_s is '3', but has to be a number from 0.5 to 12."),
        ("press_s = nan", 1, "press_s is nan, but has to be a number from 0.5 to 12."),
        (
            "presses_adult = 1000000",
            1,
            "presses_adult is 1000000, but has to be a whole number from 1 to 60.",
        ),
        (
            'ending_signs = ["screemed"]',
            1,
            """ending_signs holds 'screemed', which is no strong sign; did you mean "screamed"?""",
        ),
        (
            'ending_signs = ["fooo"]',
            1,
            "ending_signs holds 'fooo', which is no strong sign; known are yelped, vocalised, "
            "squealed, screamed, froze, cowered, crouched, lowered, tail tucked, bolted, flinched, "
            "rolled over, wet himself, wet herself, growling, snapped, bit the collar, bit me, "
            "shut down.",
        ),
        (
            '[dog.Juno]\nending_signs = ["yawned"]',
            2,
            "ending_signs holds 'yawned', wanted are signs that are strong; use some of yelped, "
            "vocalised, squealed, screamed, froze, cowered, crouched, lowered, tail tucked, "
            "bolted, flinched, rolled over, wet himself, wet herself, growling, snapped, "
            "bit the collar, bit me, shut down.",
        ),
        (
            "heat_remark_c = 35",
            1,
            "heat_remark_c is 35, but has to be a number from 10 to 21.",
        ),
        ("heat_stop_c = 29.5", 1, "heat_stop_c is 29.5, but has to be a number from 10 to 29."),
        ("heat_lower_c = 0", 1, "heat_lower_c is 0, but has to be a number from 3 to 10."),
        (
            "ending_signs = []",
            1,
            "ending_signs is [], but has to be a list of at least one strong sign, added to those "
            "that always end it.",
        ),
        (
            "press_s = 2\n\nheat_stop_c = 20",
            3,
            "heat_remark_c, heat_caution_c and heat_stop_c must rise in this order.",
        ),
        ("dog = 3", 1, "a dog's own thresholds stand under a heading such as [dog.Juno]."),
        ("[dog]\nJuno = 3", 1, "a dog's own thresholds stand under a heading such as [dog.Juno]."),
        ("step_up = 1\nstep_up", 2, None),
        ('temperature_unit = "K"', 1, """temperature_unit is 'K', but has to be "C" or "F"."""),
        (
            'temprature_unit = "F"',
            1,
            '"temprature_unit" is not a setting; did you mean "temperature_unit"?',
        ),
        (
            'step_up = 2\n[dog.Juno]\ntemperature_unit = "F"',
            3,
            "temperature_unit is the same for every dog; move it above the first heading.",
        ),
    ],
)
def test_a_slip_names_file_line_and_what_is_allowed(
    load: Load, text: str, line: int, fault: str | None
) -> None:
    with pytest.raises(SettingsError) as caught:
        load(text)
    assert caught.value.line == line
    if fault is None:
        assert str(caught.value).startswith(f"{load.path}, line {line}: this is not TOML: ")
    else:
        assert str(caught.value) == f"{load.path}, line {line}: {fault}"
    assert isinstance(caught.value, VoicelogError)


def test_all_that_is_wrong_is_told_at_once_in_the_order_of_its_lines(load: Load) -> None:
    text = (
        'step_up = 99\nstepdown = 2\ntemperature_unit = "K"\nending_signs = ["yawned"]\n'
        '[dog.Juno]\nstep_up = -1\ntemperature_unit = "F"\n[dog.Tansy]\nrise = 3\n'
    )
    with pytest.raises(SettingsError) as caught:
        load(text)
    told = [line.removeprefix(f"{load.path}, line ") for line in str(caught.value).splitlines()]
    assert [line.partition(":")[0] for line in told] == ["1", "2", "3", "4", "6", "7", "9"]
    assert "step_up is 99" in told[0]
    assert '"stepdown" is not a setting' in told[1]
    assert "step_up is -1" in told[4]
    with pytest.raises(SettingsError) as caught:
        load("step_up = 99\n[dog.Juno]\nrise_most = 1\n")
    assert len(str(caught.value).splitlines()) == 2  # the common slip is told once


def test_a_missing_file_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings(tmp_path / "none.toml")


def test_no_rule_has_a_switch() -> None:
    """Every threshold is bounded, and the one set only grows, so none can be set to where its
    rule is never seen."""
    for name, field in Thresholds.model_fields.items():
        bounds = {key for item in field.metadata for key in ("ge", "le") if hasattr(item, key)}
        assert bounds == {"ge", "le"} or name == "ending_signs"


def test_signs_are_added_to_those_that_always_end_it(load: Load) -> None:
    always = Settings().ending_signs
    settings = load('ending_signs = ["cowered"]\n[dog.Juno]\nending_signs = ["flinched"]\n')
    assert settings.ending_signs == (*always, "cowered")
    assert settings.for_dog("Juno").ending_signs == (*always, "cowered", "flinched")
    for sign in ("froze", "growling", "cowered", "flinched"):
        field = Field().cue().press(4).sign(sign).out()
        assert found(field, "stress-twice", settings=settings)


@given(data=st.data())
@hypothesis_settings(max_examples=60, deadline=None)
def test_whatever_is_set_within_bounds_the_stops_stand(data: st.DataObject) -> None:
    """Every threshold drawn at either end: what ends a day still ends it, and heat stops."""
    drawn: dict[str, Any] = {
        name: data.draw(st.sampled_from(bounds(field)), label=name)
        for name, field in Thresholds.model_fields.items()
        if name != "ending_signs"
    }
    heat = [drawn[f"heat_{band}_c"] for band in ("remark", "caution", "stop")]
    assume(heat == sorted(heat))
    settings = Settings(**drawn, ending_signs=("cowered",))
    screamed = Field().cue().press(4).sign("screamed").out()
    assert found(screamed, "stress-twice", settings=settings)
    thrice = Field()
    for _ in range(3):
        thrice.cue().press(4).sign("yelped").out()
    assert found(thrice, "stress-twice", settings=settings)
    assert found(thrice, "stress-not-eased", settings=settings)
    (hot,) = found(Field().air(29), "heat", settings=settings)
    assert hot.severity == "stop"


def test_settings_kept_under_wider_bounds_are_read_and_brought_within_todays() -> None:
    kept = {
        "heat_remark_c": 35.0,
        "heat_caution_c": 35.0,
        "heat_stop_c": 35.0,
        "ending_signs": ["yawned"],
        "dog": {"Juno": {"heat_lower_c": 0.0, "press_s": 2.0}},
    }
    settings = stored_settings(kept)
    assert (settings.heat_remark_c, settings.heat_caution_c, settings.heat_stop_c) == (21, 24, 29)
    assert settings.ending_signs == (*Settings().ending_signs, "yawned")
    assert (settings.for_dog("Juno").heat_lower_c, settings.for_dog("Juno").press_s) == (3, 2)
    assert stored_settings({}) == Settings()


def test_a_heading_for_a_dog_that_is_not_known_is_found(load: Load) -> None:
    load("[dog.juno]\nstep_up = 2\n")
    assert load_settings(load.path, ["Juno", "Rook"]).for_dog("Juno").step_up == 2
    with pytest.raises(SettingsError) as caught:
        load_settings(load.path, ["Juna", "Rook"])
    assert str(caught.value) == (
        f'{load.path}, line 1: "juno" is not a dog of this log; did you mean "Juna"?'
    )


def test_a_heading_where_no_dog_is_known_says_how_to_add_one(load: Load) -> None:
    load("[dog.Juno]\nstep_up = 2\n")
    with pytest.raises(SettingsError) as caught:
        load_settings(load.path, [])
    assert str(caught.value) == (
        f'{load.path}, line 1: "Juno" is not a dog of this log; none is known yet; add it first: '
        "voicelog dogs put Juno."
    )


def test_a_word_like_no_setting_lists_them_all(load: Load) -> None:
    with pytest.raises(SettingsError, match=r'"zzzz" is not a setting; known are step_up, .*dog\.'):
        load("zzzz = 1")
