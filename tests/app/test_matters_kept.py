"""What is open outlives deletion, backup, hand-over and merging, and two laptops agree on it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from functools import partial
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.web.evening import NOW, ROSTER, keep
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.open_matters import OpenMatter
from voicelog.app import delete
from voicelog.app.archive import export_bundle, import_bundle
from voicelog.app.kept_matters import keeping_open
from voicelog.app.matters import (
    MatterRequest,
    close_matters,
    every_matter,
    reopen_matters,
    sources_of,
)
from voicelog.app.session_catalog import SessionCatalog
from voicelog.app.session_choice import parts_of_sessions, sessions_of_dog
from voicelog.model import MatterEvent
from voicelog.report import matters_paper
from voicelog.report.wording.matters import at_stake_lines, matter_words
from voicelog.safety import Settings
from voicelog.store import Log, deletion
from voicelog.store.backup import restore, write_backup
from voicelog.store.merge import merge_matters
from voicelog.store.standing import noted_standing
from voicelog.store.tombstones import dog_id

YELPED = ("start session bracken", "here level four yelped", "came")
SNAPPED = ("start session bracken", "here no button snapped", "came")
ANNA = MatterRequest("Anna", "seen by the vet", "Dr Fern, veterinarian")


def opened(folder: Path) -> Log:
    folder.mkdir(exist_ok=True)
    return Log.open(folder, now=lambda: NOW)


@pytest.fixture
def catalog(tmp_path: Path) -> Iterator[SessionCatalog]:
    with opened(tmp_path / "log") as log:
        for dog in ROSTER.dogs:
            log.put_dog(dog)
        for day, lines in ((1, YELPED), (2, SNAPPED)):
            keep(log, lines, f"day {day}", at=datetime(2026, 4, day, 7, 30))
        found = SessionCatalog(log)
        found.refresh()
        yield found


def listed(catalog: SessionCatalog) -> tuple[OpenMatter, ...]:
    catalog.refresh()
    return catalog.matters(NOW.date()).get("Bracken", ())


def ceiling(catalog: SessionCatalog) -> int | None:
    dog = ROSTER.dogs[0]
    digests = catalog.session_digests("Bracken")
    return dog_ceiling(digests, dog, Settings(), matters=listed(catalog)).level


def test_deleting_a_session_keeps_what_is_open_and_its_ceiling(catalog: SessionCatalog) -> None:
    before, level = listed(catalog), ceiling(catalog)
    assert level == 2
    rows = sessions_of_dog(catalog, "Bracken")
    at_stake = delete.matters_at_stake(catalog, rows)
    assert [one.id for one in at_stake.kept] == [one.id for one in before]
    assert (at_stake.forgotten, at_stake.ceilings) == ((), {})
    assert all(line.startswith("Kept") for line in at_stake_lines(at_stake.kept, (), {}))
    delete.delete_sessions(catalog, rows)
    after = listed(catalog)
    assert [(one.id, one.stands, one.deleted) for one in after] == [
        (one.id, True, True) for one in before
    ]
    assert ceiling(catalog) == level
    assert all("its session was deleted" in matter_words(one) for one in after)
    close_matters(catalog, [one.id for one in after], ANNA)
    assert ceiling(catalog) is None
    assert [one.state for one in listed(catalog)] == ["closed", "closed"]


def test_deleting_what_was_closed_says_which_ceiling_is_forgotten(
    catalog: SessionCatalog,
) -> None:
    close_matters(catalog, [one.id for one in listed(catalog)], ANNA)
    rows = sessions_of_dog(catalog, "Bracken")
    at_stake = delete.matters_at_stake(catalog, rows)
    assert dict(at_stake.ceilings) == {"Bracken": (2, None)}
    assert at_stake_lines((), (), at_stake.ceilings) == (
        "Forgotten: Bracken's ceiling is 2, and then none.",
    )


def test_deleting_a_dog_keeps_what_is_open_without_its_name(catalog: SessionCatalog) -> None:
    first, second = listed(catalog)
    close_matters(catalog, [second.id], ANNA)
    delete.delete_dog(catalog, delete.find_dog(catalog, "Bracken"))
    (kept,) = catalog.matters(NOW.date()).values()
    assert [one.id for one in kept] == [first.id]
    database = (catalog.log.folder / "log.sqlite3").read_bytes()
    assert b"Bracken" not in database
    assert b"Dr Fern" not in database
    ((dog, _),) = every_matter(catalog, "bracken", NOW.date())  # its name still finds it
    sources = partial(sources_of, catalog)
    (section,) = matters_paper.build([(dog, kept)], NOW.date(), sources).sections
    assert section.title == f"A dog that was deleted ({dog_id('Bracken')[:8]})"
    catalog.log.put_dog(ROSTER.dogs[0])
    assert [one.id for one in listed(catalog)] == [first.id]


@pytest.mark.parametrize("whole_dog", [True, False])
def test_what_is_open_of_another_dog_stays_where_it_rests_on_what_goes(
    catalog: SessionCatalog, whole_dog: bool
) -> None:
    hot = ("start session wren", "here no button came", "temperature forty")
    cold = ("start session bracken", "here level three", "came")
    keep(catalog.log, hot + cold, "day 3", at=datetime(2026, 4, 3, 7, 30))
    before = [one.id for one in listed(catalog) if one.stands]
    assert len(before) == 3, "too hot, with two older ones"
    if whole_dog:
        delete.delete_dog(catalog, delete.find_dog(catalog, "Wren"))
    else:
        delete.delete_sessions(catalog, sessions_of_dog(catalog, "Wren"))
    assert [one.id for one in listed(catalog) if one.stands] == before
    close_matters(catalog, before, ANNA)
    assert not any(one.stands for one in listed(catalog))


@pytest.mark.parametrize("whole_dog", [True, False])
@pytest.mark.parametrize("late", [True, False])
def test_what_is_open_of_another_dog_stays_where_the_program_is_killed_on_the_way(
    catalog: SessionCatalog, monkeypatch: pytest.MonkeyPatch, whole_dog: bool, late: bool
) -> None:
    hot = ("start session wren", "here no button came", "temperature forty")
    cold = ("start session bracken", "here level three", "came")
    keep(catalog.log, hot + cold, "day 3", at=datetime(2026, 4, 3, 7, 30))
    before = [one.id for one in listed(catalog) if one.stands]
    assert len(before) == 3, "too hot, with two older ones"
    act = SessionCatalog.refresh if late else Log.sweep

    def killed(*given: object, **_: object) -> None:
        if late:  # as far as it comes before what was lost is looked for
            monkeypatch.undo()
            with monkeypatch.context() as patch:
                patch.setattr("voicelog.app.session_catalog.finish_keeping", lambda _: None)
                act(*given)  # type: ignore[arg-type]
        raise KeyboardInterrupt

    dog = partial(delete.delete_dog, catalog, delete.find_dog(catalog, "Wren"))
    sessions = partial(delete.delete_sessions, catalog, sessions_of_dog(catalog, "Wren"))
    monkeypatch.setattr(SessionCatalog if late else Log, act.__name__, killed)
    with pytest.raises(KeyboardInterrupt):
        (dog if whole_dog else sessions)()
    monkeypatch.undo()
    assert not sessions_of_dog(catalog, "Wren"), "what was to go is gone"
    lost = [one.id for one in catalog.matters(None).get("Bracken", ()) if one.stands]
    assert not late or len(lost) == 2, "nothing but the note keeps it"
    again = SessionCatalog(catalog.log)
    assert [one.id for one in listed(again) if one.stands] == before
    kept = again.log.matter_events()
    assert listed(again)
    assert again.log.matter_events() == kept, "it is seen to once"
    close_matters(again, before, ANNA)
    assert not any(one.stands for one in listed(again))


def test_what_is_noted_before_an_act_is_left_alone_as_long_as_that_goes_on(
    catalog: SessionCatalog,
) -> None:
    before = [one.id for one in listed(catalog)]
    with keeping_open(catalog) as kept:
        other = SessionCatalog(catalog.log)
        other.refresh()
        assert noted_standing(catalog.log)
        keys = {row.key for row in sessions_of_dog(catalog, "Bracken")}
        deletion.delete_parts(catalog.log, parts_of_sessions(catalog, keys))
        catalog.refresh()
        assert not catalog.matters(None)
    assert [one.id for one in kept.matters] == before
    assert not noted_standing(catalog.log)
    (back,) = catalog.matters(None).values()
    assert [one.id for one in back] == before


def test_sound_of_what_is_open_is_left(catalog: SessionCatalog) -> None:
    tick = (b"RIFF" + bytes(60),)
    keep(catalog.log, YELPED, "loud", at=datetime(2026, 4, 3, 7), sound=tick[0])
    catalog.refresh()
    found = delete.find_sound(catalog, 0, unread=True, memos=True)
    assert (found.chosen, found.with_matters) == ((), 1)
    assert len(delete.find_sound(catalog, 0, unread=True, memos=True, matters=True).chosen) == 1


def test_backup_and_bundle_carry_what_was_done(catalog: SessionCatalog, tmp_path: Path) -> None:
    first, second = listed(catalog)
    close_matters(catalog, [first.id], ANNA)
    row = next(
        one for one in sessions_of_dog(catalog, "Bracken") if one.key != first.matter.session
    )
    delete.delete_sessions(catalog, [row])
    wanted = [(one.id, one.state) for one in listed(catalog)]
    write_backup(catalog.log, tmp_path / "b.zip", None)
    with opened(tmp_path / "back") as log:
        restore(log, tmp_path / "b.zip", tmp_path / "back" / "settings.toml")
        assert [(one.id, one.state) for one in listed(SessionCatalog(log))] == wanted
    bundle = export_bundle(catalog, tmp_path, "Bracken").path
    with opened(tmp_path / "other") as log:
        import_bundle(log, bundle)
        assert [(one.id, one.state) for one in listed(SessionCatalog(log))] == wanted
    assert second.id in [name for name, _ in wanted]


@given(st.lists(st.tuples(st.sampled_from("ab"), st.integers(0, 1), st.booleans()), max_size=8))
@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_two_laptops_come_to_the_same_list_in_whatever_order(
    tmp_path_factory: pytest.TempPathFactory, deeds: list[tuple[str, int, bool]]
) -> None:
    folder = tmp_path_factory.mktemp("two")
    with opened(folder / "a") as one, opened(folder / "b") as two:
        logs = {"a": SessionCatalog(one), "b": SessionCatalog(two)}
        for log in (one, two):
            for day, lines in ((1, YELPED), (2, SNAPPED)):
                keep(log, lines, f"day {day}", at=datetime(2026, 4, day, 7, 30))
        for where, which, close in deeds:
            chosen = sorted(listed(logs[where]), key=lambda found: found.id)[which]
            if close and chosen.stands:
                close_matters(logs[where], [chosen.id], ANNA)
            elif not close and chosen.state == "closed":
                reopen_matters(logs[where], [chosen.id], ANNA)
        ours: tuple[MatterEvent, ...] = one.matter_events()
        theirs = two.matter_events()
        merge_matters(one, reversed(theirs))
        assert merge_matters(two, ours) == len({found.id for found in ours})
        assert merge_matters(two, ours) == 0
        assert listed(logs["a"]) == listed(logs["b"])
