"""Typed lines: their times in every form that people write, and not a letter of the words lost."""

from __future__ import annotations

import re
from datetime import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.app.typed_lines import (
    NotTextError,
    TypedFormatError,
    TypedLines,
    read_typed_lines,
)

PATH = Path("notes.txt")


def lines_of(text: str) -> TypedLines:
    return read_typed_lines(PATH, text.encode(), lambda words: "level" in words)


def spans(text: str) -> list[tuple[float, float, str]]:
    return [(line.start_s, line.end_s, line.words) for line in lines_of(text).lines]


@pytest.mark.parametrize(
    ("typed", "start_s", "end_s", "words"),
    [
        ("12.5\t14\tlevel three came", 12.5, 14, "level three came"),
        ("12.5 14 level three came", 12.5, 14, "level three came"),
        ("12.5,14,level three, came", 12.5, 14, "level three, came"),
        ("12.5; 14; came", 12.5, 14, "came"),
        ("12\tcame", 12, 12, "came"),
        ("12, came", 12, 12, "came"),
        ("12.5 came", 12.5, 12.5, "came"),
        ("140 came", 140, 140, "came"),
        ("12 here level 3 came", 12, 12, "here level 3 came"),
        ("12s came", 12, 12, "came"),
        ("1m05s came", 65, 65, "came"),
        ("0:10 here l3 came", 10, 10, "here l3 came"),
        ("7:42 here", 462, 462, "here"),
        ("00:07:42 here", 462, 462, "here"),
        ("[0:10] here", 10, 10, "here"),
        ("0:10 - here", 10, 10, "here"),
        ("0:10, here, l3", 10, 10, "here, l3"),
        ("0:10-0:14 here", 10, 14, "here"),
        ("0:10.5 here", 10.5, 10.5, "here"),
        ("- 0:10 here", 10, 10, "here"),
        ("7:42 AM here", 0, 0, "here"),
        ("7:42\u202fa.m. here", 0, 0, "here"),
        ("7am here", 0, 0, "here"),
        ("here l3 came, neck twitch", 0, 0, "here l3 came, neck twitch"),
        ("• here\u00a0l3 came", 0, 0, "here l3 came"),
        ("1. here", 0, 0, "here"),
        ("- [x] here", 0, 0, "here"),
        ("-3 came", 0, 0, "-3 came"),
        ("\ufeff“here” l3 🐶", 0, 0, "“here” l3 🐶"),
    ],
)
def test_a_time_is_read_in_every_form(typed: str, start_s: float, end_s: float, words: str) -> None:
    assert spans(typed) == [(start_s, end_s, words)]


def test_the_ends_of_lines_and_the_marks_of_other_systems_do_not_matter() -> None:
    plain = lines_of("0:10 here\n0:14 came")
    assert lines_of("\ufeff0:10 here\r\n\r\n# a remark\r\n0:14 came\r\n").lines[1].number == 4
    assert read_typed_lines(PATH, "0:10 here\r\n0:14 came".encode("utf-16")) == plain


def test_times_of_day_count_from_the_first_and_keep_it() -> None:
    read = lines_of("11:58 AM here\n12:01 pm came\n1:05 level two")
    assert read.began == time(11, 58)
    assert [line.start_s for line in read.lines] == [0, 180, 67 * 60]
    assert lines_of("07:42:10 here\n07:43:00 came").began == time(7, 42, 10)
    assert lines_of("0:10 here\n7:42 came").began is None


def test_a_line_without_a_time_stands_where_the_one_before_it_stands() -> None:
    found = spans("start session bracken\n0:10 here\ncame\n0:20 level two")
    assert [start_s for start_s, _, _ in found] == [0, 10, 10, 20]


@pytest.mark.parametrize(
    ("typed", "line", "wanted"),
    [
        ("3 came", 1, "a time or a level? Type '3 s came' for a time, 'level 3 came' for a level."),
        ("9 no button", 1, "a time or a level"),
        ("120 here\n100 came", 1, "a time or a level"),
        ("120 s here\n100 came", 2, "Type 'level 100 came' for a level. As a time it does not fit"),
        ("13:05 here\n13:06 came", 1, "Type '1:05 pm here' for a time of day, '0:13:05 here'"),
        ("here\n120 came", 2, "a time or a level"),
        (
            "7:42 here\n7:45 came",
            1,
            "'7:42 am here' or '7:42 pm here' for a time of day, '0:07:42 here' for",
        ),
        (
            "1:30:00 here",
            1,
            "'1:30:00 am here' or '1:30:00 pm here' for a time of day, '90:00 here'",
        ),
        ("7:42 here\n7:45 AM came", 1, "the first time of day is am or pm"),
        ("0:10 here\n0:75 came", 2, "this is not a time; write it as 0:10"),
        ("0:10 here\n0:5 came", 2, "this is not a time; write it as 0:10"),
        ("13:00 am here", 1, "this is not a time; write it as 0:10"),
        ("0:10 here\n0:05 came", 2, "this time is before that of line 1; correct one of the two"),
        ("7:42 am here\n12.5 came", 2, "the other lines have times of day"),
        ("14\t12\tcame", 1, "it ends before it begins"),
        ("nan\t12\tcame", 1, "it ends before it begins"),
    ],
)
def test_what_may_be_two_things_or_cannot_be_is_refused(typed: str, line: int, wanted: str) -> None:
    with pytest.raises(TypedFormatError) as refused:
        lines_of(typed)
    assert refused.value.line == line
    assert wanted in str(refused.value)
    assert str(refused.value).startswith("Nothing of notes.txt was kept: ")
    assert f"\n  Line {line}, '" in str(refused.value)


