"""What a reviewer sees and does: every change is added, told, and can be taken back."""

from __future__ import annotations

from datetime import datetime

import pytest

from tests.web.evening import LEVELS, keep
from voicelog.app.dog_history import dog_history
from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.errors import (
    AboveTopOfCollarError,
    BadRequestError,
    EditConflictError,
    NotANoteError,
    NotFoundError,
    ReviewError,
    StrangeNameError,
)
from voicelog.app.review.evening import evening_of
from voicelog.app.review.evening_queue import evening_queue
from voicelog.app.review.review_service import EditResult, ReviewService
from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.app.summary import session_summaries
from voicelog.app.typed_file import TYPED
from voicelog.model import Action, Reading
from voicelog.report.wording.reasons import one_line
from voicelog.store import Log, SessionFilter

START = "2026-04-20T07:30:00"
LEVEL, SIGN, TALK = 3, 7, 6  # places of LEVELS


class Evening:
    """A session on the desk, and somebody to work at it."""

    def __init__(self, service: ReviewService, recording: str, who: str = "Anna") -> None:
        self.service, self.recording, self.who = service, recording, who
        service.refresh_stale()
        line = service.session_catalog.line(recording)
        self.key = line.sessions[0].id if line.sessions else recording

    def view(self) -> SessionView:
        return self.service.view(self.key)

    def row(self, place: int) -> EntryRow:
        return self.view().entries[f"u-{self.recording[:12]}-{place:06d}"]

    def do(self, do: str, place: int | None = None, **more: object) -> EditResult:
        fields = {"do": do, "version": ""} | more
        if place is not None:
            row = self.row(place)
            fields = {"version": row.version, "entry": row.entry.id} | more | {"do": do}
        done = self.service.do(self.key, EditRequest.model_validate(fields), self.who)
        self.key = done.key
        return done

    def undo(self) -> EditResult:
        act = self.view().ledger.undo
        assert act is not None
        return self.do("undo", version=act.id)

    def redo(self) -> EditResult:
        act = self.view().ledger.redo
        assert act is not None
        return self.do("redo", version=act.id)

    def levels(self) -> list[int | None]:
        session = self.view().session
        assert session is not None
        return [rep.peak_level for rep in session.reps if not rep.void]


@pytest.fixture
def evening(service: ReviewService, log: Log) -> Evening:
    return Evening(service, keep(log, LEVELS))


def test_what_is_to_check_comes_first_and_what_weighs_on_the_dog_before_the_rest(
    service: ReviewService, log: Log
) -> None:
    evening = Evening(
        service,
        keep(log, ("start session bracken", "?distraction low", "?praised", "here", "?level two",
                   "came", "?yelped", "?head turn | yelped")),
    )  # fmt: skip
    waiting = evening.view().to_check
    said = [evening.view().entries[item.entry].entry.reading for item in waiting]
    assert said == ["yelped", "head turn", "level two", "distraction low", "praised"]
    assert [item.weighs for item in waiting] == [True, True, True, False, False]
    assert waiting[0].why == "a caution depends on it" or "strong" in waiting[0].why


def test_a_misheard_level_is_corrected_and_rep_finding_and_counts_follow(evening: Evening) -> None:
    before = evening.view().summary
    assert before is not None
    assert evening.levels() == [19, 3]
    done = evening.do("read", LEVEL, words="level 9")
    assert evening.levels() == [9, 3]
    assert (evening.row(LEVEL).word, evening.row(LEVEL).entry.who) == ("sure", "Anna")
    assert done.changed[0] == "Rep 1: mark sure (was check), button cont. 9 (was cont. 19)."
    (read,) = [line for line in done.changed if "otherwise" in line]
    assert read.startswith("3 cautions now read otherwise: ")
    assert " Started at level 9 in rep 1; the lowest level is 1." in read
    assert not [line for line in done.changed if "No longer found" in line]
    assert done.changed[-1] == (
        "Counts: 2 recalls: 1 answered at 3, 1 answered at 9; unaided at the first call "
        "0 of 2; 2 more with the button, or nothing said of it."
    )


def test_what_comes_next_at_the_page_is_what_the_plan_and_the_summary_say(
    evening: Evening,
) -> None:
    catalog = evening.service.session_catalog
    for place in (None, LEVEL):
        if place is not None:
            evening.do("confirm", place)
        today = evening.service.today()
        words = one_line(dog_history(catalog, "Bracken", today).plan)
        seen = evening.view()
        (written,) = session_summaries(catalog, "Bracken")
        assert seen.summary is not None
        assert seen.summary.next_session == written.next_session
        assert seen.summary.next_session.lower().startswith(f"{words}.")
        assert evening.view() is seen


