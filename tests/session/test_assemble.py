"""Whatever is said, in whatever order and however surely: what always holds of sessions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.session.said import GRAMMAR, ROSTER, kept, said
from tests.strategies import PIECE, REP_PIECE, SESSION_PIECE, SETTING_PIECE, lines
from voicelog.model import Action, Entry, Reading, Rep, Session
from voicelog.model.phrases import phrase_slots
from voicelog.session.entries import fold
from voicelog.session.variants import assemble, session_variants

UNEDITED = REP_PIECE | REP_PIECE | SETTING_PIECE | SESSION_PIECE
SURE = ("",)
MENDED = {
    *((failed, "helped") for failed in ("ignored", "left", "broke")),
    *(("complied", more) for more in ("slow", "partial")),
}
"""What another word soon after may make of an outcome without a doubt."""
SOME = settings(max_examples=50)  # each folds and assembles a dozen times


def sessions(entries: Sequence[Entry]) -> tuple[Session, ...]:
    return assemble(entries, ROSTER, dog="Bracken")


def told(rep: Rep) -> str:
    return rep.model_dump_json(exclude={"id", "number", "session", "entries"})


@SOME
@given(lines())
def test_anything_said_can_be_assembled(lines: list[str]) -> None:
    for world in session_variants(said(*lines, dog="Bracken"), ROSTER, dog="Bracken"):
        assert world.with_doubtful.start_s <= world.with_doubtful.end_s


@SOME
@given(lines())
def test_the_same_entries_make_the_same_sessions(lines: list[str]) -> None:
    entries = said(*lines)
    assert sessions(entries) == sessions(entries)


@SOME
@given(lines())
def test_numbers_count_up_and_ids_are_unique(lines: list[str]) -> None:
    found = sessions(said(*lines))
    for session in found:
        assert [rep.number for rep in session.reps] == list(range(1, len(session.reps) + 1))
    assert len({session.id for session in found}) == len(found)
    ids = [rep.id for session in found for rep in session.reps]
    assert len(set(ids)) == len(ids)


@SOME
@given(lines())
def test_what_a_session_names_are_its_entries_and_its_reps(lines: list[str]) -> None:
    entries = said(*lines)
    order = [entry.id for entry in entries]
    for session in sessions(entries):
        mine = set(session.entries)
        assert list(session.entries) == [name for name in order if name in mine]
        assert set(session.placed) <= mine
        numbers = {rep.number for rep in session.reps}
        assert {mark.rep for mark in session.marks} - {None} <= numbers
        for rep in session.reps:
            assert rep.entries
            assert set(rep.entries) <= mine
            assert (rep.session, rep.dog) == (session.id, session.dog.name)


@SOME
@given(lines())
def test_an_entry_falls_in_one_session_unless_it_begins_another(lines: list[str]) -> None:
    entries = said(*lines)
    begin = {
        e.id
        for e in entries
        if any(phrase_slots(p).get("do") in ("start", "next") for p in e.phrases)
    }
    named = Counter(name for session in sessions(entries) for name in session.entries)
    assert {name for name, times in named.items() if times > 1} <= begin


@SOME
@given(lines())
def test_the_parts_of_a_rep_agree(lines: list[str]) -> None:
    for session in sessions(said(*lines)):
        for rep in session.reps:
            levels = [mark.level for mark in rep.levels]
            assert rep.peak_level == (max(levels) if levels else None)
            assert rep.end_level == (levels[-1] if levels else None)
            assert rep.signs == tuple(mark.sign for mark in rep.sign_marks)
            assert (rep.mode in ("momentary", "continuous")) is bool(levels)
            assert rep.start_s <= rep.end_s
            assert (rep.cue is None) is (rep.cue_by is None)
            assert rep.outcome != "unknown" or rep.doubtful
            for time in (rep.turned_s, rep.latency_s, rep.stimulus_s):
                assert time is None or time >= 0


@SOME
@given(lines(), st.data())
def test_talk_changes_no_rep(lines: list[str], data: st.DataObject) -> None:
    entries = list(said(*lines))
    rejected = Entry(id="z", start_s=0, end_s=0, reading="level nine", status="rejected",
                     confidence=0.0, phrases=GRAMMAR.interpret("level nine") or ())  # fmt: skip
    place = data.draw(st.integers(0, len(entries)))
    with_it = [*entries[:place], rejected, *entries[place:]]
    assert [s.reps for s in sessions(with_it)] == [s.reps for s in sessions(entries)]


@SOME
@given(lines())
def test_a_sure_rep_is_there_without_the_doubtful_entries(lines: list[str]) -> None:
    entries = said(*lines)
    talk = {"status": "rejected", "confidence": 0.0}
    sure = [e.model_copy(update=talk) if e.status == "doubtful" else e for e in entries]
    held = {"drill", "distraction", "distance", "distance_unit"}
    without = [rep.model_dump_json(exclude=held | {"id", "number", "session"})
               for session in sessions(sure) for rep in session.reps]  # fmt: skip
    for session in sessions(entries):
        for rep in session.reps:
            if not rep.doubtful:
                without.remove(rep.model_dump_json(exclude=held | {"id", "number", "session"}))


@SOME
@given(lines(UNEDITED, SURE), st.integers(0, 12))
def test_what_is_said_later_moves_no_rep_and_only_adds_to_how_it_ended(
    lines: list[str], cut: int
) -> None:
    entries = said(*lines)
    before, after = sessions(entries[:cut]), sessions(entries)
    closed = [r for session in before for r in session.reps if r.outcome is not None]
    later = {(r.session, r.number): r for session in after for r in session.reps}
    for rep in closed:
        same = later[rep.session, rep.number]
        assert (same.id, same.start_s) == (rep.id, rep.start_s)
        mended = (rep.outcome, same.outcome) in MENDED
        assert same.outcome == rep.outcome or mended or "outcomes" in same.doubts
        assert same.levels == rep.levels


@SOME
@given(
    lines(REP_PIECE | REP_PIECE | SETTING_PIECE.filter(lambda w: w != "no contact"), SURE),
    lines(REP_PIECE | REP_PIECE | SETTING_PIECE.filter(lambda w: w != "no contact"), SURE),
)
def test_after_a_quiet_minute_closed_reps_are_final(first: list[str], then: list[str]) -> None:
    shifted = []
    for line in then:
        start, _, words = line.partition(" ")
        shifted.append(f"{float(start) + 1000} {words}")
    (before,) = sessions(said(*first))
    (whole,) = sessions(said(*first, *shifted))
    closed = before.reps[:-1] if before.reps and before.reps[-1].outcome is None else before.reps
    assert whole.reps[: len(closed)] == closed


@SOME
@given(lines(), st.data())
def test_what_a_person_voids_and_undoes_is_as_if_never_done(
    lines: list[str], data: st.DataObject
) -> None:
    events = kept(*lines)
    before = fold(events, GRAMMAR.interpret)
    target = data.draw(st.sampled_from(before)).id
    void = Action(id="void", action="void", target=target, who="Anna")
    undo = Action(id="undo", action="undo", target="void", who="Anna")
    fold([*events, void], GRAMMAR.interpret)
    assert fold([*events, void, undo], GRAMMAR.interpret) == before


@SOME
@given(lines(PIECE, ("", "?")), st.data())
def test_a_spoken_edit_keeps_its_aim_when_a_person_reads_another_entry(
    lines: list[str], data: st.DataObject
) -> None:
    events = kept(*lines)
    before = fold(events, GRAMMAR.interpret)
    read = data.draw(st.sampled_from(before)).id
    events.append(Reading(id="p", utterance=read, words="treat", by="person", who="Anna"))
    after = fold(events, GRAMMAR.interpret)
    assert [e.target for e in after] == [e.target for e in before]
