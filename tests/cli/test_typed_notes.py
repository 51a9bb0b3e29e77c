"""What a trainer typed is asked about where it says more, or less, than its words."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file
from voicelog.app.grammars import grammar_with
from voicelog.app.typed_file import TypedFile
from voicelog.model import Dog, Roster

LINES = (
    "here no button came",
    "here level 0 came",
    "here level 3? came",
    "here level 3 twice came",
    "here level 2 came",
    "no button level 3 came",
    "here level 3, no yelp",
)


def add(voicelog: Voicelog, tmp_path: Path, *lines: str) -> str:
    """Add these lines to a log with one dog; what was said of it."""
    voicelog("dogs", "put", "Bracken", "--top", "18")
    path = tmp_path / "notes.txt"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = voicelog("add", "--typed", str(path), "--dog", "Bracken", "--at", "2026-04-18")
    assert result.code == 0, result.err
    return result.out


def test_doubt_in_a_typed_line_is_kept_and_said(voicelog: Voicelog, tmp_path: Path) -> None:
    told = add(voicelog, tmp_path, *LINES)
    assert "notes.txt: 3 notes sure, 2 to check, 2 not understood." in told
    for said in (
        "Line 2: 'here level 0 came' has a level below the lowest of the collar; to check as",
        "Line 3: '3?' is marked as not sure; to check as 'here level three came'.",
        "Line 4: 'here level 3 twice came' may tell of two calls or of two presses; the whole",
        "Line 7: 'no' is not a note as typed; the whole line is left as not understood.",
    ):
        assert said in told
    assert "'no button' too" in voicelog("questions", "Bracken").out


def test_a_line_is_listed_to_the_letter_and_the_opposite_is_not_offered(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    add(voicelog, tmp_path, *LINES)
    listed = voicelog("correct", "Bracken").out
    assert "not understood  'here level 3, no yelp'" in listed
    assert "'here level 3? came'" in listed
    assert "below the lowest level of the dog's collar" in listed
    assert "yelped" not in listed


HARM = ("here no button came", "she was lazy today", "yelpd at 7", "collar off, skin bit red")
PAPERS = (("summary", "Bracken"), ("plan", "Bracken"), ("progress", "Bracken"), ("kennel",))
FIRST = (
    "3 lines of your notes were not understood and are in no count; one may tell of the skin: "
    "'collar off, skin bit red'; one may tell of pain or stress: 'yelpd at 7'."
)


def test_a_line_that_may_tell_of_harm_comes_first_everywhere(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    told = add(voicelog, tmp_path, *HARM).splitlines()
    assert [line.split(":")[0] for line in told[1:4]] == ["Line 4", "Line 3", "Line 2"]
    assert told[1].endswith("It may tell of the skin: 'collar off, skin bit red'.")
    listed = voicelog("correct", "Bracken").out.splitlines()
    assert [line.split()[0] for line in listed if "not understood" in line] == ["3", "4", "2"]
    assert any("'yelpd at 7' (in no count; may tell of pain or stress)" in line for line in listed)
    for command in PAPERS:
        page = " ".join(voicelog(*command, "--plain").out.split())
        assert FIRST in page, page
        before = page.partition(FIRST)[0]
        assert "button" not in before
        assert "No stop" not in before
    for form in ("markdown", "html"):
        page = voicelog("summary", "Bracken", "--format", form).out
        assert "3 lines of your notes were not understood" in page.partition("No stop")[0]
    assert "Nothing to check" not in voicelog("summary", "Bracken").out
    for number in ("2", "3", "4"):
        assert voicelog("correct", "Bracken", "--entry", number, "--void").code == 0
    for command in PAPERS:
        assert "your notes" not in voicelog(*command).out


def test_a_single_line_is_told_of_as_one(voicelog: Voicelog, tmp_path: Path) -> None:
    add(voicelog, tmp_path, "here no button came", "her neck looked sore")
    page = " ".join(voicelog("kennel").out.split())
    assert "is in no count; it may tell of the skin: 'her neck looked sore'." in page


def test_the_kennel_names_a_dog_whose_lines_were_too_many_to_look_at(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was not looked at may tell of harm: it is counted, and never passed over in silence."""
    add(voicelog, tmp_path, "here no button came", "she was lazy today")
    assert "your notes" not in voicelog("kennel").out
    monkeypatch.setattr("voicelog.app.unread_lines._KENNEL_LOOKED_AT", 0)
    page = " ".join(voicelog("kennel").out.split())
    assert "1 line of your notes was not understood and is in no count." in page
    assert "To correct: voicelog correct Bracken." in page
    assert "Nothing: no stop" not in page