def test_confirming_accepts_the_words_that_were_seen(evening: Evening) -> None:
    evening.do("confirm", LEVEL)
    assert evening.levels() == [19, 3]
    assert evening.row(LEVEL).word == "sure"
    event = evening.service.log.events(evening.recording)[-1]
    assert isinstance(event, Action)
    assert (event.action, event.value, event.who) == ("confirm", "level nineteen", "Anna")


def test_voiding_and_restoring(evening: Evening) -> None:
    evening.do("void", LEVEL)
    assert evening.row(LEVEL).word == "void"
    assert 19 not in evening.levels()
    evening.do("restore", LEVEL)
    assert evening.row(LEVEL).word == "check"
    assert evening.levels() == [19, 3]


def test_what_was_made_void_by_voice_is_restored_by_voiding_the_strike(
    service: ReviewService, log: Log
) -> None:
    evening = Evening(
        service, keep(log, ("start session bracken", "here level two came", "?strike that"))
    )
    evening.do("confirm", 2)  # only now does it strike
    assert evening.row(1).word == "void"
    with pytest.raises(BadRequestError, match="void the entry that says it"):
        evening.do("restore", 1)
    evening.do("void", 2)
    assert evening.row(1).word == "sure"


def test_sound_not_understood_is_promoted_by_typing_what_it_said(evening: Evening) -> None:
    assert evening.row(TALK).word == "not understood"
    evening.do("read", TALK, words="here level four came")
    assert evening.levels() == [19, 3, 4]


def test_a_missed_entry_is_added_at_its_time_and_can_be_taken_back(evening: Evening) -> None:
    done = evening.do("add", words="here level five came", at_s=22.5)
    assert evening.levels() == [19, 3, 5]
    assert done.entry is not None
    assert evening.view().entries[done.entry].entry.start_s == 22.5
    evening.undo()
    assert evening.levels() == [19, 3]
    assert done.entry not in evening.view().entries
    evening.redo()
    assert evening.levels() == [19, 3, 5]


@pytest.mark.parametrize("at_s", [None, 1e5])
def test_an_entry_cannot_be_added_outside_the_recording(
    evening: Evening, at_s: float | None
) -> None:
    with pytest.raises(BadRequestError, match="within the recording"):
        evening.do("add", words="came", at_s=at_s)


def test_undo_goes_back_step_by_step_and_redo_forth(evening: Evening) -> None:
    for said in ("level nine", "level eight"):
        evening.do("read", LEVEL, words=said)
    evening.do("void", SIGN)

    def words() -> str:
        return evening.row(LEVEL).entry.reading

    evening.undo()
    assert (words(), evening.row(SIGN).word) == ("level eight", "check")
    evening.undo()
    assert words() == "level nine"
    evening.undo()
    assert (words(), evening.row(LEVEL).word) == ("level nineteen", "check")
    with pytest.raises(BadRequestError, match="Nothing is left to undo"):
        evening.do("undo", version="x")
    for wanted in ("level nine", "level eight"):
        evening.redo()
        assert words() == wanted
    evening.undo()
    evening.do("confirm", SIGN)  # a new step leaves nothing to redo
    assert evening.view().ledger.redo is None


def test_what_was_typed_and_undone_is_not_offered(evening: Evening) -> None:
    def offered() -> tuple[tuple[str, ...], tuple[str, ...]]:
        row = evening.row(LEVEL)
        return row.offers, evening.service.complete(evening.key, row.entry.id, "").readings

    before = offered()
    evening.do("read", LEVEL, words="level seven")
    evening.undo()
    assert offered() == before
    evening.redo()
    evening.do("read", LEVEL, words="level six")
    evening.undo()
    assert "level seven" not in before[0]
    assert evening.row(LEVEL).entry.reading == "level seven"


def test_every_entrys_history_is_told(evening: Evening) -> None:
    evening.do("read", LEVEL, words="level nine")
    evening.undo()
    lines = evening.service.history(evening.recording, evening.row(LEVEL).entry.id)
    assert lines[0] == "Sound from 12.0 s to 13.5 s."
    assert lines[1] == "quick 1 heard 'level nineteen', 100% sure."
    assert lines[2] == "Marked check: 'level nineteen', or level nine."
    assert lines[3] == "Anna, Mon 20 Apr 2026, 20:00 read it as 'level nine'. (taken back)"
    assert lines[4] == "Anna, Mon 20 Apr 2026, 20:00 undid a change."


