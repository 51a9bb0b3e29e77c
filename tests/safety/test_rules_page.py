"""docs/rules.md: every rule is there as it is declared, and its examples are true."""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path

import pytest

from voicelog.model import Dog, Transmitter
from voicelog.safety import RULES

from .ask import KNOWN, found
from .build import Field

PAGE = (Path(__file__).parents[2] / "docs" / "rules.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in row.split("|")[1:-1]] for row in re.findall(r"^\| `.*", PAGE, re.M)
]
DECLARED = {row[0].strip("`"): row for row in ROWS if len(row) == 5}
EXAMPLES = [row for row in ROWS if len(row) == 4]
AT = KNOWN.model_copy(update={"at": datetime(2031, 5, 4, 12, 0)})
YEARLING = Dog(name="Juno", born=date(2030, 5, 1), transmitter=Transmitter(top=18))


def session(told: str) -> Field:
    """A session from "0 here, 3 level 3, 5 came"."""
    field, last_s = Field(YEARLING), 0.0
    for one in told.split(", "):
        second, words = one.split(" ", 1)
        field.wait(float(second) - last_s if field.said else float(second)).say(words)
        last_s = float(second)
    return field


def test_every_rule_is_on_the_page_as_it_is_declared() -> None:
    assert list(DECLARED) == [rule.name for rule in RULES]
    for rule in RULES:
        _, weight, decided, speaks, settings = DECLARED[rule.name]
        assert (weight, decided) == (rule.severity, rule.decided)
        assert tuple(re.findall("`([^`]+)`", settings)) == rule.settings
        assert speaks


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda row: row[0])
def test_an_example_speaks_or_does_not(row: list[str]) -> None:
    name, speaks, just_not, silent = row
    rule = name.strip("`")
    history = AT.model_copy(update={"transmitter": YEARLING.transmitter})
    assert found(session(speaks), rule, history)
    assert not found(session(just_not), rule, history)
    assert not found(session(silent), rule, history)
