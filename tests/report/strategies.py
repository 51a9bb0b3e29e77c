"""Random sessions for the papers' properties: any text, any level, any outcome."""

from __future__ import annotations

from hypothesis import strategies as st

from voicelog.model import EntryOutput, Finding, Rep, Session

from .build import condition, entry, equipment, finding, rep, session

DRILLS = (None, "recall", "place", "find level", "gun")
MODES = ("none", "vibrate", "tone", "momentary", "continuous", "unknown")
OUTCOMES = (None, "complied", "slow", "partial", "ignored", "left", "broke", "helped", "unknown")
SIGNS = (
    ("neck twitch", "noticed"),
    ("yelped", "strong"),
    ("lip lick", "weak"),
    ("nothing", "none"),
)

words = st.text(max_size=60) | st.sampled_from(
    ("<script>alert(1)</script>", "a | b", "=1+1", "\u202eelbmarB", "日本語の犬" * 9, "x" * 120)
)
names = words.filter(bool)


# What is drawn from is made once: anew at each draw it took a third of the time of these tests.
_BOOLEANS = st.booleans()
_MODES = st.sampled_from(MODES)
_OUTCOMES, _DRILLS = st.sampled_from(OUTCOMES), st.sampled_from(DRILLS)
_TOPS = st.sampled_from((9, 127))
_LEVELS = {top: st.lists(st.integers(0, top), max_size=4) for top in (9, 127)}
_SIGNS = st.lists(st.sampled_from(SIGNS), max_size=2)
_CUE = st.none() | words
_CUES = st.integers(0, 4)
_LATENCY_S = st.none() | st.floats(0, 99)
_TWO_WORDS, _THREE_WORDS = st.lists(words, max_size=2), st.lists(words, max_size=3)
_FIRST = st.sampled_from((1, 95))
_CONDITIONS = st.lists(st.sampled_from(("drill", "handler", "location")))
_EQUIPMENT = st.lists(st.sampled_from(("collar", "fit", "skin", "line")))
_AT_S = st.floats(0, 500)
_FLAGGED: st.SearchStrategy[tuple[str, ...]] = st.sampled_from(((), ("e0",)))
_STATUSES = st.lists(st.sampled_from(("accepted", "doubtful", "rejected")), max_size=5)
_ENTRY_S = st.floats(0, 9999)
_LEVEL = st.integers(0, 9) | words
_SEVERITIES = st.lists(st.sampled_from(("remark", "caution", "stop")), max_size=3)
_REPS = st.lists(st.integers(1, 200), max_size=30)


def _rep(draw: st.DrawFn, number: int) -> Rep:
    mode = draw(_MODES)
    leveled = mode in ("momentary", "continuous")
    top = draw(_TOPS)
    levels = draw(_LEVELS[top]) if leveled else []
    return rep(
        number,
        mode,
        levels,
        draw(_OUTCOMES),
        signs=draw(_SIGNS),
        drill=draw(_DRILLS),
        cue=draw(_CUE),
        cues=draw(_CUES),
        latency_s=draw(_LATENCY_S),
        rewards=tuple(draw(_TWO_WORDS)),
        doubtful=draw(_BOOLEANS),
        void=draw(_BOOLEANS),
    )


@st.composite
def sessions(draw: st.DrawFn, most: int = 30) -> Session:
    first = draw(_FIRST)
    count = draw(st.integers(0, most))
    return session(
        [_rep(draw, first + number) for number in range(count)],
        name=draw(names),
        conditions=[condition(name, draw(words)) for name in draw(_CONDITIONS)],
        marks=[equipment(draw(_AT_S), name, draw(words)) for name in draw(_EQUIPMENT)],
        flagged=draw(_FLAGGED),
    )


@st.composite
def entry_lists(draw: st.DrawFn) -> list[EntryOutput]:
    return [
        entry(
            f"e{number}",
            draw(_ENTRY_S),
            draw(words),
            status,
            alternatives=tuple(draw(_THREE_WORDS)),
            slots={"level": draw(_LEVEL)},
            voided=draw(_BOOLEANS),
        )
        for number, status in enumerate(draw(_STATUSES))
    ]


@st.composite
def finding_lists(draw: st.DrawFn) -> list[Finding]:
    return [
        finding(
            "step-big",
            severity,
            draw(words),
            draw(words),
            reps=tuple(draw(_REPS)),
            struck=draw(_BOOLEANS),
            on_doubt=draw(_BOOLEANS),
        )
        for severity in draw(_SEVERITIES)
    ]