def test_two_people_never_overwrite_each_other_unknowingly(evening: Evening) -> None:
    seen = evening.row(LEVEL)
    joe = Evening(evening.service, evening.recording, who="Joe")
    joe.do("read", LEVEL, words="level nine")
    for do, words in (("confirm", None), ("void", None), ("read", "level two")):
        with pytest.raises(EditConflictError) as caught:
            evening.do(do, entry=seen.entry.id, version=seen.version, words=words)
        assert str(caught.value) == (
            "The entry at 0:12 was changed meanwhile and now reads 'level nine' (Joe), so nothing "
            "was done: check it again."
        )
    assert evening.row(LEVEL).entry.reading == "level nine"


def test_undo_takes_back_only_the_step_that_was_shown(evening: Evening) -> None:
    evening.do("read", LEVEL, words="level nine")
    shown = evening.view().ledger.undo
    assert shown is not None
    Evening(evening.service, evening.recording, who="Joe").do("void", SIGN)
    with pytest.raises(EditConflictError, match="What is to undo was changed meanwhile"):
        evening.do("undo", version=shown.id)


def test_a_step_of_another_program_in_between_is_not_lost(evening: Evening) -> None:
    """The desk looks again within the same transaction; here somebody writes past it."""
    row = evening.row(LEVEL)
    log = evening.service.log
    log.append(
        [Reading(id="other", utterance=row.entry.id, words="level nine", by="person", who="Joe")]
    )
    with pytest.raises(EditConflictError):
        evening.do("confirm", entry=row.entry.id, version=row.version)
    assert evening.levels() == [9, 3]


def test_a_level_above_the_top_is_confirmed_only_where_it_is_chosen(
    service: ReviewService, log: Log
) -> None:
    evening = Evening(service, keep(log, ("start session bracken", "?here level thirty came")))
    row = evening.row(1)
    with pytest.raises(AboveTopOfCollarError, match="nothing was kept"):
        evening.do("confirm", entry=row.entry.id, version=row.version)
    assert evening.row(1).word == "check"
    evening.do("read", entry=row.entry.id, version=row.version, words="here level thirty came",
               above_top=True)  # fmt: skip
    assert evening.row(1).word == "sure"


