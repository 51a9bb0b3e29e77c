"""Open matters in a log: what opens one, what a person does about it, and what never closes it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from tests.web.evening import NOW, keep
from voicelog.analysis.kennel import kennel
from voicelog.analysis.open_matters import OpenMatter, matter_version, standing
from voicelog.analysis.session_digest import skin_left
from voicelog.app.dog_history import dog_history
from voicelog.app.handover import dog_handover
from voicelog.app.matters import MatterRequest, close_matters, every_matter, reopen_matters
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.summary import session_summaries
from voicelog.model import Action, FieldEvent, Reading, UsageError, Verdict, VoicelogError
from voicelog.report import kennel_paper, paper_text, plan_paper, progress_paper
from voicelog.report.html import render as as_html
from voicelog.report.markdown import render as as_markdown
from voicelog.report.owner_report import build
from voicelog.report.text import render as as_text
from voicelog.report.wording.matters import after_closing_words, matter_words, owner_matter_words
from voicelog.safety.settings import Settings
from voicelog.store import Log

START = "start session bracken"
YELPED = (START, "here level two yelped", "came")
SNAPPED = (START, "here no button snapped", "came")
SORE = (START, "here no button came", "collar stripped skin sore")
RED = (START, "here no button came", "collar stripped skin red")
FITTED = (START, "collar fitted", "here no button came", "collar stripped")
OVER = (START, "ceiling two", "here level three came")
BIRDS = (START, "distraction high birds", "here level two came")
TWICE = (START, "here level two yelped", "came", "here level one froze", "came")
CALM = (START, "here no button came")
ANNA = MatterRequest("Anna", "vet looked at it", "Dr Fern, veterinarian")


@pytest.fixture
def catalog(tmp_path: Path) -> Iterator[SessionCatalog]:
    with Log.open(tmp_path, now=lambda: NOW) as log:
        yield SessionCatalog(log)


def kept(catalog: SessionCatalog, *lines: str, day: int = 1) -> str:
    recording = keep(catalog.log, lines, f"day {day}", at=datetime(2026, 4, day, 7, 30))
    catalog.refresh()
    return recording


def listed(catalog: SessionCatalog, dog: str = "Bracken") -> tuple[OpenMatter, ...]:
    catalog.refresh()
    return catalog.matters(NOW.date()).get(dog, ())


def entry(recording: str, place: int) -> str:
    return f"u-{recording[:12]}-{place:06d}"


@pytest.mark.parametrize(
    ("lines", "kind", "stop"),
    [
        (YELPED, "strong sign", False),
        (SNAPPED, "aggression", True),
        (SORE, "skin", True),
        (OVER, "ceiling", True),
        (BIRDS, "stage", True),
        (TWICE, "stop", True),
    ],
)
def test_what_opens_a_matter(
    catalog: SessionCatalog, lines: tuple[str, ...], kind: str, stop: bool
) -> None:
    kept(catalog, *lines)
    (one,) = listed(catalog)
    assert (one.matter.kind, one.is_stop, one.state) == (kind, stop, "open")
    assert one.matter.recording
    assert 0 < one.matter.start_s < one.matter.end_s
    kept(catalog, *CALM, day=2)  # work without the button closes nothing
    assert listed(catalog) == (one,)


def test_skin_that_nobody_looked_at_is_told_as_that_with_the_day_it_was_red(
    catalog: SessionCatalog,
) -> None:
    kept(catalog, *RED)
    kept(catalog, *FITTED, day=2)
    new, red = listed(catalog)
    assert matter_words(red) == "Skin red on 1 Apr 2026: open."
    assert matter_words(new) == (
        "Skin not said to be clear before the collar on 2 Apr 2026 (red on 1 Apr 2026): open."
    )
    assert owner_matter_words(new) == (
        "Not settled yet: skin not said to be clear before the collar on 2 Apr 2026 "
        "(red on 1 Apr 2026)."
    )


def test_an_owner_is_told_what_nobody_checked_also_once_its_session_is_gone(
    catalog: SessionCatalog,
) -> None:
    recording = kept(catalog, START, "here no button came", "?skin red")
    (one,) = listed(catalog)
    unread = "based on a note that nobody has checked"
    assert owner_matter_words(one) == f"Not settled yet: skin red on 1 Apr 2026; {unread}."
    gone = one.model_copy(update={"deleted": True})
    assert owner_matter_words(gone) == (
        f"Not settled yet: skin red on 1 Apr 2026; {unread}, of a session that was deleted."
    )
    assert recording in one.matter.recording
    sure = gone.model_copy(update={"matter": one.matter.model_copy(update={"on_doubt": False})})
    assert owner_matter_words(sure) == "Not settled yet: skin red on 1 Apr 2026."


def test_a_closing_says_that_only_a_note_clears_the_skin_and_so_do_the_papers(
    catalog: SessionCatalog,
) -> None:
    kept(catalog, *RED)
    done = close_matters(catalog, [one.id for one in listed(catalog)], ANNA)
    look = 'Look at the skin before the collar goes on and note "skin clear", said or typed; until'
    assert look in after_closing_words(done)
    for lines, day in ((CALM, 2), ((START, "here no button came", "?skin clear | skin red"), 3)):
        kept(catalog, *lines, day=day)
        assert look in said_of_bracken(catalog), day
    kept(catalog, START, "here no button came", "skin clear", day=4)
    assert "skin clear" not in said_of_bracken(catalog)
    assert standing(listed(catalog)) == ()


def said_of_bracken(catalog: SessionCatalog) -> str:
    """What plan and handover say, where they agree on the skin."""
    catalog.refresh()
    today = NOW.date()
    found = dog_history(catalog, "Bracken", today)
    matters = tuple(found.matters)
    made = plan_paper.build(found.digests, found.dog, found.rules, today, matters)
    papers = [made, dog_handover(catalog, "Bracken", today)]
    told = [
        {line.words for section in paper.sections for line in section.lines if line.label == "skin"}
        for paper in papers
    ]
    assert told[0] == {one for one in told[1] if "Look" in one}
    assert ("If it is used" in paper_text.render(made)) is not bool(told[0])
    return " ".join(told[0])


def test_an_ordinary_session_leaves_none(catalog: SessionCatalog) -> None:
    kept(catalog, *CALM)
    assert listed(catalog) == ()
    assert list(every_matter(catalog, "bracken", NOW.date())) == [("Bracken", ())]


def test_a_person_closes_it_with_name_reason_and_whoever_was_asked(
    catalog: SessionCatalog,
) -> None:
    kept(catalog, *SNAPPED)
    (one,) = listed(catalog)
    for request in (
        MatterRequest("", "why", "Dr Fern"),
        MatterRequest("Anna", "  ", "Dr Fern"),
        MatterRequest("Anna", "calm since"),
        MatterRequest("Anna", "x" * 2000, "Dr Fern"),
    ):
        with pytest.raises(UsageError):
            close_matters(catalog, [one.id], request)
    assert listed(catalog) == (one,)
    (done,) = close_matters(catalog, [one.id], ANNA)
    assert matter_words(done) == (
        "Snapped on 1 Apr 2026 (rep 1): closed by Anna on 20 Apr 2026: vet looked at it "
        "(consulted: Dr Fern, veterinarian)."
    )
    with pytest.raises(VoicelogError, match="closed already"):
        close_matters(catalog, [one.id], ANNA)
    (again,) = reopen_matters(catalog, [one.id], MatterRequest("Joe", "it snapped at me too"))
    assert (again.state, again.is_stop) == ("open", True)
    assert "opened again by Joe" in matter_words(again)


def test_what_is_closed_is_shown_for_ninety_days(catalog: SessionCatalog) -> None:
    kept(catalog, *YELPED)
    close_matters(catalog, [one.id for one in listed(catalog)], ANNA)
    days = [
        len(catalog.matters(NOW.date() + timedelta(days=many)).get("Bracken", ()))
        for many in (0, 90, 91)
    ]
    assert days == [1, 1, 0]


def test_all_or_none_are_closed(catalog: SessionCatalog) -> None:
    kept(catalog, *YELPED)
    (one,) = listed(catalog)
    with pytest.raises(VoicelogError, match="no matter 'ffffffff'"):
        close_matters(catalog, [one.id, "ffffffff"], ANNA)
    assert listed(catalog) == (one,)


def test_what_came_after_a_closing_is_open(catalog: SessionCatalog) -> None:
    """And nothing is closed that the page did not show."""
    recording = kept(catalog, START, "here level two yelped", "came", "here level one came")
    (one,) = listed(catalog)
    close_matters(catalog, [one.id], ANNA)
    assert listed(catalog)[0].state == "closed"
    words = "here level two yelped came"
    late = Reading(id="r", utterance=entry(recording, 3), words=words, by="person", who="Joe")
    catalog.log.append([late])
    (stop,) = [found for found in listed(catalog) if found.stands]
    assert stop.matter.kind == "stop"
    for seen, works in ((one.matter, False), (stop.matter, True)):
        request = MatterRequest("Anna", "seen by the vet", seen={stop.id: matter_version(seen)})
        if works:
            close_matters(catalog, [stop.id], request)
            assert not any(found.stands for found in listed(catalog))
        else:
            with pytest.raises(VoicelogError, match="changed since it was shown"):
                close_matters(catalog, [stop.id], request)


def test_by_voice_nothing_is_closed(catalog: SessionCatalog) -> None:
    """ "strike that" marks it, "negative" too, and "roger" acknowledges it."""
    recording = kept(catalog, *YELPED)
    spoken = Action(id="a-1", action="void", target=entry(recording, 1), by="person", who="Anna")
    catalog.log.append([spoken])
    (one,) = listed(catalog)
    assert (one.state, one.stands) == ("open", True)
    assert "struck by voice, which closes nothing" in matter_words(one)

    other = kept(catalog, *OVER, day=2)
    roger = FieldEvent(
        id="f-1", recording=other, at_s=60.0, what="acknowledgement", detail="over-ceiling"
    )
    catalog.log.append([roger])
    (stop, _) = listed(catalog)
    assert (stop.state, stop.is_stop) == ("acknowledged", True)


def test_struck_at_the_page_it_says_by_whom_and_stands_no_more(catalog: SessionCatalog) -> None:
    recording = kept(catalog, *YELPED)
    at = NOW + timedelta(hours=1)
    void = Action(id="a", action="void", target=entry(recording, 1), who="Joe", at=at)
    catalog.log.append([void])
    (one,) = listed(catalog)
    assert (one.state, one.stands) == ("corrected", False)
    assert matter_words(one).endswith("no longer open after a correction by Joe on 20 Apr 2026.")
    catalog.log.append([Action(id="b", action="undo", target="a", who="Joe", at=at)])
    assert [found.state for found in listed(catalog)] == ["open"]


def test_read_anew_it_is_not_silently_gone(catalog: SessionCatalog) -> None:
    recording = kept(catalog, *SNAPPED)
    at = NOW + timedelta(hours=1)
    words = "here no button came"
    name = entry(recording, 1)
    read = Reading(id="r", utterance=name, words=words, by="person", who="Joe", at=at)
    catalog.log.append([read])
    (one,) = listed(catalog)
    assert (one.matter.kind, one.state) == ("aggression", "corrected")
    assert matter_words(one).endswith("no longer open after a correction by Joe on 20 Apr 2026.")
    for number, again in enumerate(("here no button snapped", words)):
        more = Reading(id=f"r{number}", utterance=name, words=again, by="person", who="Ann", at=at)
        catalog.log.append([more])
        assert [found.state for found in listed(catalog)] == [("open", "corrected")[number]]


def test_moved_to_another_dog_both_dogs_say_so(catalog: SessionCatalog) -> None:
    recording = kept(catalog, *SNAPPED)
    words = "start session wren"
    read = Reading(
        id="r", utterance=entry(recording, 0), words=words, by="person", who="Joe", at=NOW
    )
    catalog.log.append([read])
    assert [one.state for one in listed(catalog, "Wren")] == ["open"]
    assert [one.state for one in listed(catalog)] == ["corrected"]


def test_on_doubt_it_is_raised_and_marked(catalog: SessionCatalog) -> None:
    kept(catalog, START, "?here level two snapped | here level two came", "came")
    (one,) = listed(catalog)
    assert (one.matter.on_doubt, one.is_stop) == (True, True)
    assert "based on an entry to check" in matter_words(one)


def test_heard_again_nothing_is_closed(catalog: SessionCatalog) -> None:
    recording = kept(catalog, *SNAPPED)
    name, words = entry(recording, 1), "here no button came"
    again = {"id": "v2", "utterance": name, "status": "accepted", "confidence": 0.9}
    catalog.log.append([Verdict.model_validate(again | {"words": words, "judge": "newer"})])
    (one,) = listed(catalog)
    assert (one.state, one.is_stop) == ("open", True)
    assert "heard otherwise since, which closes nothing: open" in matter_words(one)
    back = {"id": "v3", "words": "here no button snapped", "judge": "newest"}
    catalog.log.append([Verdict.model_validate(again | back)])
    (one,) = listed(catalog)
    assert one.matter.correction is None


@pytest.mark.parametrize(
    ("reason", "consulted", "says"),
    [
        ("ok", "Dr Fern", "needs a reason of more than one word, and found 'ok'"),
        ("ok .", "Dr Fern", "needs a reason of more than one word"),
        ("vet saw it", "x", "needs the name of"),
        ("vet saw it", "...", "needs the name of"),
    ],
)
def test_one_word_closes_nothing_and_one_letter_is_nobody(
    catalog: SessionCatalog, reason: str, consulted: str, says: str
) -> None:
    kept(catalog, *SNAPPED)
    with pytest.raises(UsageError, match=says):
        close_matters(
            catalog,
            [one.id for one in listed(catalog)],
            MatterRequest("Anna", reason, consulted),
        )
    assert not catalog.log.matter_events()


def test_what_was_closed_is_still_said_for_as_long_as_it_is_shown(catalog: SessionCatalog) -> None:
    kept(catalog, *SORE)
    close_matters(catalog, [one.id for one in listed(catalog)], ANNA)
    kept(catalog, START, *["here no button came"] * 4, "skin clear", day=3)
    known = dog_history(catalog, "Bracken", NOW.date())
    asked = known.digests, known.dog, known.rules, NOW.date(), known.matters
    assert [one.state for one in known.matters] == ["closed"]
    lines = [line for part in plan_paper.build(*asked).sections for line in part.lines]
    (closed,) = [line.words for line in lines if line.label == "closed"]
    assert "Skin sore on 1 Apr 2026: closed by Anna on" in closed
    report = build(*asked)
    settled = "skin sore on 1 Apr 2026 (closed by Anna on"
    assert any(f"Settled since: {settled}" in line for line in report.went_wrong)
    assert any(f"Nothing is left open; closed lately: {settled}" in one for one in report.in_short)


def test_a_note_alone_does_not_hide_the_last_bad_day_nor_does_a_closing(
    catalog: SessionCatalog,
) -> None:
    kept(catalog, *SORE, day=12)
    note = kept(catalog, START, "skin clear", day=14)
    for state in ("open", "closed since"):
        was = f"The last bad day was 12 Apr 2026: skin sore; {state}."
        (summary, *_) = session_summaries(catalog, "Bracken", None)
        assert summary.session.startswith(f"u-{note[:12]}")
        assert summary.safety == f"No rep in this session. {was}"
        for text in (as_text(summary), as_markdown(summary), as_html(summary)):
            assert was in " ".join(text.replace("safety", "").split())
            assert "No stop and no caution" not in text
        known = dog_history(catalog, "Bracken", NOW.date())
        asked = known.digests, known.dog, known.rules
        paper = progress_paper.build(*asked, date(2026, 4, 18), known.matters)
        assert paper.sections[0].lines[0].words == was
        found = kennel(
            {"Bracken": known.digests},
            [known.dog],
            {},
            date(2026, 4, 18),
            {"Bracken": known.matters},
        )
        (dog,) = found.dogs
        told = kennel_paper.build(found, {"Bracken": known.digests}, Settings()).sections[0]
        assert told.title == "To see first"
        assert "kin sore on 12 Apr 2026" in told.lines[0].words
        assert len(dog.see) == 1
        if state == "open":
            close_matters(catalog, [one.id for one in listed(catalog)], ANNA)
    late = kept(catalog, START, "skin clear", day=28)
    (summary, *_) = session_summaries(catalog, "Bracken", None)
    assert summary.session.startswith(f"u-{late[:12]}")
    assert summary.safety == "No stop and no caution in this session."


def test_skin_that_was_clear_on_the_day_it_was_sore_is_not_forgotten_by_the_kennel(
    catalog: SessionCatalog,
) -> None:
    keep(catalog.log, SORE, "sore", at=datetime(2026, 2, 1, 7, 30))
    keep(catalog.log, (START, "skin clear"), "clear", at=datetime(2026, 2, 1, 17, 30))
    for day in range(1, 27):
        keep(catalog.log, CALM, f"calm {day}", at=datetime(2026, 3, day, 7, 30))
    catalog.refresh()
    known = dog_history(catalog, "Bracken", NOW.date())
    left = skin_left(known.digests)
    assert left is not None
    assert left.day == date(2026, 2, 1)
    assert left in catalog.planned()["Bracken"]
