"""A sequence that shares what is settled is as good as the tuple with its items."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from voicelog.model import Mark, Session
from voicelog.model.grown import Grown, begins_with, same_until
from voicelog.model.roster import Dog

ITEMS = st.lists(st.integers(0, 2), max_size=40)
STEPS = st.lists(st.tuples(st.integers(0, 400), st.integers(0, 120), ITEMS), max_size=12)
"""From which of those before one is made, how much of it stays, and what comes after that."""


@given(STEPS)
def test_each_is_as_the_tuple_of_its_items_whatever_grew_beside_it(
    steps: list[tuple[int, int, list[int]]],
) -> None:
    grown: list[Grown[int]] = [Grown()]
    told: list[tuple[int, ...]] = [()]
    for number, count, items in steps:
        place = number % len(grown)
        grown.append(grown[place].then(count, items))
        told.append((*told[place][:count], *items))
    for one, other in zip(grown, told, strict=True):
        assert tuple(one) == other
        assert one == other
        assert hash(one) == hash(other)
        assert tuple(reversed(one)) == other[::-1]
        assert (one[3:30], one[-9:], one[::2]) == (other[3:30], other[-9:], other[::2])
        assert [one[at] for at in range(-len(one), len(one))] == [*other, *other]
        assert [item in one for item in range(4)] == [item in other for item in range(4)]
        for then, known in zip(grown, told, strict=True):
            pairs = [a == b for a, b in zip(other, known, strict=False)]
            assert same_until(one, then) == (pairs.index(False) if False in pairs else len(pairs))
            assert begins_with(one, then) == (other[: len(known)] == known)
            assert (one == then) == (other == known)


def test_a_model_reads_and_writes_it_as_a_list() -> None:
    mark = Mark(at_s=1.0, entry="u", kind="off", name="off")
    session = Session(id="s", dog=Dog(name="Bracken"), start_s=0.0, end_s=1.0, marks=(mark,))
    again = Session.model_validate_json(session.model_dump_json())
    assert isinstance(again.marks, Grown)
    assert again == session
    assert session.model_dump()["marks"] == [mark.model_dump()]
