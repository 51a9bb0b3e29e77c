"""What the analysis found, in words: a sentence for every code, and none made in the analysis."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import get_args

import pytest

import voicelog.analysis
from tests.analysis.dogs import UNIT, good
from voicelog.analysis.criterion import Criterion, EnoughEvidence
from voicelog.analysis.levels import ceiling
from voicelog.analysis.overview import overview
from voicelog.analysis.plan import Aim
from voicelog.analysis.readiness import readiness
from voicelog.analysis.reason import Reason, ReasonCode
from voicelog.analysis.session_matters import MATTER_RULES
from voicelog.analysis.session_scope import scope_of
from voicelog.analysis.statistics.unknown import Unknown, UnknownCode
from voicelog.model import Dog, Transmitter
from voicelog.report.wording.dial import describe_steps
from voicelog.report.wording.levels import ceiling_words
from voicelog.report.wording.matters import stop_words
from voicelog.report.wording.readiness import criterion_words
from voicelog.report.wording.reasons import aim_words, reason_words
from voicelog.report.wording.records import worded
from voicelog.report.wording.statistics import p_value_words, unknown_words
from voicelog.report.words import date_words
from voicelog.safety.check import RULES
from voicelog.safety.settings import Settings

ANALYSIS = Path(voicelog.analysis.__file__).parent
STOP = re.compile(r"[.!?](\s|$)")


def texts(tree: ast.AST) -> Iterator[str]:
    """Every string that is built in a module, docstrings left out; "_" for what is put in."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue
        if isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else "_" for part in node.values
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value
        yield from texts(node)


@pytest.mark.parametrize("path", sorted(ANALYSIS.rglob("*.py")), ids=lambda path: path.stem)
def test_no_sentence_is_built_in_the_analysis(path: Path) -> None:
    built = texts(ast.parse(path.read_text(encoding="utf-8")))
    assert [text for text in built if " " in text and STOP.search(text)] == []


def test_a_sentence_would_be_found() -> None:
    made = ast.parse('"""A docstring. Two."""\nx = f"{y} is enough. Stop"\nz = ("a " "word.")')
    found = {text for text in texts(made) if STOP.search(text)}
    assert found == {"_ is enough. Stop", " is enough. Stop", "a word."}


def test_every_code_without_a_number_has_words() -> None:
    said = {code: unknown_words(Unknown(code=code)) for code in get_args(UnknownCode)}
    assert all(said.values())
    assert len(set(said.values())) == len(said)


def test_every_reason_has_words_of_its_own() -> None:
    step = readiness(scope_of([good(0)]), Settings())[0]
    none = ceiling(scope_of([]), Settings())
    said = {
        code: reason_words(Reason(code=code, step=step, ceiling=none, at="none", next="low"))
        for code in get_args(ReasonCode)
    }
    assert all(STOP.search(words) for words in said.values())
    assert len(set(said.values())) == len(said)


def test_skin_that_was_bad_before_the_session_is_told_with_what_was_done() -> None:
    found = reason_words(Reason(code="skin", day=date(2031, 5, 3)))
    assert found.startswith(
        "The skin was not said to be clear before the collar was put on or used on 3 "
    )


def test_every_aim_has_words() -> None:
    for code in get_args(Aim.model_fields["code"].annotation):
        assert aim_words(Aim(code=code)).endswith(".")


def test_every_kind_of_criterion_has_words() -> None:
    one = EnoughEvidence(met=False, where=None, wanted=100, sessions=2, days=56)
    assert criterion_words(one).name == "evidence"
    with pytest.raises(TypeError, match="no words for Criterion"):
        criterion_words(Criterion(met=True))


def test_a_day_and_a_p_in_words() -> None:
    assert (date_words(date(2031, 5, 3)), date_words(None)) == ("3 May 2031", "a day not known")
    assert [p_value_words(p) for p in (0.0002, 0.043, 0.5)] == [
        "p < 0.001",
        "p = 0.043",
        "p = 0.50",
    ]


def test_steps_of_a_dial_in_words() -> None:
    assert describe_steps(Transmitter(top=18)) == "steps up of 1, steps down of 1"
    assert describe_steps(Transmitter(top=100)) == (
        "steps up of 1, from level 20 on a tenth of the level, at most 5, steps down of 5"
    )
    assert describe_steps(Transmitter()) == (
        "steps up of 1, steps down of 5, or a tenth of the level where that is more"
    )


def test_a_ceiling_of_the_profile_says_so() -> None:
    assert ceiling_words(ceiling(scope_of([good(0)]), Settings(), 3)) == (
        "The ceiling of the dog's profile; no strong sign so far."
    )


def test_for_other_programs_the_words_stand_where_they_always_stood() -> None:
    sessions = [good(day, button=day % 2) for day in range(12)]
    found = worded(overview(sessions, Dog(name="Juno", transmitter=UNIT), Settings()))
    assert list(found) == [
        "dog", "notes", "ceiling", "levels", "shares", "times", "baseline", "course", "readiness",
        "plan", "story", "matters",
    ]  # fmt: skip
    assert list(found["ceiling"]) == ["level", "none_left", "why", "strong", "lowered"]
    assert list(found["course"][0]) == [
        "measure", "drill", "distraction", "points", "trend", "trend_words", "change",
        "change_words",
    ]  # fmt: skip
    assert list(found["readiness"][0]) == [
        "ladder", "now", "next", "verdict", "words", "criteria", "chance", "chance_ten", "note",
    ]  # fmt: skip
    assert list(found["readiness"][0]["criteria"][0]) == [
        "name", "wanted", "found", "met", "missing", "basis", "reps",
    ]  # fmt: skip
    assert found["plan"]["why"][0].keys() == {"words", "reps"}
    assert found["levels"][0]["first"] == "2 Mar 2031"
    assert found["levels"][0]["noticed"]["curve"].keys() == {"why", "of"}
    assert found["course"][0]["points"][0]["day"] == "1 Mar 2031"


def test_no_stop_is_told_by_the_name_of_its_rule() -> None:
    other = stop_words("rule-of-another-version")
    assert other == "a safety rule of another version"
    may_stop = {rule.name for rule in RULES if rule.severity == "stop"} | {"heat"}
    for name in (*may_stop, *MATTER_RULES):
        words = stop_words(name)
        assert words not in (name, other), name
        assert not re.search(r"\w-\w", words), name