UNREAD = "oops wrong button nick 3 on the other dog"


def struck(voicelog: Voicelog) -> list[str]:
    """The numbers of the entries that are void."""
    listed = voicelog("correct", "Bracken", "--all").out.splitlines()
    entries = [line.split() for line in listed if line.split()[:1] and line.split()[0].isdigit()]
    assert len(entries) == 3
    return [words[0] for words in entries if "void" in words]


@pytest.mark.parametrize("strike", ["strike that", "scratch that", "cancel that"])
def test_a_strike_after_a_line_not_understood_takes_nothing_back_and_is_asked_about(
    voicelog: Voicelog, tmp_path: Path, strike: str
) -> None:
    told = add(voicelog, tmp_path, "here level 5 yelped", UNREAD, strike)
    assert "notes.txt: 1 note sure, 1 to check, 1 not understood." in told
    assert (
        f"Line 3: '{strike}' follows a line that was not understood (what does it take back?); "
        f"to check as '{strike}'."
    ) in told
    assert "yelped" in voicelog("summary", "Bracken").out
    listed = voicelog("correct", "Bracken").out
    assert "it follows a line that was not understood: what does it take back?" in listed
    assert struck(voicelog) == []


def test_a_correction_after_a_line_not_understood_is_asked_about(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    told = add(voicelog, tmp_path, "here level 5 came", UNREAD, "correction ignored")
    assert "1 note sure, 1 to check, 1 not understood." in told
    assert "Line 3: 'correction ignored' follows a line that was not understood" in told


def test_confirmed_as_it_stands_it_still_takes_nothing_back(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    """That it was meant as a strike says nothing of what it strikes."""
    add(voicelog, tmp_path, "skin red", UNREAD, "strike that")
    assert voicelog("correct", "Bracken", "--entry", "3", "--confirm").code == 0
    assert struck(voicelog) == []


def test_it_takes_back_the_line_before_it_once_that_was_read(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    add(voicelog, tmp_path, "skin red", UNREAD, "strike that")
    assert voicelog("correct", "Bracken", "--entry", "2", "--words", "here nick 3").code == 0
    assert voicelog("correct", "Bracken", "--entry", "3", "--confirm").code == 0
    assert struck(voicelog) == ["2"]


@pytest.mark.parametrize(
    ("lines", "sure", "unsure"),
    [
        ((UNREAD, "here level 3 came", "strike that"), 2, 0),
        ((UNREAD, "here level 3 came strike that"), 1, 0),
        ((UNREAD, "here level 3 came correction ignored"), 1, 0),
        (("here level 5 came", UNREAD, "strike rep 1"), 2, 0),
        (("here level 5 came", UNREAD, "say level", "strike that"), 2, 1),
        (("here level 5 came", UNREAD, "strike that", "strike that"), 1, 2),
        (("skin red", UNREAD, "here level 3 came", "strike that", "strike that"), 3, 1),
        (("here level 5 came", UNREAD, "no button correction ignored"), 2, 0),
        (("here level 5 came", UNREAD, "skin red correction ignored"), 1, 1),
    ],
)
def test_only_what_would_aim_past_a_line_not_understood_is_asked_about(
    tmp_path: Path, lines: tuple[str, ...], sure: int, unsure: int
) -> None:
    grammar = grammar_with(Roster(dogs=(Dog(name="Bracken"),)), ())
    path = typed_file(tmp_path, *lines)
    found = [verdict.status for _, _, verdict in TypedFile(path, grammar).heard()]
    assert found.count("rejected") == 1
    assert (found.count("accepted"), found.count("doubtful")) == (sure, unsure)


def test_what_an_older_version_struck_stays_struck_until_it_is_read_again(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as older:
        older.setattr("voicelog.app.typed_file.follows_unread", lambda entry, before: False)
        add(voicelog, tmp_path, "skin red", UNREAD, "strike that")
    assert struck(voicelog) == ["1"]
    assert voicelog("rehear", "Bracken", "--yes").code == 0
    assert struck(voicelog) == []
