"""Random notes, recordings, rosters and grammars, in one place for every property test."""

from __future__ import annotations

from hypothesis import strategies as st

# --- notes ----------------------------------------------------------------------------------

LEVEL = st.integers(0, 100)

REP_PIECE = st.one_of(
    LEVEL.map(lambda level: f"level {level}"),
    LEVEL.map(lambda level: f"tap {level}"),
    LEVEL.map(lambda level: f"up to {level}"),
    st.sampled_from(["here", "bracken here", "recall pips", "helper called", "called twice"]),
    st.sampled_from(["no button", "vibrate", "tone", "dial 7", "rolled back to 2", "notch up"]),
    st.sampled_from(["notch down", "thumb off", "committed"]),
    st.sampled_from(["came", "came slow", "on place", "ignored", "broke", "line help"]),
    st.sampled_from(["neck twitch", "nothing", "yelped", "lip lick", "panting"]),
    st.sampled_from(["treat", "praised"]),
)
"""Part of a rep."""

SETTING_PIECE = st.sampled_from(
    [
        *("drill recall", "drill find level", "distraction low birds", "distance 20 metres"),
        *("location woods", "temperature minus 3", "ceiling 9", "shot 80 yards", "handler anna"),
        *("collar fitted", "collar stripped", "fit check two fingers", "no contact"),
        *("contact solid", "skin red", "coat wet", "line trailing"),
    ]
)
"""Something that holds."""

SESSION_PIECE = st.sampled_from(
    [
        *("start session bracken", "next dog wren", "end session", "wrong dog wren"),
        *("pause log", "resume log", "memo", "end memo"),
    ]
)
"""Something that begins or ends."""

EDIT_PIECE = st.one_of(
    st.sampled_from(["strike that", "flag that", "correction level 2", "correction ignored"]),
    st.integers(0, 6).map(lambda number: f"strike rep {number}"),
)
"""Something that mends."""

ASK_PIECE = st.sampled_from(["say level", "affirm", "negative", "roger", "say again"])

PIECE = REP_PIECE | REP_PIECE | SETTING_PIECE | SESSION_PIECE | EDIT_PIECE | ASK_PIECE
"""Anything that can be said, parts of reps most often."""


@st.composite
def lines(
    draw: st.DrawFn,
    piece: st.SearchStrategy[str] = PIECE,
    marks: tuple[str, ...] = ("", "", "?", "x"),
    start_s: float = 0.0,
    most: int = 12,
) -> list[str]:
    """Lines for tests.session.said: breaths of one to four pieces, 1.5 to 40 s apart.

    `marks` are drawn from: "" accepted, "?" doubtful, "x" rejected.
    """
    told = []
    for _ in range(draw(st.integers(1, most))):
        words = " ".join(draw(st.lists(piece, min_size=1, max_size=4)))
        told.append(f"{start_s} {draw(st.sampled_from(marks))}{words}")
        start_s += draw(st.sampled_from([1.5, 3.0, 6.0, 9.0, 12.0, 40.0]))
    return told
