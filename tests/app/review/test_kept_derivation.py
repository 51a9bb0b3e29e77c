"""What is kept from one derivation to the next changes nothing: it is only quicker."""

from __future__ import annotations

import json
import random
from dataclasses import fields
from datetime import datetime
from typing import Any

from tests.web.evening import LEVELS, keep
from voicelog.app.body_text import recording_text, session_text
from voicelog.app.review.edit_history import EditRequest
from voicelog.app.review.errors import ReviewError
from voicelog.app.review.review_service import ReviewService
from voicelog.app.review.session_view import SessionView
from voicelog.app.session_catalog import SessionCatalog
from voicelog.model import Action, Entry, Reading, Utterance
from voicelog.session.entries import EntryMemo, fold
from voicelog.store import Log

WORDS = ("level nine came", "yelped", "strike that", "start session wren", "here", "no button",
    "correction level four", "growled")  # fmt: skip


def shown(view: SessionView) -> dict[str, Any]:
    return {one.name: getattr(view, one.name) for one in fields(view)}


def test_after_any_edits_what_is_kept_is_what_is_derived_anew(
    service: ReviewService, log: Log
) -> None:
    chance = random.Random(3)
    recordings = [
        keep(log, (*LEVELS, "?here level six yelped", "here came", "end session"), name, at=at)
        for name, at in (("first", datetime(2026, 4, 2)), ("second", datetime(2026, 4, 3)))
    ]
    refused = 0
    for _ in range(25):
        service.session_catalog.refresh()
        recording = chance.choice(recordings)
        line = service.session_catalog.line(recording)
        key = line.sessions[0].id if line.sessions else recording
        view = service.view(key)
        row = chance.choice(view.rows)
        do = chance.choice(("read", "read", "read", "confirm", "void", "restore", "add", "undo"))
        undo = view.ledger.undo
        version = (undo.id if undo else "") if do == "undo" else row.version
        deed = EditRequest.model_validate(
            {"do": do, "entry": row.entry.id, "version": version, "at_s": 9.5,
             "words": chance.choice(WORDS)}
        )  # fmt: skip
        try:
            key = service.do(key, deed, "Anna").key
        except ReviewError:
            refused += 1
            continue
        quick = service.view(key)
        SessionCatalog(log).bring(recording)
        assert shown(quick) == shown(ReviewService(log, log.now).view(key))
    assert refused < 15


def test_the_text_of_what_was_derived_reads_as_what_it_was_made_of(
    service: ReviewService, log: Log
) -> None:
    recording = keep(log, (*LEVELS, "?here level six yelped", "here came"), '"one": {[]}')
    service.session_catalog.refresh()
    line = service.session_catalog.line(recording)
    again = type(line).model_validate_json(recording_text(line))
    assert again == line
    assert json.loads(recording_text(line)) == json.loads(line.model_dump_json(by_alias=True))
    (session,) = (one.id for one in line.sessions)
    page = service.session_catalog.page(session)
    assert page is not None
    assert page.findings
    text = session_text(page, page.session, page.findings)
    assert json.loads(text) == json.loads(page.model_dump_json(by_alias=True))
    assert type(page).model_validate_json(text) == page


def test_a_fold_takes_over_the_entries_that_nothing_was_done_to() -> None:
    heard = [
        one
        for n in range(3)
        for one in (
            Utterance(id=f"u{n}", recording="r", start_s=n, end_s=n + 1),
            Reading(id=f"r{n}", utterance=f"u{n}", words="came", by="person", who="Anna"),
        )
    ]
    memo: EntryMemo = {}

    def folded(*more: Reading | Action) -> tuple[Entry, ...]:
        return fold([*heard, *more], lambda words: (), memo)

    first = folded()
    void = Action(id="v", action="void", target="u1", who="Anna", by="person")
    second = folded(void)
    assert [one is two for one, two in zip(first, second, strict=True)] == [True, False, True]
    assert second[1].voided
    undo = Action(id="w", action="undo", target="v", who="Anna", by="person")
    assert folded(void, undo) == first
