"""Words are listed, checked for likeness, and tried: typed or spoken."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.app.rehear.hearing import said
from tests.audio.making import noise, write
from tests.cli.run import Voicelog
from tests.grammar.test_rich import SHAPES, folder_of
from tests.recognition.speaking import laid, say
from tests.recognition.vosk_files import vosk_folder
from voicelog.app.intake import RecognizedUtterance
from voicelog.app.open_file import IntakeOptions
from voicelog.audio.resampling import Samples
from voicelog.grammar.grammar import Grammar


@pytest.fixture(autouse=True)
def no_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty models folder."""
    monkeypatch.setenv("VOICELOG_MODELS", str(tmp_path / "models"))
    monkeypatch.setattr(
        "voicelog.recognition.vosk_models.user_data_dir", lambda name: tmp_path / name
    )
    return tmp_path / "models"


def section(out: str, title: str) -> list[str]:
    """The lines under a title."""
    lines = out.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith(title))
    found = []
    for line in lines[start + 1 :]:
        if not line.startswith("  "):
            break
        found.append(line.strip())
    return found


def test_a_roster_without_fault_is_said_to_have_none(voicelog: Voicelog) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    done = voicelog("words", "check")
    assert done.code == 0
    assert done.out == (
        "Names and cues that sound like something else: none.\n"
        "Words that cannot be pronounced, so that nothing can be heard while they are there: "
        "none.\n"
        "Words sounded out by their letters, since no dictionary has them or their parts:\n"
        "  stim: S T IH M; if it is said otherwise, spell it so\n"
        "Phrases that say two things: none.\n"
        "Words of the grammar that make another note of each other:\n"
        "  collar slipped / collar stripped\n"
        "  wet herself / wet himself\n"
        "  collar off / collar on\n"
    )


def test_a_rule_too_rich_to_list_is_shown_in_part_and_said_so(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    rule, note = SHAPES["slots repeated"]
    rich = ("--grammar", folder_of(tmp_path, rule))
    voicelog("dogs", "put", "Wren", "--top", "20")
    listed = section(voicelog("words", "list", "--kind", "condition", *rich).out, "condition")
    assert listed[-1] == "<condition.rich> can be said in more ways: each of its words is above."
    assert set(note.split()) <= {word for line in listed for word in line.split()}
    done = voicelog("words", "check", *rich)
    assert done.code == 0
    assert "Phrases that say two things:" in done.out
    assert voicelog("words", "try", note, *rich).out.startswith(f'sure: "{note}"')


def test_likenesses_are_told_with_what_would_be_better(voicelog: Voicelog) -> None:
    for name in ("Wren", "Ren", "Came"):
        voicelog("dogs", "put", name)
    voicelog("dogs", "put", "Zkorvo", "--cue", "hup")
    out = voicelog("words", "check").out
    names = section(out, "Names and cues")
    assert (
        'dog wren: sounds the same as ren, and "wren here" may be taken for "ren here"; for the '
        "log, call it Willow, Magpie or Bruno"
    ) in names
    assert any(line.startswith("dog came: is a word of the grammar too; for") for line in names)
    assert "cue hup: is easily heard as up" in names
    assert section(out, "Words sounded out")[0].startswith("hup: HH AH P; if it is said otherwise")
    assert section(out, "Phrases that say two") == [
        '"came hup" is taken as came hup (cue: voice); it could be came (outcome: '
        "complied) | hup (cue: voice)",
        '"came here" is taken as came here (cue: voice); it could be came (outcome: '
        "complied) | here (cue: voice)",
    ]
    assert "level fifteen / level fifty" in section(out, "Words of the grammar")
    assert out.splitlines()[-1].startswith("Levels go up to 100 here.")


def test_words_that_a_vosk_model_does_not_know_are_named(
    voicelog: Voicelog, no_models: Path
) -> None:
    words = set(Grammar.load().vocabulary) - {"squealed", "arrived"}
    vosk_folder(no_models / "vosk-model-small-en-us-0.15", words)
    assert section(voicelog("words", "check").out, "Words that the Vosk model") == [
        "arrived: say came, came in or came straight in",
        "squealed: nothing else says the same",
    ]


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        (
            "level 3, came, neck twitch",
            'sure: "level three came neck twitch"\n'
            "  level three (stimulus: level 3)\n"
            "  came (outcome: complied)\n"
            "  neck twitch (sign: noticed)\n",
        ),
        (
            "level free came",
            '"level free came" is no note, and no note is like it; what is none in it: "level '
            'free".\n',
        ),
        (
            "levle three came",
            'check: "level three came"\n'
            "  not a note as it stands; the nearest, to check\n"
            "  level three (stimulus: level 3)\n"
            "  came (outcome: complied)\n",
        ),
        (
            "level fifteen",
            'sure: "level fifteen"\n'
            "  level fifteen (stimulus: level 15)\n"
            '  spoken, it sounds like "level fifty", so it must be heard more clearly\n',
        ),
        ("good girl then", '"good girl then" is no note, and no note is like it.\n'),
    ],
)
def test_typed_words_are_tried(voicelog: Voicelog, words: str, shown: str) -> None:
    done = voicelog("words", "try", words)
    assert (done.code, done.out) == (0, shown)


