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


@st.composite
def reps(draw: st.DrawFn, number: int) -> Rep:
    mode = draw(st.sampled_from(MODES))
    leveled = mode in ("momentary", "continuous")
    top = draw(st.sampled_from((9, 127)))
    levels = draw(st.lists(st.integers(0, top), max_size=4)) if leveled else []
    return rep(
        number,
        mode,
        levels,
        draw(st.sampled_from(OUTCOMES)),
        signs=draw(st.lists(st.sampled_from(SIGNS), max_size=2)),
        drill=draw(st.sampled_from(DRILLS)),
        cue=draw(st.none() | words),
        cues=draw(st.integers(0, 4)),
        latency_s=draw(st.none() | st.floats(0, 99)),
        rewards=tuple(draw(st.lists(words, max_size=2))),
        doubtful=draw(st.booleans()),
        void=draw(st.booleans()),
    )


@st.composite
def sessions(draw: st.DrawFn, most: int = 30) -> Session:
    first = draw(st.sampled_from((1, 95)))
    count = draw(st.integers(0, most))
    return session(
        [draw(reps(first + number)) for number in range(count)],
        name=draw(names),
        conditions=[
            condition(name, draw(words))
            for name in draw(st.lists(st.sampled_from(("drill", "handler", "location"))))
        ],
        marks=[
            equipment(draw(st.floats(0, 500)), name, draw(words))
            for name in draw(st.lists(st.sampled_from(("collar", "fit", "skin", "line"))))
        ],
        flagged=draw(st.sampled_from(((), ("e0",)))),
    )


@st.composite
def entry_lists(draw: st.DrawFn) -> list[EntryOutput]:
    statuses = draw(st.lists(st.sampled_from(("accepted", "doubtful", "rejected")), max_size=5))
    return [
        entry(
            f"e{number}",
            draw(st.floats(0, 9999)),
            draw(words),
            status,
            alternatives=tuple(draw(st.lists(words, max_size=3))),
            slots={"level": draw(st.integers(0, 9) | words)},
            voided=draw(st.booleans()),
        )
        for number, status in enumerate(statuses)
    ]


@st.composite
def finding_lists(draw: st.DrawFn) -> list[Finding]:
    return [
        finding(
            "step-big",
            severity,
            draw(words),
            draw(words),
            reps=tuple(draw(st.lists(st.integers(1, 200), max_size=30))),
            struck=draw(st.booleans()),
            on_doubt=draw(st.booleans()),
        )
        for severity in draw(st.lists(st.sampled_from(("remark", "caution", "stop")), max_size=3))
    ]
