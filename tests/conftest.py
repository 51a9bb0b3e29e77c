"""What every test shares: no silent skips in CI, patience on slow machines, one compilation."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from sqlalchemy import create_engine

from tests.empty_logs import remembering
from tests.known_statements import put_together_once
from voicelog.store import database

if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
    # The workers and some two hundred programs that the tests start would each compile all of it.
    compiled = Path(__file__).parents[1] / ".pytest_cache" / "bytecode"
    sys.pycache_prefix = os.environ.setdefault("PYTHONPYCACHEPREFIX", str(compiled))
    sys.dont_write_bytecode = False

gc.set_threshold(50_000, 20, 20)  # as many objects are made while all is collected

settings.register_profile(
    "patient",
    deadline=None,  # two shared cores keep no deadlines
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
)
settings.load_profile("patient")


LONGEST = (
    *("app/test_cluster.py", "web/test_browser.py", "reliability/test_offline.py"),
    *("recognition/test_sphinx.py", "published/test_human_speech.py", "live/test_server.py"),
    *("cli/test_hard_to_hear.py", "live/test_live_session.py", "session/narrated/test_narrated.py"),
    *("live/test_end_to_end.py", "grammar/test_rich.py", "report/test_histories.py"),
    *("cli/test_correct.py", "live/test_killed.py", "web/phone/test_phone_page.py"),
)
"""The files that take longest (30 s and more of a worker) come first, so that no worker is left
with one of them when the others are done."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first, and leave all others in their order."""
    turn = {Path(__file__).parent / name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: turn.get(item.path, len(turn)))


@pytest.fixture(scope="session", autouse=True)
def quick_logs() -> Iterator[None]:
    """Make the schema of an empty log by its migrations, and each statement, once for all tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(database, "_upgrade", remembering(database._upgrade))
        patch.setattr(database, "create_engine", put_together_once(create_engine))
        yield


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What was collected stays to the end: looking through it for garbage again and again took a
    fifth of the time of the tests."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With VOICELOG_NO_SKIPS=1 a skip is a failure: CI has all that the tests need."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail") and os.environ.get("VOICELOG_NO_SKIPS"):
        report.outcome = "failed"
        report.longrepr = f"skipped, though no skip is allowed: {report.longrepr}"
    return report
