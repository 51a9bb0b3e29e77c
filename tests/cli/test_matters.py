"""matters list, close and reopen as a user calls for them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, typed_file


@pytest.fixture
def log(voicelog: Voicelog, tmp_path: Path) -> Voicelog:
    """A dog that snapped."""
    voicelog("dogs", "put", "Bracken", "--top", "20")
    path = typed_file(tmp_path, "start session Bracken", "here", "no button snapped", "came")
    voicelog("add", "--typed", path, "--dog", "Bracken", "--at", "2025-05-04T09:30")
    return voicelog


def test_a_matter_is_listed_closed_and_opened_again(log: Voicelog) -> None:
    out = log("matters", "list", "bracken").out
    (name,) = re.findall(r"\b[0-9a-f]{8}\b", out.split("Closing")[0].split("closing")[0])
    assert "Snapped on 4 May 2025 (rep 1): open." in out
    assert "name a veterinarian or a licensed behaviour professional" in " ".join(out.split())
    assert "matters  1 open matter, a stop: voicelog matters list Bracken" in log("summary").out
    why = ("--as", "Anna", "--reason", "vet saw it")
    refused = log("matters", "close", name, *why)
    assert (refused.code, refused.out) == (2, "")
    assert "is closed only once" in refused.err
    done = log("matters", "close", name, *why, "--consulted", "Dr Fern")
    assert done.code == 0
    assert "closed by Anna on" in done.out
    assert "vet saw it (consulted: Dr Fern)." in done.out
    assert "no session until" not in log("plan", "Bracken", "--on", "2025-05-10").out
    again = log("matters", "reopen", name, "--as", "Joe", "--reason", "again")
    assert "opened again by Joe: again" in again.out
    assert "No session today." in log("plan", "Bracken", "--on", "2025-05-10").out


def test_what_is_not_there_is_a_sentence(log: Voicelog) -> None:
    assert log("matters", "list", "Rook").err.startswith("voicelog: There is no dog 'Rook'")
    result = log("matters", "close", "ffffffff", "--as", "Anna", "--reason", "fit checked")
    assert (result.code, result.err.count("\n")) == (1, 1)


def test_a_deletion_says_first_what_becomes_of_it(log: Voicelog) -> None:
    done = log("delete", "session", "Bracken", "--day", "2025-05-04", "--yes")
    said = "Kept, without entries and sound: Snapped on 4 May 2025 (rep 1): open."
    assert said in done.out
    assert done.out.index(said) < done.out.index("Deleted:")
    assert "its session was deleted" in " ".join(log("matters", "list").out.split())


def test_who_closes_a_skin_matter_is_told_that_a_note_clears_the_skin(
    voicelog: Voicelog, tmp_path: Path
) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    notes = "start session Bracken", "here no button came", "collar stripped skin red"
    red = typed_file(tmp_path, *notes)
    voicelog("add", "--typed", red, "--dog", "Bracken", "--at", "2025-05-04T09:30")
    (name,) = re.findall(r"\b[0-9a-f]{8}\b", voicelog("matters", "list", "--plain").out)[:1]
    why = ("--as", "Anna", "--reason", "vet saw it", "--consulted", "Dr Fern")
    done = voicelog("matters", "close", name, *why).out
    look = 'Look at the skin before the collar goes on and note "skin clear"'
    assert f"A closed matter does not clear the skin. {look}" in done
    out = " ".join(voicelog("plan", "Bracken", "--on", "2025-05-10").out.split())
    assert f"The skin was red on 4 May 2025; no note since says it is clear. {look}" in out
