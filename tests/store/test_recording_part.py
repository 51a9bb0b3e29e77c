"""All of one session, and nothing of the next."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from voicelog.model import Action, Dog, Event, FieldEvent, Session, Utterance, Verdict
from voicelog.store.recording_part import RecordingPart, recording_part

REC = "r"


def spoken(number: int, start_s: float, end_s: float) -> tuple[Event, ...]:
    utterance = Utterance(id=f"u{number}", recording=REC, start_s=start_s, end_s=end_s)
    verdict = Verdict(
        id=f"v{number}",
        utterance=f"u{number}",
        status="rejected",
        words="",
        confidence=0,
        judge="j",
    )
    return utterance, verdict


def session(name: str, start_s: float, *entries: str) -> Session:
    return Session(id=name, dog=Dog(name=name), start_s=start_s, end_s=start_s + 1, entries=entries)


EVENTS = (
    *spoken(0, 1, 2),  # before any session
    *spoken(1, 10, 11),
    *spoken(2, 20, 21),
    *spoken(3, 30, 31),
    *spoken(4, 31.1, 32),  # in none, after the second began
    FieldEvent(id="tone", recording=REC, at_s=29.8, what="tone"),
    Action(id="a", action="undo", target="v1"),
    Action(id="b", action="undo", target="a"),
)
BOTH = (session("A", 10, "u1", "u2"), session("B", 30, "u3"))


def test_a_session_takes_what_was_said_in_it_and_after_it() -> None:
    first = recording_part(REC, EVENTS, BOTH, {"A"})
    assert first.events == {"u0", "v0", "u1", "v1", "u2", "v2", "a", "b"}
    assert first.stretches == ((0.0, 29.7),)
    second = recording_part(REC, EVENTS, BOTH, {"B"})
    assert second.events == {"u3", "v3", "u4", "v4", "tone"}
    assert second.stretches == ((29.7, 1e9),)
    assert not first.whole
    assert not second.whole


def test_an_entry_moved_to_another_dogs_session_goes_with_it() -> None:
    moved = (session("A", 10, "u1", "u3"), session("B", 20, "u2"))
    assert recording_part(REC, EVENTS, moved, {"B"}).stretches == ((19.7, 29.7), (31.05, 1e9))
    assert recording_part(REC, EVENTS, moved, {"A"}).stretches == ((0.0, 19.7), (29.7, 31.05))


def test_all_sessions_are_the_whole_recording() -> None:
    whole = recording_part(REC, EVENTS, BOTH, {"A", "B", "of another"})
    assert whole.whole
    assert len(whole.events) == len(EVENTS)
    assert whole.rest == ()


def test_a_recording_without_sessions_is_whole() -> None:
    assert recording_part(REC, EVENTS, (), ()).whole


@given(
    st.lists(st.tuples(st.sampled_from("ABC"), st.floats(0, 3), st.floats(0, 3)), min_size=1),
    st.sets(st.sampled_from("ABC")),
)
def test_every_moment_and_every_event_has_one_owner(
    told: list[tuple[str, float, float]], chosen: set[str]
) -> None:
    events: list[Event] = []
    entries: dict[str, list[str]] = {"A": [], "B": [], "C": []}
    at = 0.0
    for number, (owner, pause, length) in enumerate(told):
        events += spoken(number, at + pause, at + pause + length)
        at += pause + length
        entries[owner].append(f"u{number}")
    sessions = [session(name, 0, *ids) for name, ids in entries.items() if ids]
    left = chosen & {one.id for one in sessions}
    right = {one.id for one in sessions} - left
    if not left or not right:
        return
    one: RecordingPart = recording_part(REC, events, sessions, left)
    other = recording_part(REC, events, sessions, right)
    assert one.events.isdisjoint(other.events)
    assert one.events | other.events == {event.id for event in events}
    assert one.rest == other.stretches
    assert other.rest == one.stretches