@pytest.mark.parametrize(
    "typed",
    [
        "3 came",
        "0:10 here l3 c\n3 came",
        "0:10 here l3 c\n3 came\n0:20 nb c",
        "9 no button\n3 came\nignored",
        "120 here\n100 came\n7 ignored",
        "3 5 came\n9 came",
        "7:42 here\n7:45 came",
        "13:05 here\n13:10 came",
        "12:05 here\n12:10 came",
        "1:30:00 here\n1:31:00 came",
    ],
)
def test_what_a_refusal_says_to_type_is_taken_as_it_says(typed: str) -> None:
    """Whoever types it, line for line, comes through, whichever of the two it was."""
    left, through = [typed], 0
    while left:
        lines = left.pop().splitlines()
        try:
            lines_of("\n".join(lines))
        except TypedFormatError as refused:
            _, _, advice = refused.bad[0].problem.partition(" Type ")
            shown = re.findall(r"'([^']+)'", advice)
            assert shown
            for line in shown:
                kept = [*lines[: refused.line - 1], line, *lines[refused.line :]]
                left.append("\n".join(kept))
        else:
            through += 1
    assert through


def test_every_line_that_cannot_be_taken_is_named_at_once() -> None:
    with pytest.raises(TypedFormatError) as refused:
        lines_of("here\n3 came\n5:0 here\n4 ignored\n0:20 here\n0:10 came")
    assert [one.number for one in refused.value.bad] == [2, 3, 4, 6]
    assert str(refused.value) == (
        "Nothing of notes.txt was kept: 4 lines have to be corrected first.\n"
        "  Line 2, '3 came': is 3 a time or a level? Type '3 s came' for a time, 'level 3 came' "
        "for a level. Neither: put # in front, and it is left out.\n"
        "  Line 3, '5:0 here': this is not a time; write it as 0:10, 0:07:42 or 7:42 am.\n"
        "  Line 4, '4 ignored': is 4 a time or a level? Type '4 s ignored' for a time, 'level 4 "
        "ignored' for a level. Neither: put # in front, and it is left out.\n"
        "  Line 6, '0:10 came': this time is before that of line 5; correct one of the two."
    )


def test_a_question_about_all_times_is_asked_once() -> None:
    with pytest.raises(TypedFormatError) as refused:
        lines_of("7:42 here\n7:45 came\n7:47 here")
    assert [one.number for one in refused.value.bad] == [1]


def test_of_many_lines_that_cannot_be_taken_some_are_told() -> None:
    with pytest.raises(TypedFormatError, match=r"And 32 or more like these\.") as refused:
        lines_of("here\n" + "3 came\n" * 500)
    assert str(refused.value).count("\n") == 9


def test_the_first_line_alone_says_what_the_times_are() -> None:
    assert [s for s, _, _ in spans("0:07:42 here\n7:45 came")] == [462, 465]
    assert [s for s, _, _ in spans("7:42 am here\n7:45 came")] == [0, 180]


def test_bytes_that_are_no_text_are_refused() -> None:
    with pytest.raises(NotTextError, match="save it as UTF-8"):
        read_typed_lines(PATH, b"caf\xe9")


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_and_no_letter_is_lost(text: str) -> None:
    try:
        found = lines_of(text).lines
    except (TypedFormatError, UnicodeEncodeError):
        return
    kept = {line.number: line.words for line in found}
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
        letters = [one for one in line if one.isalpha() and one not in "apmsxecondiAPMSXECONDI"]
        if number in kept:
            assert [one for one in kept[number] if one in letters] == letters
        else:
            assert not letters or line.strip().startswith("#") or "#" in line


def test_two_whole_numbers_are_times_only_where_the_other_lines_say_so() -> None:
    assert spans("3 5 level 2 came\n8 9 came")[0] == (3, 5, "level 2 came")
    assert spans("3, 5, came") == [(3, 5, "came")]
    for text in ("3 5 came", "here came\n3 5 came", "3 5 came\n4 6 came"):
        with pytest.raises(TypedFormatError, match="are 3 and 5 times or levels"):
            lines_of(text)


def test_lines_that_begin_with_a_hash_are_counted() -> None:
    assert lines_of("# monday\nhere came\n#note").left_out == (1, 3)
