"""What the command line refuses is one sentence: what is wanted, with an example."""

from __future__ import annotations

import io
import sys

import pytest

from tests.cli.run import Voicelog


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            "delete session Wren",
            "'voicelog delete session' needs --day DATE (the day, as 2026-04-18); for example: "
            "voicelog delete session Bracken --day 2026-04-18",
        ),
        (
            "delete session",
            "'voicelog delete session' needs DOG (the dog's name); for example: voicelog delete "
            "session Bracken --day 2026-04-18",
        ),
        (
            "owner Wren",
            "'voicelog owner' needs --output FILE (the PDF to write); for example: voicelog owner "
            'Bracken --output bracken.pdf --ring "Anna, 555 0100"',
        ),
        (
            "matters close xx --as Anna",
            "'voicelog matters close' needs --reason TEXT (why); for example: voicelog matters "
            'close 3fa1c09e --as Anna --reason "collar was wet; dried, fit checked"',
        ),
        (
            "correct --entry x",
            "'voicelog correct' wants a whole number for --entry N; for example: voicelog correct "
            'Bracken --entry 4 --words "l9 c"',
        ),
        (
            "correct --entry 0",
            "'voicelog correct' wants a number from 1 on for --entry N; for example: voicelog "
            'correct Bracken --entry 4 --words "l9 c"',
        ),
        (
            "correct --entr 3",
            "'voicelog correct' has no option --entr; did you mean --entry? For example: voicelog "
            'correct Bracken --entry 4 --words "l9 c"',
        ),
        (
            "correct Wren meadow",
            "'voicelog correct' does not know what to do with 'meadow'; put a name of several "
            'words into quotes; for example: voicelog correct Bracken --entry 4 --words "l9 c"',
        ),
        (
            "summary --format pdf",
            "'voicelog summary' wants one of 'text', 'markdown', 'html' for --format; for example: "
            "voicelog summary Bracken --format html --output bracken.html",
        ),
        ("sumary", "There is no command 'voicelog sumary'; did you mean 'summary'?"),
        (
            "delete bogus",
            "There is no command 'voicelog delete bogus'; see 'voicelog delete --help'.",
        ),
        ("dogs put Wren --top", "There is no value after '--top'; type it there."),
    ],
)
def test_it_says_what_is_wanted_and_shows_how(voicelog: Voicelog, typed: str, said: str) -> None:
    done = voicelog(*typed.split())
    assert (done.code, done.out, done.err) == (2, "", f"voicelog: {said}\n")


def test_a_group_called_bare_shows_its_help(voicelog: Voicelog) -> None:
    done = voicelog("matters")
    assert done.code == 2
    assert "Usage: voicelog matters" in done.out + done.err


def test_who_stops_in_the_middle_is_told_that_all_is_safe(
    voicelog: Voicelog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    voicelog("dogs", "put", "Wren")
    done = voicelog("delete", "dog", "Wren")
    assert (done.code, done.err) == (1, "voicelog: stopped; what was kept before is safe.\n")
