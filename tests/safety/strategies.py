"""Random sessions: anything a trainer can say, in any order, some of it doubtful."""

from __future__ import annotations

from hypothesis import strategies as st

from voicelog.model import Dog, Transmitter

from .build import Field

DOG = Dog(name="Juno", transmitter=Transmitter(top=10), ceiling=8)

SAYING = st.one_of(
    st.tuples(st.just("press"), st.integers(1, 12)),
    st.tuples(st.just("press"), st.integers(1, 12), st.just("momentary")),
    st.tuples(st.just("vibrate")),
    st.tuples(st.just("off")),
    st.tuples(st.just("cue")),
    st.tuples(st.just("fitted")),
    st.tuples(st.just("collar"), st.sampled_from(["stripped", "slipped", "turned"])),
    st.tuples(st.just("fit")),
    st.tuples(st.just("contact"), st.sampled_from(["none", "solid"])),
    st.tuples(st.just("skin"), st.sampled_from(["clear", "red", "sore"])),
    st.tuples(st.just("strong"), st.sampled_from(["yelped", "froze", "cowered"])),
    st.tuples(st.just("weak"), st.sampled_from(["whined", "yawned", "panting", "lip lick"])),
    st.tuples(st.just("nothing")),
    st.tuples(st.just("reward"), st.sampled_from(["treat", "retrieve", "praised"])),
    st.tuples(st.just("out"), st.sampled_from(["complied", "slow", "ignored", "helped"])),
    st.tuples(st.just("set"), st.just("ceiling"), st.integers(1, 10)),
    st.tuples(
        st.just("set"), st.just("distraction"), st.sampled_from(["none", "low", "medium", "high"])
    ),
    st.tuples(st.just("set"), st.just("drill"), st.sampled_from(["recall", "gun", "find level"])),
    st.tuples(st.just("set"), st.just("temperature"), st.integers(15, 32), st.just("C")),
)
"""One thing said: a method of `Field` and its arguments."""


@st.composite
def fields(draw: st.DrawFn, doubt: bool = True) -> Field:
    """A session of up to 30 entries; with `doubt`, about a third of them doubtful."""
    field = Field(DOG)
    for method, *arguments in draw(st.lists(SAYING, min_size=1, max_size=30)):
        if draw(st.integers(0, 9)) == 0:
            field.wait(12.0)
        getattr(field, method)(*arguments)
        if doubt and draw(st.integers(0, 2)) == 0:
            field.doubt()
    return field
