"""Recordings heard by an executor: their order, what fails, what workers die of."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.app.heard_elsewhere import (
    HeardSound,
    HeardWith,
    HearingOutcome,
    HearingTask,
    NotHeard,
    hear_task,
    hearing_identity,
)
from voicelog.app.hearing_workers import HearingWorkers, heard_by
from voicelog.model import Roster, VoicelogError

WITH = HeardWith(Roster(), listener="quick")


class DiedError(Exception):
    """A worker died."""


class Scripted(Executor):
    """Ends tasks as a script says, those given last first: by name, an error or an outcome."""

    def __init__(self, script: dict[str, list[object]]) -> None:
        self.script, self.most = script, 0
        self.asked: list[str] = []
        self.open: list[tuple[Future[Any], str]] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        (task,) = args
        name = task.path.name
        self.asked.append(name)
        future: Future[Any] = Future()
        self.open.append((future, name))
        self.most = max(self.most, len(self.open))
        return future

    def end_one(self) -> None:
        future, name = self.open.pop()
        what = self.script[name].pop(0) if self.script[name] else name
        if isinstance(what, BaseException):
            future.set_exception(what)
        else:
            future.set_result(NotHeard(str(what)))


def run(
    script: dict[str, list[object]],
    width: int,
    *,
    lost: Callable[[], str | None] = lambda: None,
    none: frozenset[str] = frozenset(),
) -> tuple[list[tuple[str, str]], Scripted]:
    executor = Scripted(script)

    def now() -> int:
        if len(executor.open) >= width or (executor.open and len(executor.asked) >= len(script)):
            executor.end_one()
        return width

    def again() -> str | None:
        if executor.open:
            executor.end_one()
        return lost()

    workers = HearingWorkers(
        executor,
        now,
        lambda error, name: None if isinstance(error, KeyError) else f"{name}: {error}",
        killed=(DiedError,),
        lost=again,
    )

    def finish(name: str, outcome: HearingOutcome | None) -> str:
        if isinstance(outcome, NotHeard):
            return outcome.said
        raise VoicelogError(f"{name} is read here")

    def task(name: str) -> HearingTask | None:
        return None if name in none else HearingTask(Path(name), WITH)

    found = heard_by(workers, list(script), task, finish)
    return [(name, str(result)) for name, result in found], executor


@pytest.fixture(autouse=True)
def _often(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("voicelog.app.hearing_workers._LOOK_S", 0.0)


@settings(max_examples=40)
@given(
    kinds=st.lists(st.sampled_from(["heard", "here", "error", "once", "kills"]), max_size=8),
    width=st.integers(1, 4),
)
def test_each_comes_once_in_order_and_what_kills_comes_last(kinds: list[str], width: int) -> None:
    ends: dict[str, list[object]] = {
        "heard": [],
        "here": [],
        "error": [RuntimeError("no memory")],
        "once": [DiedError("gone")],
        "kills": [DiedError("gone"), DiedError("gone")],
    }
    script = {f"{i} {kind}": list(ends[kind]) for i, kind in enumerate(kinds)}
    here = frozenset(name for name in script if name.endswith("here"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("voicelog.app.hearing_workers._LOOK_S", 0.0)
        found, executor = run(script, width, none=here)
    said = {
        "heard": "{}",
        "here": "{} is read here",
        "error": "{}: no memory",
        "once": "{}",
        "kills": "{}: gone",
    }
    steady = [name for name in script if not name.endswith(("once", "kills"))]
    put_off = {name for name in script if name.endswith(("once", "kills"))}
    assert [name for name, _ in found][: len(steady)] == steady
    assert {name for name, _ in found[len(steady) :]} == put_off
    assert dict(found) == {name: said[name.partition(" ")[2]].format(name) for name in script}
    assert executor.most <= width


def test_where_nobody_is_left_every_recording_is_named() -> None:
    found, _ = run({"a": [], "b": [], "c": []}, 5, lost=lambda: "nobody is left")
    assert [name for name, _ in found] == ["a", "b", "c"]
    assert "nobody is left" in [said for _, said in found]


def test_a_mistake_of_the_program_is_raised() -> None:
    with pytest.raises(KeyError):
        run({"a": [KeyError("a")]}, 1)


def test_what_is_too_long_to_be_sent_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.app.hearing_workers.MOST_BYTES", 3)
    path = tmp_path / "long.wav"
    path.write_bytes(b"1234")
    workers = HearingWorkers(Scripted({}), lambda: 1, lambda error, name: None, sends=True)
    ((_, result),) = heard_by(
        workers, [path], lambda one: HearingTask(one, WITH), lambda one, outcome: outcome
    )
    assert isinstance(result, NotHeard)
    assert "hear it without --cluster" in result.said


def test_what_is_no_sound_and_what_is_another_program_come_back_as_a_sentence() -> None:
    found = hear_task(HearingTask(Path("a.wav"), WITH, b"no sound"))
    assert isinstance(found, NotHeard)
    assert found.said.startswith("a.wav ")
    other = hearing_identity(WITH) | {"voicelog": "0.0.1"}
    refused = hear_task(HearingTask(Path("a.wav"), WITH, b"", identity=other))
    assert isinstance(refused, NotHeard)
    assert "Found another voicelog" in refused.said
    assert not isinstance(refused, HeardSound)
