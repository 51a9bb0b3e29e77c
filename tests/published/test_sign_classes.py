"""The classes of the signs against two published lists of what stressed dogs do.

A. C. Vieira de Castro and others, PLoS ONE 15(12) (2020) e0225023, table 2: the twelve behaviours
below are its rows, and lip lick and panting stand in its text. M. B. H. Schilder and J. A. M. van
der Borg, Appl. Anim. Behav. Sci. 85 (2004) 319-334: the reactions to a shock that its abstract
names. What is remembered only is not held here. The argument for each difference stands in
`docs/signs.md`.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from voicelog.grammar.signs import signs

MANUAL = Path(__file__).parents[2] / "docs" / "signs.md"

VIEIRA_TABLE_2 = {
    "body turn": {"head turn"},
    "move away": {"moved away"},
    "crouch": {"cowered", "crouched"},
    "lying on side or back": {"rolled over"},
    "yelp": {"yelped"},
    "whine": {"whined"},
    "fear-related elimination": {"wet himself", "wet herself"},
    "salivating": {"salivating"},
    "body shake": {"shook off"},
    "yawn": {"yawned"},
    "scratch": {"scratching"},
    "paw lift": {"paw lift"},
}
VIEIRA_TEXT = {"lip lick", "panting"}
SCHILDER_ABSTRACT = {
    "lowering of body posture": {"cowered", "crouched", "lowered"},
    "high pitched yelps": {"yelped"},
    "barks": {"barked"},
    "squeals": {"squealed"},
    "avoidance": {"moved away", "bolted"},
    "redirection aggression": {"snapped", "bit the collar", "bit me"},
    "tongue flicking": {"lip lick"},
}
ARGUED = {"head turn", "scratching"}
"""Listed there as stress, and no stress here."""


def rows() -> dict[str, list[str]]:
    """The manual's table: class, what each list says, the argument."""
    found = {}
    for line in MANUAL.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 5 and cells[0] not in ("sign", "---"):
            found[cells[0]] = cells[1:]
    return found


def test_the_manual_has_every_sign_with_its_class() -> None:
    assert {sign: row[0] for sign, row in rows().items()} == dict(signs())
    assert all(row[3].endswith(".") for row in rows().values())


def test_what_the_manual_says_of_the_second_list_is_its_table() -> None:
    listed = {sign: name for name, some in VIEIRA_TABLE_2.items() for sign in some}
    said = {sign: row[2] for sign, row in rows().items()}
    assert {sign: name for sign, name in said.items() if name not in ("-", "text")} == listed
    assert {sign for sign, name in said.items() if name == "text"} == VIEIRA_TEXT


def test_what_the_manual_says_of_the_first_list_is_its_abstract() -> None:
    named = {sign for some in SCHILDER_ABSTRACT.values() for sign in some}
    assert {sign for sign, row in rows().items() if row[1] == "yes"} == named
    assert {row[1] for row in rows().values()} == {"yes", "memory", "-"}


@pytest.mark.parametrize("name", [*VIEIRA_TABLE_2, *SCHILDER_ABSTRACT, *sorted(VIEIRA_TEXT)])
def test_what_is_published_as_stress_is_stress_here_or_argued(name: str) -> None:
    classes = signs()
    some = VIEIRA_TABLE_2.get(name) or SCHILDER_ABSTRACT.get(name) or {name}
    for sign in some:
        if sign in ARGUED:
            assert classes[sign] == "noticed"
            assert re.search(r"\bstress\b", rows()[sign][3])
        else:
            assert classes[sign] in ("strong", "weak")
