"""Where the log lives when nobody says otherwise."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicelog.store import default_folder


def test_the_environment_names_the_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICELOG_DATA", "~/kennel")
    monkeypatch.setenv("HOME", "/home/of-a-test")
    assert default_folder() == Path("/home/of-a-test/kennel")


@pytest.mark.parametrize("value", [None, ""])
def test_without_it_the_folder_is_the_users_own(
    monkeypatch: pytest.MonkeyPatch, value: str | None
) -> None:
    monkeypatch.delenv("VOICELOG_DATA", raising=False)
    if value is not None:
        monkeypatch.setenv("VOICELOG_DATA", value)
    folder = default_folder()
    assert folder.is_absolute()
    assert folder.name == "voicelog"
