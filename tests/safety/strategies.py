"""Random sessions: anything a trainer can say, in any order, some of it doubtful."""

from __future__ import annotations

from hypothesis import strategies as st

from voicelog.model import Dog, Transmitter

from .build import Field

DOG = Dog(name="Juno", transmitter=Transmitter(top=10), ceiling=8)

SAYING = st.one_of(
    st.integers(1, 12).map(lambda level: f"level {level}"),
    st.integers(1, 12).map(lambda level: f"tap {level}"),
    st.integers(1, 10).map(lambda level: f"ceiling {level}"),
    st.integers(15, 32).map(lambda degrees: f"temperature {degrees}"),
    st.sampled_from(["here", "vibrate", "no button", "thumb off"]),
    st.sampled_from(["came", "came slow", "ignored", "line help", "level 3 came"]),
    st.sampled_from(
        ["yelped", "froze", "growling", "cowered", "whined", "yawned", "panting", "lip lick"]
    ),
    st.sampled_from(["nothing", "neck twitch", "treat", "retrieve", "praised"]),
    st.sampled_from(["collar fitted", "collar stripped", "collar slipped", "collar turned"]),
    st.sampled_from(["fit check", "no contact", "contact solid"]),
    st.sampled_from(
        ["fit check four fingers", "fit check two fingers", "test failed", "test good"]
    ),
    st.sampled_from(["coat wet", "coat dry", "committed", "tone"]),
    st.sampled_from(["skin clear", "skin red", "skin sore"]),
    st.sampled_from(["distraction none", "distraction low", "distraction high birds"]),
    st.sampled_from(["drill recall", "drill gun", "drill find level", "shot 80 metres"]),
)
"""One thing said."""


_SAYINGS = st.lists(SAYING, min_size=1, max_size=30)
_ONE_IN_TEN, _ONE_IN_THREE = st.integers(0, 9), st.integers(0, 2)
_WAIT_S = st.sampled_from([0.7, 12.0, 70.0])


@st.composite
def fields(draw: st.DrawFn, doubt: bool = True) -> Field:
    """A session of up to 30 entries; with `doubt`, about a third of them doubtful."""
    field = Field(DOG)
    for words in draw(_SAYINGS):
        if draw(_ONE_IN_TEN) == 0:
            field.wait(draw(_WAIT_S))
        field.say(words)
        if doubt and draw(_ONE_IN_THREE) == 0:
            field.doubt()
    return field
