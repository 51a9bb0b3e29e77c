"""What was corrected is counted as it was heard: outcomes, listeners, noise, confusions.

All that is said here is invented, with confusions that are known.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.app.rehear.hearing import GRAMMAR, RECORDING, events_of, said
from voicelog.analysis.accuracy import (
    Confusion,
    learn,
    loudness_band,
    noise_band,
    word_substitutions,
)
from voicelog.analysis.reviewed_entries import OutcomeTally, ReviewedEntries
from voicelog.analysis.word_advice import OFTEN, Advice, advise
from voicelog.app.intake import RecognizedUtterance
from voicelog.app.rehear.reviewed import ReviewCache, reviews, reviews_in
from voicelog.app.typed_file import TYPED
from voicelog.grammar.grammar import Grammar
from voicelog.model import Action, Dog, Event, Reading, Roster, SoundLevel, Utterance
from voicelog.report.accuracy_text import sections, too_few
from voicelog.store import Log, Recording

NOISY = RECORDING.model_copy(update={"level": SoundLevel(snr_db=9.0, rms_dbfs=-50.0)})
QUIET = RECORDING.model_copy(update={"level": SoundLevel(snr_db=30.0, rms_dbfs=-25.0)})


def read(heard: RecognizedUtterance, words: str) -> Reading:
    """A person reads what was heard as `words`."""
    name = f"{heard[0].id}.person"
    return Reading(id=name, utterance=heard[0].id, words=words, by="person", who="Anna")


def act(heard: RecognizedUtterance, action: str, value: str | None = None) -> Action:
    return Action.model_validate(
        {"id": f"{heard[0].id}.{action}", "action": action, "target": heard[0].id, "value": value}
    )


def also(heard: RecognizedUtterance, who: str, words: str) -> Reading:
    """What another listener heard there."""
    name = f"{heard[0].id}.{who.split()[0]}"
    return Reading(id=name, utterance=heard[0].id, words=words, by="listener", who=who)


NINE, NINE_AGAIN, NINE_MORE = (said(at, "level five came") for at in (10.0, 20.0, 30.0))
SURE = said(40.0, "here level three came")
OFFERED = said(50.0, "level nineteen", "doubtful", alternatives=("level ninety", "level nine"))
ASKED = said(60.0, "yelped", "doubtful", alternatives=("ignored",))
MISSED = said(70.0, "", "rejected")
TALK = said(80.0, "good", "rejected", confidence=0.01)
LEFT = said(90.0, "level two came")
STRUCK = said(100.0, "level four came")
HEARD = (NINE, NINE_AGAIN, NINE_MORE, SURE, OFFERED, ASKED, MISSED, TALK, LEFT, STRUCK)
PEOPLE: tuple[Event, ...] = (
    *(read(one, "level nine came") for one in (NINE, NINE_AGAIN, NINE_MORE)),
    act(SURE, "confirm", "here level three came"),
    read(OFFERED, "level nine"),
    read(ASKED, "head turn"),
    read(MISSED, "tail tucked"),
    read(TALK, "good girl come on"),
    act(STRUCK, "void"),
    Utterance(id="p-1", recording=RECORDING.id, start_s=110.0, end_s=110.0),
    Reading(id="p-1.r", utterance="p-1", words="ear flick", by="person", who="Anna"),
)
OTHERS = (
    also(NINE, "whisper small.en (ctranslate2 4.6)", "level nine came"),
    also(NINE_AGAIN, "whisper small.en (ctranslate2 4.6)", "level five came"),
)


def of(kept: object = NOISY, *more: Event) -> ReviewedEntries:
    return reviews_in(kept, (*events_of(*HEARD), *OTHERS, *PEOPLE, *more), GRAMMAR)  # type: ignore[arg-type]


def test_each_entry_that_was_read_has_the_outcome_of_what_the_log_had() -> None:
    found = of()
    assert [(one.said, one.outcome) for one in found.read] == [
        *([("level nine came", "wrong")] * 3),
        ("here level three came", "right"),
        ("level nine", "offered"),
        ("head turn", "asked"),
        ("tail tucked", "missed"),
        ("good girl come on", "right"),
        ("ear flick", "missed"),
    ]
    assert (found.struck, found.unread) == (1, 1)


def test_what_was_no_note_counts_in_no_share_of_notes() -> None:
    learned = learn(of())
    assert learned.score == OutcomeTally(right=1, offered=1, asked=1, missed=2, wrong=3)
    assert (learned.read, learned.no_note) == (9, 1)
    assert (learned.sure, learned.sure_right) == (4, 1)


def test_a_reading_that_was_taken_back_was_not_read() -> None:
    undo = Action(id="a-u", action="undo", target=f"{NINE[0].id}.person")
    assert len(of(NOISY, undo).read) == len(of().read) - 1


def test_listeners_are_counted_by_themselves_whatever_their_version() -> None:
    by_name = {one.listener: one for one in learn(of()).listeners}
    quick, whisper = by_name["quick"], by_name["whisper"]
    assert (quick.right, quick.otherwise, quick.nothing, quick.of) == (1, 5, 1, 7)
    assert (whisper.right, whisper.otherwise, whisper.of) == (1, 1, 2)


def test_nine_heard_as_five_three_times_by_whom_and_in_what_noise() -> None:
    first = learn(of()).confusions[0]
    assert (first.said, first.heard, first.count, first.of) == ("nine", "five", 3, 4)
    assert first.listeners == {"quick": 3, "the log": 3, "whisper": 1}
    assert first.noise == {"noisy": 3}
    assert [at for _, _, at in first.at] == [10.0, 20.0, 30.0]


def test_bands_part_what_was_heard_in_noise_from_what_was_heard_in_quiet() -> None:
    learned = learn(of(QUIET) + of(NOISY))
    assert [(one.name, one.score.read) for one in learned.noise] == [("quiet", 8), ("noisy", 8)]
    assert [one.name for one in learned.loudness] == ["loud", "faint"]
    assert learned.confusions[0].noise == {"quiet": 3, "noisy": 3}


@pytest.mark.parametrize(
    ("snr_db", "band"),
    [(25.0, "quiet"), (24.9, "some noise"), (15.0, "some noise"), (14.9, "noisy")],
)
def test_the_bands_of_noise_meet(snr_db: float, band: str) -> None:
    assert noise_band(snr_db) == band
    assert {noise_band(None), loudness_band(None)} == {"not measured"}


@pytest.mark.parametrize(
    ("spoken", "heard", "pairs"),
    [
        ("here level nine came", "here level five came", (("nine", "five"),)),
        ("level twenty five", "level five", (("twenty", ""),)),
        ("fold in level two", "holding level two", (("fold in", "holding"),)),
        ("level nine came", "", ()),
        ("came", "he came", ()),
    ],
)
def test_what_stands_for_what(spoken: str, heard: str, pairs: object) -> None:
    assert word_substitutions(spoken, heard) == pairs


# --- what is advised --------------------------------------------------------------------


def confusion(spoken: str, heard: str, count: int = OFTEN) -> Confusion:
    return Confusion(
        said=spoken, heard=heard, count=count, of=9, listeners={}, noise={}, at=()
    )  # fmt: skip


def advice(roster: Roster, *found: Confusion) -> tuple[Advice, ...]:
    return advise(found, Grammar.load(roster=roster))


def test_a_cue_gets_another_beside_those_the_dog_has() -> None:
    roster = Roster(dogs=(Dog(name="Old Sedge", cues=("here", "come")),))
    (one,) = advice(roster, confusion("come", "comb"))
    assert one.role == "cue"
    assert one.instead
    assert one.command.startswith("voicelog dogs put 'Old Sedge' --cue here --cue come --cue ")


def test_a_number_has_no_other_word_and_a_dog_no_other_name() -> None:
    roster = Roster(dogs=(Dog(name="Bird"),), handlers=("Anna",))
    nine, bird, anna = advice(
        roster, confusion("nine", "five"), confusion("bird", "third"), confusion("anna", "hannah")
    )
    assert (nine.instead, nine.command) == ((), "")
    assert bird.role == "dog"
    assert (bool(bird.instead), bird.command) == (True, "")
    assert anna.command.startswith("voicelog dogs handler ")


def test_a_slip_is_not_advised_on_and_a_word_only_once() -> None:
    found = [confusion("nine", "five", 5), confusion("nine", "line"), confusion("two", "ten", 2)]
    assert [(one.said, one.count) for one in advice(Roster(), *found)] == [("nine", 5)]


# --- what is told -----------------------------------------------------------------------


def lines(learned: object, advised: Sequence[Advice] = ()) -> dict[str, list[str]]:
    return {
        one.title: [f"{line.label}: {line.words}" for line in one.lines]
        for one in sections(learned, advised)  # type: ignore[arg-type]
    }


def test_shares_are_told_with_their_wilson_intervals() -> None:
    # Wilson 1 of 4: 4.6% to 69.9% (R. G. Newcombe's formula, worked by hand).
    told = lines(learn(of()))
    assert told["How accurate the log is"][0] == (
        "of those marked sure: 1 of 4 (25%, 5% to 70%) right. 1 other in the same recordings "
        "was left unreviewed; if it is right, it is 2 of 5 (40%, 12% to 77%)."
    )
    assert "sure and wrong: 3 of 8 (38%, 14% to 69%)." in told["How accurate the log is"]
    assert told["What was heard as what"][0] == (
        '"nine": heard as "five" 3 times of the 4 it was said '
        "(quick 3, left as it was in the log 3, whisper 1; noisy 3)."
    )


@pytest.mark.parametrize(
    ("count", "start", "missing"),
    [
        (0, "No entry has been reviewed", "; 200 are needed"),
        (1, "1 entry has been", "199 more"),
        (199, "199 entries have been", "1 more"),
    ],
)
def test_too_few_is_said_with_how_many_are_missing(count: int, start: str, missing: str) -> None:
    told = too_few(count, 200)
    assert told.startswith(start)
    assert missing in told
    assert too_few(200, 200) == ""


# --- over the whole log -----------------------------------------------------------------


@pytest.fixture
def log(tmp_path: Path) -> Log:
    return Log.open(tmp_path, now=lambda: datetime(2026, 4, 20, tzinfo=UTC))


def add(log: Log, listeners: tuple[str, ...] = ("quick 1",)) -> None:
    log.begin_recording(
        Recording(id=RECORDING.id, roster=RECORDING.roster, listeners=listeners, level=NOISY.level)
    )
    log.append(events_of(*HEARD))
    log.finish_recording(RECORDING.id)


def test_the_whole_log_is_counted_and_a_recording_read_anew_only_when_it_changed(log: Log) -> None:
    add(log)
    memo: ReviewCache = {}
    assert reviews(log, memo) == ReviewedEntries()
    assert log.read_by_people() == ()
    log.append(PEOPLE)
    assert log.read_by_people() == (RECORDING.id,)
    assert learn(reviews(log, memo)).score == learn(of()).score
    known = memo[RECORDING.id]
    reviews(log, memo)
    assert memo[RECORDING.id] is known
    log.append([Action(id="a-u", action="undo", target=f"{NINE[0].id}.person")])
    assert len(reviews(log, memo).read) == len(known[1].read) - 1


def test_typed_recordings_count_in_nothing(log: Log) -> None:
    add(log, (TYPED,))
    log.append(PEOPLE)
    assert reviews(log) == ReviewedEntries()
