"""`voicelog questions`: what is asked about reps, and answering in the terminal."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file


def first_calls(voicelog: Voicelog, dog: str) -> str:
    """How many calls of the newest session of a dog its summary counts as unaided, of how many."""
    words = " ".join(voicelog("summary", dog).out.split())
    return words.partition("unaided at the first call ")[2][:6]


@pytest.fixture
def log(voicelog: Voicelog, tmp_path: Path) -> Voicelog:
    """One session, in which nobody said how the second rep ended."""
    voicelog("dogs", "put", "Bracken", "--top", "20")
    path = typed_file(
        tmp_path, "start session Bracken", "here no button came", "here", "level two", "end session"
    )
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2025-05-04T09:30")
    return voicelog


def test_a_question_is_listed_answered_and_gone(log: Voicelog) -> None:
    assert log("questions").out == (
        "Bracken, Sun 4 May 2025, 9:30\n"
        "  Rep 2 at 0:08: how it ended was not said.\n"
        "    came, ignored, line help, not known?\n"
        "\n"
        "Answer with 'voicelog questions' and --rep N --answer WORDS, or on the page: "
        "'voicelog review'.\n"
    )
    answered = log("questions", "bracken", "--rep", 2, "--answer", "line help", "--as", "Anna")
    assert (answered.code, answered.err) == (0, "")
    assert "Rep 2" in answered.out
    assert (
        log("questions").out
        == "No rep of these sessions has a question; --all asks about every session.\n"
    )


def test_an_answer_is_listed_as_the_correction_of_its_rep(log: Voicelog) -> None:
    log("questions", "Bracken", "--rep", 2, "--answer", "line help")
    listed = [
        line for line in log("correct", "Bracken", "--all").out.splitlines() if "help" in line
    ]
    (line,) = listed
    assert line.endswith("'correction line help' (corrects what was said of rep 2)")


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["--rep", 2], 2, "--rep and --answer belong together"),
        (["--rep", 1, "--answer", "came"], 2, "No question is open about a rep 1"),
        (["--rep", 2, "--answer", "went home"], 1, "I cannot read 'went home' as a note"),
    ],
)
def test_what_cannot_be_answered_is_said(
    log: Voicelog, arguments: list[object], code: int, says: str
) -> None:
    result = log("questions", *arguments)
    assert result.code == code
    assert says in result.err
    assert "Rep 2" in log("questions").out


@pytest.mark.parametrize("last", ["here no button", "end session"])
def test_an_answer_counts_in_notes_without_times_too(
    voicelog: Voicelog, tmp_path: Path, last: str
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    notes = tmp_path / "notes.txt"
    lines = ["ss bracken", "collar on", "here nb c", "here nb"]
    notes.write_text("\n".join([*lines, *(["end session"] if last == "end session" else [])]))
    voicelog("add", "--typed", notes, "--dog", "Bracken", "--at", "2025-05-04T09:30")
    answered = voicelog("questions", "bracken", "--rep", 2, "--answer", "line help")
    assert "nothing else changed" not in answered.out
    assert (
        voicelog("questions").out
        == "No rep of these sessions has a question; --all asks about every session.\n"
    )
    summary = voicelog("summary", "Bracken", "--all").out
    assert "1 line help" in summary
    assert "No reps in this session" not in summary


def test_a_growl_at_the_end_of_notes_without_times_is_after_all_the_work(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    notes = tmp_path / "notes.txt"
    notes.write_text("ss bracken\ncollar on\nhere nb c\nhere nb c\ngrowled\nend session\n")
    voicelog("add", "--typed", notes, "--dog", "Bracken", "--at", "2025-05-04T09:30")
    summary = voicelog("summary", "Bracken").out
    assert "Growling" in summary
    assert "Work went on" not in summary
    more = tmp_path / "more.txt"
    more.write_text("ss bracken\ncollar on\nhere nb c\ngrowled\nhere nb c\nend session\n")
    voicelog("add", "--typed", more, "--dog", "Bracken", "--at", "2025-05-06T09:30")
    assert "Work went on in rep 2" in voicelog("summary", "Bracken").out


def test_a_dog_that_the_log_does_not_know_is_asked_about_once_and_never_guessed(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    for dog in ("Bracken", "Wren"):
        voicelog("dogs", "put", dog, "--top", "20")
    for number, lines in enumerate((("wrenn here nb c", "bob here nb c"), ("Wrenn here l3 c",))):
        notes = tmp_path / f"{number}.txt"
        notes.write_text("\n".join(["ss wren", "here nb c", *lines]))
        voicelog("add", "--typed", notes, "--at", f"2025-05-0{number + 4}T09:30")
    asked = voicelog("questions").out
    assert "'wrenn' is a dog that the log does not know (2 times). Who is it?" in asked
    assert "  Wren, 4 May 2025: 'wrenn here nb c'\n  Wren, 5 May 2025: 'Wrenn" in asked
    assert "  Wren or Bracken? voicelog questions --name wrenn --is NAME" in asked
    assert first_calls(voicelog, "Wren") == "1 of 1"  # no line with the name counts
    assert voicelog("questions", "--name", "wrenn", "--is", "nobody").code == 2
    assert voicelog("questions", "--name", "dora", "--is", "Wren").code == 2
    assert voicelog("questions", "--name", "wrenn").code == 2
    answered = voicelog("questions", "--name", "wrenn", "--is", "Wren", "--as", "Anna")
    assert answered.code == 0, answered.err
    assert first_calls(voicelog, "Wren") == "1 of 2"
    after = voicelog("questions").out
    assert "'wrenn'" not in after
    assert "'bob' is a dog that the log does not know (1 time)." in after
    assert voicelog("correct", "Wren", "--undo").code == 0
    assert "'wrenn' is a dog that the log does not know (1 time)." in voicelog("questions").out


def test_work_of_a_dog_that_the_log_does_not_know_is_taken_in_and_is_nobody_elses(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    voicelog("dogs", "handler", "Anna")
    notes = tmp_path / "notes.txt"
    lines = ["ss bracken", "handler anna", "here nb c", "handler joe", "hup nb c", "hup nb c"]
    notes.write_text("\n".join([*lines, "ss fern", "here l3 c", "come nb c"]))
    added = voicelog("add", "--typed", notes, "--at", "2025-05-04T09:30")
    assert added.code == 0
    assert (
        "Line 7: I read a dog that I do not know, 'fern': add it with 'voicelog dogs put Fern', or "
        "which dog is it? Answer with 'voicelog questions --name fern --is NAME'. Nothing of it is "
        "lost." in added.out
    )
    assert first_calls(voicelog, "Bracken") == "1 of 1"
    asked = voicelog("questions").out
    assert "'fern' is a dog that the log does not know (1 time). Who is it?" in asked
    assert "'joe' is a handler that the log does not know (1 time). Who is it?" in asked
    assert "'hup' is a cue that the log does not know (2 times). Which is it?" in asked
    assert "'come'" not in asked  # one word before one note may be any

    refused = voicelog("questions", "--name", "fern", "--is", "Fern")
    assert (refused.code, "put it there first: voicelog dogs put NAME" in refused.err) == (2, True)
    voicelog("dogs", "put", "Bracken", "--cue", "here", "--cue", "hup")
    voicelog("dogs", "put", "Fern", "--top", "10", "--cue", "here", "--cue", "come")
    voicelog("dogs", "handler", "Joe")
    for name, known in (("fern", "fern"), ("joe", "Joe"), ("hup", "hup")):
        answered = voicelog("questions", "--name", name, "--is", known)
        assert (answered.code, answered.err) == (0, "")
    assert "does not know" not in voicelog("questions").out
    assert first_calls(voicelog, "Fern") == "1 of 2"  # the cue came with the dog
    assert first_calls(voicelog, "Bracken") == "3 of 3"

    assert voicelog("correct", "Bracken", "--undo").code == 0  # both lines with the cue, one step
    assert "Still to check or to answer: Bracken, 4 May 2025 (2)." in voicelog("questions").out
    assert first_calls(voicelog, "Bracken") == "1 of 1"
