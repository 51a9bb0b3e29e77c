"""What a page is sent after a change: with what it held before, all that it would be sent anew."""

from __future__ import annotations

import random
from datetime import datetime
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.evening import LEVELS, keep
from voicelog.app.review.evening_queue import evening_queue
from voicelog.app.review.review_service import ReviewService
from voicelog.store import Log
from voicelog.web.app import make_app

TOKEN = {"x-voicelog-token": "t"}
WORDS = ("level nine came", "yelped", "here", "came", "start session wren", "no button", "growled")
LONG = (*LEVELS, "here", "?level six | level two", "yelped", "came", "here level three", "?came",
    "here", "ignored", "drill place", "here came")  # fmt: skip


def taken_in(known: dict[str, Any], given: dict[str, Any]) -> list[Any]:
    """Items by id in order, with what changed taken in, as `state.js` does it."""
    order = [name for name in known if name not in given["gone"]]
    items = {name: known[name] for name in order}
    for one in given["changed"]:
        item = {name: value for name, value in one.items() if name != "after"}
        if item["id"] not in items and "order" not in given:
            place = order.index(one["after"]) + 1 if one["after"] else 0
            order.insert(place, item["id"])
        items[item["id"]] = item
    return [items[name] for name in given.get("order", order)]


def by_id(items: list[Any]) -> dict[str, Any]:
    return {one["id"]: one for one in items}


def check_order(known: list[str], given: Any) -> list[str]:
    if isinstance(given, list):
        return given
    order = [name for name in known if name not in given["gone"]]
    for name, after in given["added"]:
        order.insert(order.index(after) + 1 if after else 0, name)
    return order


@pytest.mark.parametrize("seed", [1, 2])
def test_what_changed_makes_the_old_state_into_the_new(
    service: ReviewService, log: Log, seed: int
) -> None:
    recording = keep(log, LONG, "long")
    service.session_catalog.refresh()
    key = service.session_catalog.line(recording).sessions[0].id
    chance = random.Random(seed)
    app = make_app(service, hosts=["testserver"], token="t", who="Anna")
    differences = 0
    with TestClient(app) as client:
        whole = client.get(f"/api/session/{key}").json()
        state, parts = whole["whole"], whole["parts"]
        for _ in range(14):
            row = chance.choice(state["rows"])
            do = chance.choice(("read", "read", "read", "void", "restore", "confirm", "add"))
            deed = {"do": do, "entry": row["id"], "version": row["version"], "at_s": 9.0}
            deed |= {"words": chance.choice(WORDS)}
            address = f"/api/session/{key}?seen={state['stamp']}"
            answer = client.post(address, json=deed, headers=TOKEN).json()
            if not answer["ok"]:
                continue
            key, since = answer["key"], answer["since"]
            differences += 1
            held = since["conditions"]
            state = {
                "stamp": since["stamp"],
                "rows": taken_in(by_id(state["rows"]), since["rows"]),
                "check": check_order(state["check"], since["check"]),
                "reps": taken_in(by_id(state["reps"]), since["reps"]),
                "findings": taken_in(by_id(state["findings"]), since["findings"]),
                "conditions": state["conditions"] if held is None else held,
                "tonight": since["tonight"],
            }
            parts |= since["parts"]
            anew = client.get(f"/api/session/{key}").json()
            assert state == anew["whole"] | {"stamp": state["stamp"]}
            assert parts == anew["parts"]
    app.state.clips.close()
    assert differences > 5


def test_the_queue_takes_what_weighs_first_whichever_session_it_is_of(
    service: ReviewService, log: Log
) -> None:
    for number, lines in enumerate(
        (
            ("start session bracken", "here", "?praised", "came"),
            ("start session wren", "here level three", "?yelped | head turn", "came"),
            ("start session bracken", "here level two"),
        ),
        start=1,
    ):
        keep(log, lines, f"{number}", at=datetime(2026, 4, number, 7, 30))
    service.session_catalog.refresh()
    queue = evening_queue(service)
    assert [(card.dog, card.must_hear) for card in queue.cards] == [
        ("Wren", False),  # there is no sound to hear
        ("Bracken", False),
        ("Bracken", False),
    ]
    first, asked, last = queue.cards
    assert first.row is not None
    assert first.row.said == "yelped"
    assert first.around == "after 'here level three', before 'came'"
    assert asked.question is not None
    assert asked.question.answers[:1] == ("came",)
    assert last.row is not None
    assert last.row.said == "praised"
    assert [card.dog for card in evening_queue(service, "Wren").cards] == ["Wren"]
    assert queue.waiting == 0