def test_names_are_understood_as_the_roster_has_them(voicelog: Voicelog) -> None:
    assert "no note" in voicelog("words", "try", "start session tansy").out
    done = voicelog("words", "try", "start session tansy", "--dog", "Tansy")
    assert done.out.splitlines()[1] == "  start session tansy (session)"


def test_a_recording_is_tried(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hear(blocks: Iterable[Samples], _recording: str) -> Iterator[RecognizedUtterance]:
        assert sum(map(len, blocks)) == 16_000
        yield said(1, "level three came")
        yield said(4, "level two", "doubtful", alternatives=("level ten",))
        yield said(65, "", "rejected")

    monkeypatch.setattr(IntakeOptions, "recognizers", SimpleNamespace(recognize=hear))
    path = write(tmp_path / "a.wav", noise(1, 0.1))
    assert voicelog("words", "try", path).out == (
        '0:01 to 0:03  sure: "level three came"\n'
        '  quick 1 heard "level three came", sure to 100%\n'
        "  level three (stimulus: level 3)\n"
        "  came (outcome: complied)\n"
        '0:04 to 0:06  check: "level two"\n'
        '  quick 1 heard "level two", sure to 100%\n'
        "  level two (stimulus: level 2)\n"
        '  or "level ten"\n'
        "1:05 to 1:07  not understood\n"
        "  quick 1 heard nothing, sure to 100%\n"
    )


def test_a_recording_without_speech_is_said_to_have_none(
    voicelog: Voicelog, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hear(blocks: Iterable[Samples], _recording: str) -> Iterator[RecognizedUtterance]:
        assert sum(map(len, blocks)) == 16_000
        return iter(())

    monkeypatch.setattr(IntakeOptions, "recognizers", SimpleNamespace(recognize=hear))
    path = write(tmp_path / "a.wav", noise(1, 0.001))
    assert voicelog("words", "try", path).out == "No speech was found in it.\n"


def test_a_grammar_of_ones_own_is_listed_checked_and_heard(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    own = tmp_path / "drinks"
    own.mkdir()
    rule = "public <drink> = (large {size=large} | small {size=small}) mocha {drink=mocha};"
    text = f"#JSGF V1.0 UTF-8 en;\ngrammar condition;\n{rule}\n"
    (own / "condition.jsgf").write_text(text, "utf-8")
    listed = voicelog("words", "list", "--grammar", own)
    assert listed.out == "condition:\n  large mocha\n  small mocha\n"
    checked = voicelog("words", "check", "--grammar", own)
    assert (checked.code, checked.err) == (0, "")
    assert "Levels" not in checked.out, "it has none"
    assert voicelog("words", "try", "large mocha", "--grammar", own).out.startswith("sure:")
    assert "no note" in voicelog("words", "try", "level three", "--grammar", own).out
    spoken = write(tmp_path / "a.wav", laid([(0.5, say("large mocha"))], 1.0))
    heard = voicelog("words", "try", spoken, "--grammar", own, "--listener", "quick")
    assert '"large mocha"' in heard.out.splitlines()[0]
    missing = voicelog("words", "list", "--grammar", tmp_path / "none")
    assert missing.code != 0
    assert missing.err.startswith("voicelog: Found no .jsgf files in")


def test_a_file_that_is_not_there_is_not_taken_for_words(voicelog: Voicelog) -> None:
    done = voicelog("words", "try", "nosuch.wav")
    assert (done.code, done.err) == (
        2,
        "voicelog: Found no file 'nosuch.wav', wanted a recording or words; correct the name.\n",
    )


def test_a_kind_is_listed_alone(voicelog: Voicelog) -> None:
    assert voicelog("words", "list", "--kind", "ask").out == (
        "ask:\n  say level\n  say count\n  say last\n  say working level\n  say ceiling\n"
        "  say open\n  say again\n  what is open\n  affirm\n  negative\n  roger\n"
    )
    assert voicelog("words", "list", "--kind", "x").code == 2


def test_a_cue_means_what_its_trainer_says_and_nothing_until_then(voicelog: Voicelog) -> None:
    put = ("dogs", "put", "Wren", "--cue", "here", "--cue", "hup")
    voicelog(*put)
    assert "cues here, hup;" in voicelog("dogs", "list").out
    assert "ask for" not in voicelog("words", "card").out
    voicelog("dogs", "put", "Wren", "--means", "hup = sit")
    voicelog("dogs", "put", "Wren", "--ceiling", "6")  # leaves it
    assert "cues here, hup (sit);" in voicelog("dogs", "list").out
    assert "**What Wren's cues ask for:** hup: sit.\n" in voicelog("words", "card").out
    for wrong in ("hup", "hup=", f"hup={'x' * 61}"):
        refused = voicelog("dogs", "put", "Wren", "--means", wrong)
        assert (refused.code, "at most 60 characters" in refused.err) == (2, True)
    refused = voicelog("dogs", "put", "Wren", "--means", "whoa=stand")
    assert (refused.code, refused.err) == (
        2,
        "voicelog: The dog has no cue 'whoa', only: here, hup. Give it the cue first.\n",
    )
    voicelog("dogs", "put", "Wren", "--cue", "here")  # and what is said of no cue goes
    voicelog(*put)
    assert "cues here, hup;" in voicelog("dogs", "list").out
