"""Every rule has words, few enough, and none of them asks for a press."""

from __future__ import annotations

import re

import pytest

from tests.analysis.dogs import good, stopped
from tests.session.said import session_of
from voicelog.analysis.open_matters import as_left
from voicelog.model import Dog, Finding, Severity, Transmitter
from voicelog.report.spoken_wording import (
    MAX_SPOKEN_WORDS,
    SPOKEN_DEVICE_STATES,
    SPOKEN_WARNINGS,
    VARIED_WARNINGS,
    spoken_answer,
    spoken_start,
    spoken_warning,
)
from voicelog.safety.check import RULES
from voicelog.safety.history import History

SEVERITIES: tuple[Severity, ...] = ("remark", "caution", "stop")
VARIED = {"heat", "skin", "unwell"}


def finding(rule: str, severity: Severity, *, on_doubt: bool = False, message: str = "") -> Finding:
    return Finding(
        rule=rule,
        severity=severity,
        session="s",
        message=message,
        advice="",
        basis="",
        on_doubt=on_doubt,
    )


@pytest.mark.parametrize("name", [rule.name for rule in RULES])
def test_every_rule_has_words_of_its_own(name: str) -> None:
    assert name in SPOKEN_WARNINGS or name in VARIED


@pytest.mark.parametrize("rule", [*SPOKEN_WARNINGS, "heat", "skin", "unwell", "a-rule-to-come"])
@pytest.mark.parametrize("severity", SEVERITIES)
@pytest.mark.parametrize("on_doubt", [False, True])
def test_a_warning_is_six_words_at_most_and_says_when_it_rests_on_doubt(
    rule: str, severity: Severity, on_doubt: bool
) -> None:
    words = spoken_warning(finding(rule, severity, on_doubt=on_doubt))
    assert 1 <= len(words.split()) <= MAX_SPOKEN_WORDS
    assert words.startswith("Perhaps ") == on_doubt


@pytest.mark.parametrize(
    "rule", [rule for rule in RULES if rule.severity == "stop"], ids=lambda r: r.name
)
def test_a_stop_begins_with_stop(rule: object) -> None:
    name = rule.name  # type: ignore[attr-defined]
    assert spoken_warning(finding(name, "stop")).startswith("Stop.")


def test_no_warning_is_so_long_that_its_end_is_cut_off() -> None:
    for words in (*SPOKEN_WARNINGS.values(), *VARIED_WARNINGS.values()):
        assert len(words.split()) < MAX_SPOKEN_WORDS, words  # "Perhaps" may come before it


def test_no_warning_asks_for_a_press_or_a_higher_level() -> None:
    for words in SPOKEN_WARNINGS.values():
        assert not re.search(r"\b(press|push|hold|raise|higher|harder|go up)\b", words, re.I), words


def test_sore_skin_sends_to_a_vet_and_red_skin_rests() -> None:
    assert spoken_warning(finding("skin", "stop", message="The skin is sore.")).endswith("see vet")
    assert spoken_warning(finding("skin", "stop", message="The skin is red.")) == (
        "Stop. Collar off, skin red"
    )


def test_trouble_is_six_words_at_most() -> None:
    assert all(len(words.split()) <= MAX_SPOKEN_WORDS for words in SPOKEN_DEVICE_STATES.values())


def test_a_dog_without_collar_number_or_ceiling_is_said_so() -> None:
    dog = Dog(name="Wren", transmitter=Transmitter(top=20))
    assert spoken_start(dog, None) == (
        "Wren. No collar number. No ceiling. Without the button first."
    )
    assert spoken_start(Dog(name="Wren", collar_number=2), 6) == (
        "Wren. Collar 2. Ceiling 6. Without the button first."
    )
    stop, sign = (as_left([one]) for one in (stopped(good(1), "heat"), stopped(good(2), "skin")))
    wren = Dog(name="Wren")
    assert spoken_start(wren, 6, stop).endswith(" Ceiling 6. Stop open, no button.")
    assert spoken_start(wren, 6, (*stop, *sign)).endswith(" 2 matters open, no button.")


def test_skin_that_was_not_said_to_be_clear_is_said_though_its_matter_was_closed() -> None:
    wren = Dog(name="Wren")
    assert spoken_start(wren, 6, (), "red").endswith(" Ceiling 6. Skin was red. Collar stays off.")
    assert spoken_start(wren, None, (), "sore").endswith(" Skin was sore. Collar stays off.")
    assert "Skin" not in spoken_start(wren, 6, (), "clear")
    heat = as_left([stopped(good(1), "heat")])
    assert spoken_start(wren, 6, heat, "red").endswith(
        "Stop open, no button. Skin was red. Collar stays off."
    )
    skin = as_left([stopped(good(1), "skin")])
    assert spoken_start(wren, 6, skin, "red").endswith(" Ceiling 6. Skin open, no button.")


def test_what_is_open_is_answered_with_skin_to_look_at_until_it_is_said_to_be_clear() -> None:
    def answer(*said: str) -> str:
        session = session_of("start session wren", *said)
        return spoken_answer(
            "open", session=session, level=None, ceiling=None, notes=(),
            history=History(skin="red"), said="",
        )  # fmt: skip

    assert answer() == "Skin was red. Collar stays off"
    assert answer("skin clear") == "Nothing is open"
