"""progress, plan, kennel and owner as a user calls for them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.cli.run import Voicelog, made_once, typed_file

DAY = "2025-05-%02d"


def session(folder: Path, day: int, *lines: str, dog: str = "Bracken") -> Path:
    """A typed recording; the day in it makes each one another."""
    path = typed_file(
        folder,
        f"start session {dog}",
        "drill recall distraction none",
        "fit check two fingers",
        *lines,
        name=f"{dog}{day}.tsv",
    )
    path.write_text(f"# day {day}\n{path.read_text(encoding='utf-8')}", encoding="utf-8")
    return path


@pytest.fixture
@made_once
def _sessions(voicelog: Voicelog, tmp_path: Path) -> None:
    voicelog("dogs", "put", "Bracken", "--top", "20")
    voicelog("dogs", "put", "Wren", "--top", "20", "--litter", "Heather")
    calls = [words for _ in range(10) for words in ("here", "no button came")]
    for day in (4, 5):
        path = session(tmp_path, day, *calls)
        voicelog("add", "--typed", path, "--dog", "Bracken", "--at", f"{DAY % day}T09:30")
    path = session(tmp_path, 6, "here level three yelped", "came", dog="Wren")
    voicelog("add", "--typed", path, "--dog", "Wren", "--at", f"{DAY % 6}T09:30")


@pytest.fixture
def log(voicelog: Voicelog, _sessions: None) -> Voicelog:
    """Two good sessions of a dog, and one rep with stress of another."""
    return voicelog


def test_progress_says_what_a_dog_is_ready_for(log: Voicelog) -> None:
    result = log("progress", "bracken", "--on", "2025-05-06")
    assert (result.code, result.err) == (0, "")
    assert "Progress of Bracken, 6 May 2025" in result.out
    assert "2 sessions, 20 reps; 4 May 2025 to 5 May 2025." in result.out
    flat = " ".join(result.out.split())
    assert (
        "not yet distraction: none. Not yet ready for low. missing: about 6 more sessions" in flat
    )
    assert "Wanted:" not in flat
    flat = " ".join(log("progress", "bracken", "--on", "2025-05-06", "--all").out.split())
    assert (
        "10 of 10 calls unaided on 4 May 2025 (30 points); "
        "10 of 10 calls unaided on 5 May 2025 (17 points)" in flat
    )
    assert "unaided at the first call 20 of 20" in result.out


def test_questions_alone_are_one_paper_with_every_answer(log: Voicelog) -> None:
    flat = " ".join(log("progress", "Bracken", "--questions").out.split())
    assert "Questions about Bracken" in flat
    assert "less of the button: No button in any of these calls." in flat
    assert "rewards: A reward was said in 0 of 20 (0%, 95% interval 0% to" in flat
    html = log("progress", "Bracken", "--questions", "--format", "html").out
    assert "the end of a session" in html
    marked = log("progress", "Bracken", "--questions", "--format", "markdown").out
    assert "**the end of a session**" in marked
    found = json.loads(log("progress", "Bracken", "--format", "json").out)
    assert found["questions"][-1]["question"] == "rewards"
    assert found["questions"][-1]["words"].startswith("A reward was said in 0 of 20")


def test_progress_names_the_reps_and_every_line_when_asked(log: Voicelog) -> None:
    result = log("progress", "Bracken", "--on", "2025-05-06", "--all", "--reps")
    assert "reps: 4 May 2025: 1, 2, 3," in re.sub(r"\s+", " ", result.out)
    assert "--all" not in result.out


def test_progress_as_json_has_the_reps_of_every_number(log: Voicelog) -> None:
    found = json.loads(log("progress", "Bracken", "--format", "json", "--on", "2025-05-06").out)
    assert found["format"] == 1
    assert found["dog"] == "Bracken"
    (share, *_) = found["shares"]
    assert share["first_call"]["count"] == 20
    assert len(share["reps"]) == 20
    assert set(share["reps"]) <= set(found["reps"])
    assert found["reps"][share["reps"][0]]["number"] == 1


def test_progress_as_html_is_a_file_of_its_own_with_links_to_the_sound(
    log: Voicelog, tmp_path: Path
) -> None:
    path = tmp_path / "out.html"
    assert log("progress", "Bracken", "--format", "html", "-o", path).code == 0
    page = path.read_text(encoding="utf-8")
    assert "<svg" in page
    assert re.search(r'href="file:///[^"]+#t=[\d.]+,[\d.]+"', page)
    assert not re.search(r'(src|href)="https?:', page)


def test_plan_is_one_page_and_its_day_can_be_given(log: Voicelog) -> None:
    result = log("plan", "Bracken", "--on", "2025-05-06")
    assert "Next session of Bracken, 6 May 2025" in result.out
    flat = " ".join(result.out.split())
    assert "NEXT SESSION work: Recall without the button, 6 reps at most" in flat
    assert "If it is used (continuous): never above 1 at the start (too few reps)" in flat
    assert len(result.out.splitlines()) < 40


def test_no_session_today_is_an_answer(log: Voicelog) -> None:
    result = log("plan", "Wren", "--on", "2025-05-06")
    assert "STOP  today: No session today." in result.out
    assert "No session today" not in log("plan", "Wren", "--on", "2025-05-07").out


def test_a_dog_of_the_roster_without_sessions_has_a_plan(log: Voicelog) -> None:
    log("dogs", "put", "Rook", "--top", "10")
    assert "No distraction was worked often enough yet" in log("plan", "Rook").out
    refused = log("progress", "Rook")
    assert refused.code == 1
    assert refused.err == (
        "voicelog: Rook has no session in the log; add a recording or notes with 'voicelog add'.\n"
    )
    unknown = log("progress", "Rok")
    assert unknown.err == (
        "voicelog: There is no session of 'Rok' in the log; dogs that have one: Bracken, Wren; "
        "correct the name or add a recording.\n"
    )


def test_of_a_dog_whose_only_session_was_deleted_what_is_open_is_told(
    log: Voicelog, tmp_path: Path
) -> None:
    pytest.importorskip("typst")
    assert log("delete", "session", "Wren", "--day", DAY % 6, "--yes").code == 0
    for paper in (("owner", "wren", "--output", tmp_path / "w.pdf"), ("progress", "wren")):
        told = log(*paper)
        assert (told.code, told.err) == (
            1,
            "voicelog: Wren has no session in the log; 1 matter of it is still open, though: see "
            "'voicelog matters list'.\n",
        )
    assert not (tmp_path / "w.pdf").exists()
    assert "yelped" in log("matters", "list", "Wren").out


def test_the_kennel_shows_first_what_went_against_a_dog(log: Voicelog) -> None:
    out = log("kennel", "--on", "2025-05-06").out
    flat = re.sub(r"\s+", " ", out)
    assert flat.index("yelped on 6 May 2025") < flat.index("Bracken:")
    assert "Stress on 6 May" not in flat  # the open matter names the sign
    assert "worked today: Wren." in out
    assert "Heather: 1 pup, 1 of them with recalls: too few" in re.sub(r"\s+", " ", out)


def test_a_ceiling_from_long_ago_holds_and_the_kennel_names_no_level(
    log: Voicelog, tmp_path: Path
) -> None:
    for day in range(7, 10):
        path = session(tmp_path, day, "here", "level eight came", dog="Wren")
        log("add", "--typed", path, "--dog", "Wren", "--at", f"{DAY % day}T09:30")
    plan, kennel = (
        re.sub(r"\s+", " ", log(*words, "--on", "2025-05-10").out)
        for words in (("plan", "Wren"), ("kennel",))
    )
    assert "If it is used (continuous): never above 1. CAUTION matters: Strong sign" in plan
    assert "next: distraction none, without the button." in kennel


def test_owner_writes_a_pdf(log: Voicelog, tmp_path: Path) -> None:
    path = tmp_path / "bracken.pdf"
    result = log("owner", "Bracken", "-o", path, "--ring", "Anna, 555 0100")
    assert result.out == f"Two pages on Bracken written to {path}.\n"
    assert path.read_bytes().startswith(b"%PDF-")


def test_settings_of_the_log_hold_and_are_named(log: Voicelog, tmp_path: Path) -> None:
    (tmp_path / "data" / "settings.toml").write_text("[dog.Bracken]\nready_sessions = 3\n")
    out = log("progress", "Bracken", "--on", "2025-05-06").out
    assert "3 at least are needed" in " ".join(out.split())
    assert "threshold ready_sessions set to 3 (default 2)" in out


def test_a_slip_is_one_sentence(log: Voicelog) -> None:
    assert log("plan", "Bracken", "--on", "soon").err == (
        "voicelog: 'soon' is not clear for --on; type a day such as yesterday, 24 Nov or "
        "2026-11-24.\n"
    )
    assert log("plan", "Bracken", "--plain", "--format", "html").code == 2


def test_the_export_of_tables_comes_with_their_description(log: Voicelog, tmp_path: Path) -> None:
    log("export", tmp_path / "out", "--format", "csv")
    package = json.loads((tmp_path / "out" / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        assert (tmp_path / "out" / resource["path"]).exists()