@pytest.mark.parametrize(
    ("deed", "error", "words"),
    [
        ({"do": "read", "place": LEVEL, "words": "levle two"}, NotANoteError, "mean 'level two'"),
        ({"do": "read", "place": LEVEL, "words": ""}, NotANoteError, "There are no words"),
        (
            {"do": "read", "place": LEVEL, "words": "level thirty"},
            AboveTopOfCollarError,
            "Level 30 is above the top of Bracken's collar, 20, so nothing was kept",
        ),
        ({"do": "confirm", "place": TALK}, NotANoteError, "I cannot read 'good girl come on'"),
        ({"do": "void", "entry": "nobody"}, NotFoundError, "not in the session any more"),
        ({"do": "move", "place": LEVEL, "dog": "Wren"}, NotFoundError, "no session of 'Wren'"),
        ({"do": "dog", "version": "Bracken", "dog": "Sedge"}, NotFoundError, "voicelog rehear"),
        ({"do": "dog", "version": "Wren", "dog": "Wren"}, EditConflictError, "is Bracken"),
        ({"do": "clock", "version": START, "moment": "soon"}, BadRequestError, "soon"),
        (
            {"do": "clock", "version": START, "moment": "2026-05-18T07:30"},
            BadRequestError,
            "still to come",
        ),
        ({"do": "clock", "version": "", "moment": "2026-04-18T07:30"}, EditConflictError, "start"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_said_in_a_sentence_and_nothing_is_kept(
    evening: Evening, deed: dict[str, object], error: type[ReviewError], words: str
) -> None:
    before = evening.service.log.event_seq()
    place = deed.pop("place", None)
    with pytest.raises(error, match=words):
        evening.do(str(deed.pop("do")), place, **deed)  # type: ignore[arg-type]
    assert evening.service.log.event_seq() == before


def test_a_session_becomes_another_dogs_by_mending_what_began_it(evening: Evening) -> None:
    done = evening.do("dog", version="Bracken", dog="Wren")
    assert evening.row(0).entry.reading == "start session wren"
    assert "Dog: Wren (was Bracken)." in done.changed
    evening.undo()
    assert evening.view().session.dog.name == "Bracken"  # type: ignore[union-attr]


def test_a_session_that_nobody_began_by_voice_becomes_another_dogs_too(
    service: ReviewService, log: Log
) -> None:
    evening = Evening(service, keep(log, ("here level two came", "praised")))
    evening.do("dog", version="", dog="Wren")
    session = evening.view().session
    assert session is not None
    assert (session.dog.name, session.reps[0].dog) == ("Wren", "Wren")


def test_an_entry_is_moved_to_the_other_dog_of_the_recording(
    service: ReviewService, log: Log
) -> None:
    lines = (
        "start session bracken",
        "here level two came",
        "next dog wren",
        "here level three came",
    )
    evening = Evening(service, keep(log, lines))
    wren = Evening(service, evening.recording)
    wren.key = service.session_catalog.line(evening.recording).sessions[1].id
    done = wren.do("move", 3, dog="Bracken")
    assert "Rep 1 is gone (cont. 3, came)." in done.changed
    assert evening.levels() == [2, 3]


def test_whose_a_breath_is_that_calls_another_dog_is_chosen_and_not_confirmed(
    service: ReviewService, log: Log
) -> None:
    evening = Evening(service, keep(log, ("start session bracken", "wren here level nine came")))
    row = evening.row(1)
    assert (row.word, row.reps) == ("check", (1,))
    assert row.check is not None
    assert row.check.why == (
        "said in one breath with a call of Wren, in Bracken's session; a caution depends on it"
    )
    with pytest.raises(BadRequestError, match="has to be about one dog"):
        evening.do("confirm", 1)
    evening.do("move", 1, dog="Bracken")
    assert evening.row(1).word == "sure"
    assert evening.levels() == [9]


def test_setting_the_start_moves_every_session_of_the_recording(evening: Evening) -> None:
    done = evening.do("clock", version="2026-04-20T07:30:00", moment="2026-04-18T06:00")
    assert evening.view().page.began == datetime(2026, 4, 18, 6, 0)  # type: ignore[union-attr]
    assert any(one.startswith("Date: Sat 18 Apr 2026, 6:00") for one in done.changed)
    evening.undo()
    assert evening.view().page.began == datetime(2026, 4, 20, 7, 30)  # type: ignore[union-attr]


def test_correcting_what_began_a_session_leads_to_where_it_is_now(evening: Evening) -> None:
    done = evening.do("void", 0)
    assert done.key == evening.key  # a session without a dog's name began instead
    assert evening.view().session is not None
    evening.undo()
    assert evening.view().session.dog.name == "Bracken"  # type: ignore[union-attr]


def test_a_recording_in_which_no_session_was_heard_can_be_mended(
    service: ReviewService, log: Log
) -> None:
    evening = Evening(service, keep(log, ("x stop session broken", "x here level two came")))
    assert evening.view().session is None
    assert [row.word for row in evening.view().rows] == ["not understood", "not understood"]
    done = evening.do("read", 0, words="start session bracken")
    assert done.changed == ("There is a session now.",)
    evening.do("confirm", 1)
    assert evening.levels() == [2]


def test_later_sessions_of_the_dog_are_fresh_and_what_changed_there_is_told(
    service: ReviewService, log: Log
) -> None:
    said = ("start session bracken", "here level three yelped came")
    first = Evening(service, keep(log, said, "first", at=datetime(2026, 4, 18, 7, 30)))
    again = (
        "start session bracken",
        "collar fitted",
        "fit check two fingers",
        "here level three came",
    )
    later = Evening(service, keep(log, again, "later", at=datetime(2026, 4, 19, 7, 30)))
    before = later.view().page
    assert before is not None
    assert "stress-level-again" in {one.rule for one in before.findings}
    done = first.do("read", 1, words="here level three came")  # no strong sign after all
    assert not service.session_catalog.stale()
    assert not any(row.stale for row in service.log.headings(SessionFilter()).rows)
    assert any(
        line.startswith("1 caution no longer stands in the session of Bracken on 19 Apr 2026")
        for line in done.changed
    )
    assert done.counts[1].endswith("of them in other sessions")
    back = first.undo()
    assert any("now stands in the session of Bracken on 19 Apr" in line for line in back.changed)
    after = later.view().page
    assert after is not None
    assert after.findings == before.findings


def test_what_is_offered_and_completed_is_a_note(evening: Evening) -> None:
    entry = evening.row(LEVEL).entry.id
    assert evening.row(LEVEL).offers == ("level nine",)
    offered = evening.service.complete(evening.key, entry, "").readings
    assert offered[0] == "level nine"
    assert "level ninety" not in offered  # above the transmitter's top
    begun = evening.service.complete(evening.key, entry, "12")
    assert (begun.readings[0], begun.marked) == ("level twelve", True)
    for typed, first, marked in (
        ("levle two", "level two", False),
        ("thumb of", "thumb off", False),
        ("cam", "came", False),
        ("thumb off", "thumb off", True),
        ("l9 c", "level nine came", True),
    ):
        near = evening.service.complete(evening.key, None, typed)
        assert (near.readings[0], near.marked) == (first, marked), typed


@pytest.mark.parametrize("typed", ["start session fern", "start session w", "next dog ren"])
def test_no_name_is_guessed_from_what_is_typed(evening: Evening, typed: str) -> None:
    assert not evening.service.complete(evening.key, None, typed).marked
    before = evening.view().seq
    with pytest.raises(
        StrangeNameError, match=r"where a name belongs.*Bracken, Wren, Anna"
    ) as told:
        evening.do("read", SIGN, words=typed)
    assert told.value.offers == ()
    assert evening.view().seq == before


def test_a_name_is_offered_only_from_letters_of_it(evening: Evening) -> None:
    def offered(text: str) -> str:
        return " | ".join(evening.service.complete(evening.key, None, text).readings)

    assert "bracken" in offered("start session b")
    assert "wren" not in offered("start session fern")
    assert "bracken" not in offered("start session")
    assert "anna" not in offered("handler")


def test_a_guess_at_a_typed_line_is_a_choice_of_its_own(service: ReviewService, log: Log) -> None:
    lines = ("start session bracken", "?level three came", "here")
    recording = keep(log, lines, "typed", listeners=(TYPED,), heard={1: "levle three came"})
    evening = Evening(service, recording)
    row = evening.row(1)
    assert (row.said, row.guessed, row.offers) == ("levle three came", True, ("level three came",))
    assert evening.service.complete(evening.key, row.entry.id, "").readings[0] == "level three came"
    with pytest.raises(NotANoteError, match="levle three came") as told:
        evening.do("confirm", 1)
    assert told.value.offers[0] == "level three came"
    evening.do("read", 1, words="level three came")
    row = evening.row(1)
    assert (row.said, row.guessed, row.word) == ("level three came", False, "sure")


@pytest.mark.parametrize(("listener", "pressed"), [(TYPED, False), ("quick 1", True)])
def test_no_press_is_offered_for_typed_words_also_of_an_older_log(
    service: ReviewService, log: Log, listener: str, pressed: bool
) -> None:
    """Speech may have been heard wrongly: its rivals stay."""
    line = "?skin red|skin red level five|skin clear"
    typed = {1: "skin red left side"}
    lines = ("start session bracken", line)
    recording = keep(log, lines, "typed", listeners=(listener,), heard=typed)
    evening = Evening(service, recording)
    row = evening.row(1)
    completed = service.complete(evening.key, row.entry.id, "").readings
    for offered in (row.offers, completed):
        assert ("skin clear" in offered) == pressed  # what was typed is not dropped
        assert ("skin red level five" in offered) == pressed
    for text in ("no yelp came", "here no yelp came"):
        assert service.complete(evening.key, row.entry.id, text).readings == ()
    near = service.complete(evening.key, row.entry.id, "skin red left side").readings
    assert near == ("skin red",)


def test_a_session_that_is_not_there_is_said_so(service: ReviewService) -> None:
    with pytest.raises(NotFoundError, match="choose another"):
        service.view("nothing")


def test_what_is_to_check_has_one_count_and_a_date_reviews_no_entry(evening: Evening) -> None:
    today = evening.service.today()
    told = evening_of(evening.view(), today, 1).told
    assert told.startswith("2 entries to check; ")
    assert told.endswith(
        "; 1 of them may wait; until you decide, the papers mark them check and do not count them."
    )
    cards = evening_queue(evening.service).cards
    assert len(cards) == 2
    evening.do("clock", version=START, moment="2026-04-19T07:30")
    assert "reviewed today" not in evening_of(evening.view(), today, 1).told
    evening.do("confirm", 0)
    assert "; 1 reviewed today." in evening_of(evening.view(), today, 5).told
