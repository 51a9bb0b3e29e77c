"""`voicelog questions`: what is asked about reps, and answering in the terminal."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file


@pytest.fixture
def log(voicelog: Voicelog, tmp_path: Path) -> Voicelog:
    """One session, in which nobody said how the second rep ended."""
    voicelog("dogs", "put", "Bracken", "--top", "20")
    path = typed_file(
        tmp_path, "start session Bracken", "here no button came", "here", "level two", "end session"
    )
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2031-05-04T09:30")
    return voicelog


def test_a_question_is_listed_answered_and_gone(log: Voicelog) -> None:
    assert log("questions").out == (
        "Bracken, Sun 4 May 2031, 9:30\n"
        "  Rep 2 at 0:08: how it ended was not said.\n"
        "    came, ignored, line help?\n"
        "\n"
        "Answer with --rep N --answer WORDS, or on the page: 'voicelog review'.\n"
    )
    answered = log("questions", "bracken", "--rep", 2, "--answer", "line help", "--as", "Anna")
    assert (answered.code, answered.err) == (0, "")
    assert "Rep 2" in answered.out
    assert log("questions").out == "No rep is a question.\n"


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["--rep", 2], 2, "wanted both or none"),
        (["--rep", 1, "--answer", "came"], 2, "Found no question about a rep 1"),
        (["--rep", 2, "--answer", "went home"], 1, "Found 'went home', wanted a note"),
    ],
)
def test_what_cannot_be_answered_is_said(
    log: Voicelog, arguments: list[object], code: int, says: str
) -> None:
    result = log("questions", *arguments)
    assert result.code == code
    assert says in result.err
    assert "Rep 2" in log("questions").out
