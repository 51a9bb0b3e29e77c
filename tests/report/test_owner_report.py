"""The owner's report: plain words, two pages, nothing hidden, no level to dial."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import UNIT, Dog, good, rep, session_digest
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.model import CueMeaning
from voicelog.model import Dog as Profile
from voicelog.report import owner_pdf
from voicelog.report.owner_pdf import NoTypstError, pdf
from voicelog.report.owner_report import OwnerReport, build
from voicelog.report.wording.story import SITUATIONS
from voicelog.safety.settings import Settings

TODAY = date(2031, 3, 20)
LADDER = tuple(SITUATIONS)
JUNO = Profile(name="Juno", transmitter=UNIT, cues=("here", "kom"))


def report(*session_digests: SessionDigest, dog: Profile = JUNO, ring: str = "") -> OwnerReport:
    return build(session_digests, dog, Settings(), TODAY, ring=ring)


def words(one: OwnerReport) -> str:
    lists = (one.in_short, one.does, one.not_yet, one.trained, one.went_wrong, one.go_on, one.stop)
    return " ".join(line for lines in lists for line in lines)


def test_birds_that_it_met_without_work_on_them_are_told() -> None:
    assert "Birds: not met in training yet." in words(report(good(0)))
    told = words(report(good(0)._replace(game=True)))
    assert "Birds: met, not worked on yet. Keep the dog away from them for now." in told


def test_what_it_does_and_what_not_follow_from_its_calls() -> None:
    low = [good(day, came=5, distraction="low") for day in (2, 3)]
    high = good(4, came=2, of=2, distraction="high")
    one = report(good(0), good(1), *low, high)
    assert "Comes at the first call where nothing is going on: 18 of 20." in one.does
    assert "Coming with a little going on: 10 of 20 at the first call. Not sure yet." in one.not_yet
    assert "Coming with a lot going on: tried only twice, do not rely on it." in one.not_yet
    assert "Coming with more going on: not trained yet." in one.not_yet
    assert [(bar.came, bar.of) for bar in one.bars] == [(18, 20), (10, 20), (2, 2)]


def test_a_call_that_took_the_collar_is_not_promised() -> None:
    one = report(good(0, came=6, button=4), good(1, came=6, button=4))
    assert (
        "Coming where nothing is going on: 12 of 20 at the first call (and 8 with the collar's "
        "button, or nothing said of it). Not sure yet."
    ) in one.not_yet
    assert (
        "came after one call 20 times of 20 where nothing is going on, 12 of them without "
        "the collar's button, which is few"
    ) in words(one)
    stops = [rep(n, "vibrate" if n > 5 else "none", drill="stop") for n in range(1, 13)]
    assert "Stop: done" not in words(report(session_digest(stops)))


def test_the_owners_own_words_and_whistles_are_those_of_the_dog() -> None:
    blown = rep(11, cue="recall pips", cue_by="whistle")
    rows = report(good(0)._replace(reps=(*good(0).reps, blown))).words
    assert [row[0] for row in rows] == ["“here”", "“kom”", "recall pips"]
    assert rows[2][1] == "Several short pips on the whistle: come to me."


def test_a_word_that_stops_the_dog_is_not_said_to_call_it_in() -> None:
    dog = JUNO.model_copy(update={"cues": ("here", "whoa", "kom")})
    called = rep(11, cue="kom", cue_by="voice", drill="recall")
    rows = dict(report(good(0)._replace(reps=(*good(0).reps, called)), dog=dog).words)
    assert rows["“here”"].startswith("Come to me")
    assert rows["“kom”"].startswith("Come to me")
    assert rows["“whoa”"] == "A word that it knows: have its trainer show you what it means."


def test_a_word_means_what_its_trainer_says() -> None:
    said = (CueMeaning(cue="hup", meaning="sit, and stay sitting."),)
    dog = JUNO.model_copy(update={"cues": ("here", "hup", "kom"), "cue_meanings": said})
    called = [rep(n, cue="hup", cue_by="voice", drill="recall") for n in range(2)]
    rows = dict(report(session_digest(called), dog=dog).words)
    assert rows["“hup”"] == "Sit, and stay sitting."  # not that it came to it
    assert rows["“here”"].startswith("Come to me")
    assert rows["“kom”"] == "A word that it knows: have its trainer show you what it means."


def test_how_it_was_trained_tells_of_the_collar_and_what_went_wrong() -> None:
    yelp = rep(1, "continuous", [4], "complied", [("yelped", "strong", 4)])
    one = report(session_digest([yelp], 0, stops=("stress-twice",), skin="red"), good(1, came=8))
    assert one.trained[0].startswith("With an electronic collar")
    assert "Of 11 exercises, 1 was done with stimulation from it (in 1 of 2 sessions with" in words(
        one
    )
    assert one.went_wrong == (
        "In 1 session Juno showed plain signs of stress: yelped; the last time on 1 Mar 2031.",
        "The safety rules of the log called for a stop in 1 session, the last on 1 Mar 2031.",
        "The skin under the collar was red, last on 1 Mar 2031.",
        "It ignored what it was asked, left or broke twice.",
        "Not settled yet: skin red on 1 Mar 2031.",
        "Not settled yet: a stop on 1 Mar 2031.",
    )


def test_a_dog_trained_without_a_collar_is_said_to_be() -> None:
    assert report(good(0)).trained[0] == "Without an electronic collar."


def test_what_was_not_understood_is_told_and_nothing_is_denied_without_it() -> None:
    pressed, note = good(0, button=2), session_digest([], 1, skin="clear")
    left = "3 lines of the notes were not understood and are in no number here"
    for sessions, denied, instead in (
        ([pressed, note], "none with its vibration", "none that was understood with its vibration"),
        ([good(0), note], "Without an electronic collar", "No electronic collar is in the notes"),
    ):
        read = words(build(sessions, JUNO, Settings(), TODAY))
        assert denied in read
        assert "not understood" not in read
        one = words(build(sessions, JUNO, Settings(), TODAY, not_understood=3))
        assert denied not in one
        assert instead in one
        assert left in one
    assert "(in 1 of 1 session with exercises)" in words(report(pressed, note))
    assert "1 line of the notes was not understood and is in no number here" in words(
        build([note], JUNO, Settings(), TODAY, not_understood=1)
    )


def test_there_is_no_level_to_dial() -> None:
    one = report(*Dog(3, stress=8).sessions(12))
    assert not re.search(r"\blevel\b|\bdial|\bceiling\b", words(one), re.IGNORECASE)
    assert "Do not put a collar on to make it come" in words(one)


@pytest.mark.parametrize(
    ("told", "said"), [("home", "goes home with the dog"), ("stays", "not part of what you take")]
)
def test_whether_the_collar_goes_home_is_said_only_when_told(
    told: Literal["home", "stays"], said: str
) -> None:
    pressed = good(0, button=2)
    assert said in words(build([pressed], JUNO, Settings(), TODAY, collar=told))
    assert not re.search(r"goes home|take home", words(report(pressed)))


# --- today -----------------------------------------------------------------------------


def calls(day: int, came: int, of: int, distraction: str) -> SessionDigest:
    return good(day, came=came, of=of, distraction=distraction)


def test_easy_early_weeks_promise_nothing_today() -> None:
    early = [calls(day, 10, 10, "none") for day in (-60, -59)]
    one = report(*early, calls(1, 4, 10, "medium"), calls(2, 3, 10, "medium"))
    assert one.does == ("Juno does nothing reliably enough yet to promise it.",)
    assert [bar.name for bar in one.bars] == ["with more going on"]
    assert "Coming where nothing is going on: not tried lately, do not rely on it." in one.not_yet


def test_what_it_does_where_a_lot_goes_on_is_not_doubted_where_less_does() -> None:
    one = report(calls(0, 2, 3, "none"), calls(1, 9, 10, "high"))
    assert one.does == ("Comes at the first call with a lot going on: 9 of 10.",)
    assert not any(line.startswith("Coming") for line in one.not_yet)


def test_what_fails_where_less_goes_on_is_not_promised_where_more_does() -> None:
    one = report(calls(0, 4, 10, "low"), calls(1, 9, 10, "high"))
    assert not any(line.startswith("Comes") for line in one.does)
    assert (
        "Coming with a lot going on: 9 of 10 at the first call. Not with a little going on "
        "either, so not sure yet."
    ) in one.not_yet


def test_what_is_weeks_old_says_so() -> None:
    one = build([good(0)], JUNO, Settings(), date(2031, 6, 1))
    assert one.does[0] == "As of 13 weeks ago, when it was last called in training:"


COUNTS = st.tuples(st.sampled_from(LADDER), st.integers(0, 14), st.integers(0, 14))


@given(st.lists(COUNTS, max_size=8))
@settings(max_examples=80, deadline=None)
def test_of_one_situation_one_thing_is_said(worked: list[tuple[str, int, int]]) -> None:
    sessions = [calls(5 * day, min(came, of), of, at) for day, (at, came, of) in enumerate(worked)]
    one = build(sessions, JUNO, Settings(), date(2031, 4, 20))
    for situation in SITUATIONS.values():
        does = [line for line in one.does if line.endswith(".") and f"call {situation}" in line]
        not_yet = [line for line in one.not_yet if line.startswith(f"Coming {situation}:")]
        assert len(does) + len(not_yet) <= 1
        assert does or not_yet or any(line.startswith("Comes") for line in one.does)


def test_nothing_on_record_promises_nothing() -> None:
    one = report()
    assert one.in_short == ("No call of Juno is on record yet, so nothing can be said here.",)
    assert one.does == ("Juno does nothing reliably enough yet to promise it.",)


# --- the PDF ---------------------------------------------------------------------------


def worst() -> OwnerReport:
    """As much as can stand in a report."""
    cues = tuple(f"word{n}" for n in range(4))
    session_digests = Dog(5, stress=5).sessions(40)
    blown = [
        rep(50 + n, cue=cue, cue_by="whistle")
        for n, cue in enumerate(("recall pips", "long blast", "turn pips"))
    ]
    more = [rep(60 + n, drill=drill) for n in range(40) for drill in ("stop", "place", "heel")]
    session_digests.append(session_digest([*blown, *more], 41, skin="sore", stops=("skin",)))
    dog = JUNO.model_copy(update={"cues": cues, "name": "Bracken of the Long Invented Kennel"})
    return build(session_digests, dog, Settings(), TODAY, ring="Anna Invented, 555 0100")


@pytest.mark.parametrize("make", [worst, report], ids=["full", "empty"])
def test_it_is_two_pages_with_its_fonts_in_it(
    make: Callable[[], OwnerReport], tmp_path: Path
) -> None:
    if shutil.which("pdfinfo") is None:
        pytest.skip("needs poppler-utils")
    path = tmp_path / "o.pdf"
    path.write_bytes(pdf(make()))
    info = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    assert re.search(r"^Pages:\s+2$", info, re.MULTILINE)
    fonts = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True).stdout
    embedded = [line.split()[-5] for line in fonts.splitlines()[2:]]
    assert embedded
    assert set(embedded) == {"yes"}


def test_the_same_report_is_the_same_bytes() -> None:
    assert pdf(worst()) == pdf(worst())


def test_a_name_is_never_read_as_markup() -> None:
    evil = Profile(name='#panic("x") *bold* $x$ \\', transmitter=UNIT)
    assert pdf(report(good(0), dog=evil)).startswith(b"%PDF-")


def test_without_the_library_the_way_to_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(NoTypstError, match=r"pip install 'voicelog\[papers\]'"):
        pdf(report())


def test_the_bars_do_not_say_that_the_collar_was_off() -> None:
    """Unaided is without the button; the log does not say what the dog wore."""
    page = (Path(owner_pdf.__file__).parent / "owner.typ").read_text("utf-8")
    assert "at the first call, without the collar's button" in page
    assert not re.search(r"without the collar(?!'s button)", page)


def test_each_exercise_in_which_it_did_not_do_it_is_counted_whatever_came_after() -> None:
    reps = [
        rep(1, outcome="ignored"),
        rep(2, "continuous", (6,), failed_first="ignored"),
        rep(3, outcome="helped", failed_first="ignored"),
        rep(4, outcome="helped", failed_first="left"),
        rep(5, outcome="helped"),
        rep(6),
    ]
    assert (
        "It ignored what it was asked, left or broke 4 times."
        in report(session_digest(reps)).went_wrong
    )


def test_a_word_is_said_to_call_it_in_only_where_the_dog_came_to_it_and_it_means_nothing_else() -> (
    None
):
    dog = JUNO.model_copy(update={"cues": ("here", "hup", "kom")})

    def meaning(*reps: RepDigest) -> dict[str, str]:
        return dict(report(session_digest(reps), dog=dog).words)

    sat = rep(1, cue="hup", drill="stop")
    assert meaning(sat)["“hup”"].startswith("A word that it knows")
    assert meaning(sat, rep(2, cue="hup"))["“hup”"].startswith("A word that it knows")
    assert meaning(rep(1, cue="kom", outcome="ignored"))["“kom”"].startswith("A word that")
    assert meaning(rep(1, cue="kom"))["“kom”"].startswith("Come to me")


def test_bad_days_stand_in_the_sentence_that_counts_the_calls() -> None:
    yelp = rep(1, "continuous", [9], "complied", [("yelped", "strong", 9)])
    one = report(session_digest([yelp, rep(2)], 0, skin="red"))
    assert (
        "in those sessions it showed plain signs of stress (yelped) and its skin was red"
        in one.in_short[0]
    )
    assert "in those sessions" not in report(session_digest([rep(1)], 0)).in_short[0]


def test_red_skin_that_nobody_checked_is_told_as_that() -> None:
    sure = session_digest([rep(1)], 0, skin="red")
    doubted = sure._replace(
        matters=tuple(one.model_copy(update={"on_doubt": True}) for one in sure.matters)
    )
    told = "The skin under the collar was red, last on 1 Mar 2031"
    assert f"{told}." in report(sure).went_wrong
    one = report(doubted)
    assert f"{told}; based on a note that nobody has checked." in one.went_wrong
    assert "its skin was red (a note that nobody has checked)" in one.in_short[0]
