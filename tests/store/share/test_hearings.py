"""Which hearing of a sound is shown, and whose corrections count: small cases, each by hand."""

from __future__ import annotations

import itertools

from voicelog.model import Action, Event, Reading, Utterance, Verdict
from voicelog.store.share.hearings import Choice, Hearing, KeyedEvent, choose


def keyed(at: int, event: Event, key: str = "") -> KeyedEvent:
    return KeyedEvent(key or event.id, event.id, f"{at:03d}", event)


def heard(name: str, at: int, *starts: float, length: float = 2.0) -> tuple[KeyedEvent, ...]:
    """Utterances that begin at these seconds, with their verdicts."""
    told = []
    for start in starts:
        own = f"{name}{start:g}"
        told += [
            keyed(at, Utterance(id=own, recording="r", start_s=start, end_s=start + length)),
            keyed(at, verdict(own)),
        ]
    return tuple(told)


def verdict(name: str, *stand: str) -> Verdict:
    return Verdict(
        id=f"v-{name}-{len(stand)}",
        utterance=name,
        status="accepted",
        words="came",
        confidence=0.9,
        judge="j",
        replaced_by=stand,
    )


def read(at: int, name: str, words: str = "came") -> KeyedEvent:
    own = f"p{at}"
    return keyed(at, Reading(id=own, utterance=name, words=words, by="person", who="Anna"))


def shown(choice: Choice, *hearings: Hearing) -> set[str]:
    """The utterances that are shown."""
    every = {one.key: one.event for each in hearings for one in each.events}
    seen = every.keys() - choice.hidden
    return {event.id for key, event in every.items() if key in seen and event.event == "utterance"}


A = Hearing("A", "A", 0, heard("a", 1, 0, 10))
B = Hearing("B", "B", 0, heard("b", 2, 0.5, 10.5))


def test_the_first_is_shown_unless_a_person_read_in_another() -> None:
    for pair in itertools.permutations([A, B]):
        assert shown(choose(pair, []), A, B) == {"a0", "a10"}
        assert shown(choose(pair, [read(9, "b0.5")]), A, B) == {"b0.5", "b10.5"}
    took_back = keyed(10, Action(id="u", action="undo", target="p9", who="Anna"))
    assert shown(choose([A, B], [read(9, "b0.5"), took_back]), A, B) == {"a0", "a10"}


def test_what_was_read_in_the_other_stands_in_place_of_the_same_sound() -> None:
    people = [read(8, "a10"), read(9, "b0.5")]
    assert shown(choose([A, B], people), A, B) == {"a10", "b0.5"}


def test_of_two_who_read_the_same_sound_the_later_counts_and_both_are_told() -> None:
    choice = choose([A, B], [read(8, "a0"), read(9, "b0.5", "level two")])
    assert shown(choice, A, B) == {"a10", "b0.5"}
    assert choice.contested == (("b0.5", "a0"),)
    choice = choose([A, B], [read(8, "a0"), read(7, "b0.5"), read(9, "a0", "nothing")])
    assert choice.contested == (("b0.5", "a0"),) or choice.contested == (("a0", "b0.5"),)


def test_one_that_was_heard_again_stands_for_the_first_unless_that_was_read() -> None:
    again = Hearing("C", "A", 1, (*A.events, *heard("c", 5, 0.2), keyed(5, verdict("a0", "c0.2"))))
    assert choose([A, again], []).shown == "C"
    assert choose([A, again], [read(9, "a0")]).shown == "A"
    assert choose([A, again], [read(9, "a10")]).shown == "C"


def test_sound_beside_each_other_is_not_the_same() -> None:
    beside = Hearing("B", "B", 0, heard("b", 2, 1.5))
    people = [read(8, "a0"), read(9, "b1.5")]
    assert shown(choose([A, beside], people), A, beside) == {"a0", "a10", "b1.5"}
