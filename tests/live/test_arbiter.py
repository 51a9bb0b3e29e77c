"""The arbiter in random histories, and its table as docs/live.md has it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicelog.live.arbiter import (
    ANSWER_S,
    BETWEEN_S,
    TALK_IN_REP_S,
    Acknowledged,
    Answering,
    ArbiterAction,
    ArbiterMessage,
    ArbiterState,
    Begin,
    BreakOff,
    Leave,
    Moment,
    Offer,
    Standing,
    Withdraw,
    arbitrate,
)
from voicelog.live.sayings import MANNERS, Manner, Saying, SayingKind

ROOT = Path(__file__).parents[2]
FINDINGS = ("thumb off", "stop", "caution", "remark")
EXEMPT = ("sign tone", "thumb off", "stop")


def saying(kind: SayingKind, key: str, seconds: float = 1.5, group: str | None = None) -> Saying:
    if kind in ("pip", "sign tone", "tick"):
        return Saying(kind, key, seconds=0.1, tone="accepted")
    return Saying(
        kind,
        key,
        f"words of {key}",
        seconds,
        group=group,
        short=f"short {key}",
        short_s=seconds / 2,
    )


@dataclass
class Ear:
    """Plays messages to the arbiter and keeps what came of each, with the moment (s)."""

    state: ArbiterState = field(default_factory=ArbiterState)
    done: list[tuple[float, ArbiterAction]] = field(default_factory=list)
    moment: Moment = field(default_factory=lambda: Moment(0.0))

    def tell(self, message: ArbiterMessage) -> list[ArbiterAction]:
        if isinstance(message, Moment):
            self.moment = message
        self.state, actions = arbitrate(self.state, message)
        self.done += [(self.state.at_s, action) for action in actions]
        return list(actions)

    def waits(self, seconds: float, step_s: float = 0.1, **holds: object) -> list[ArbiterAction]:
        found = []
        for _ in range(round(seconds / step_s)):
            at_s = self.state.at_s + step_s
            found += self.tell(Moment(at_s, **holds))  # type: ignore[arg-type]
        return found


def begun(actions: Sequence[ArbiterAction]) -> list[Hashable]:
    return [action.saying.key for action in actions if isinstance(action, Begin)]


# --- random histories ----------------------------------------------------------------------

POOL = [saying(kind, f"{kind} {n}", 1.0 + n / 2, kind) for kind in FINDINGS for n in range(3)]  # type: ignore[arg-type]
offers = st.builds(
    lambda kind, n, seconds: Offer(saying(kind, f"{kind} {n}", seconds)),
    st.sampled_from(
        ["sign tone", "trouble", "pip", "answer", "news", "question", "reading", "tick"]
    ),
    st.integers(0, 3),
    st.sampled_from([0.5, 1.5, 3.0]),
)
standings = st.lists(st.sampled_from(POOL), max_size=6).map(lambda found: Standing(tuple(found)))
steps = st.one_of(
    offers,
    offers,
    standings,
    st.integers(0, 3).map(lambda n: Withdraw(f"question {n}")),
    st.just(Acknowledged()),
    st.just(Answering()),
    st.tuples(
        st.sampled_from([0.1, 0.4, 1.0, 5.0, 30.0]),
        st.sampled_from([None, None, "r-1", "r-2"]),
        st.booleans(),
        st.sampled_from([False, False, False, True]),
        st.sampled_from([False, False, False, True]),
    ),
)
histories = st.lists(steps, max_size=40)


def check_moment(ear: Ear, actions: Sequence[ArbiterAction], standing: set[Hashable]) -> None:
    """What must hold of what was done in a moment."""
    state, moment = ear.state, ear.moment
    sounds = [one.saying.kind for one in state.sounding]
    for waiting in state.waiting:
        if waiting.saying.kind == "stop":
            assert {"stop", "thumb off"} & set(sounds), "a stop waits for no other thing"
        if waiting.saying.kind == "thumb off":
            assert "thumb off" in sounds
    assert sum(kind not in ("pip", "sign tone", "tick") for kind in sounds) <= 1, "one voice"
    for action in actions:
        if not isinstance(action, Begin):
            continue
        kind = action.saying.kind
        manner = MANNERS[kind]
        assert manner.after_end or not moment.ended
        assert manner.in_rep or moment.rep is None
        assert manner.over_her or not moment.talking
        assert manner.unheard or not moment.unheard
        assert kind not in FINDINGS or action.saying.key in standing


@given(histories)
def test_in_any_history_it_keeps_to_its_table(history: list[object]) -> None:
    ear, standing = Ear(), set[Hashable]()
    questions: Counter[str] = Counter()
    for step in history:
        if isinstance(step, tuple):
            after_s, rep, talking, ended, unheard = step
            message: ArbiterMessage = Moment(ear.state.at_s + after_s, rep, talking, ended, unheard)
        else:
            assert isinstance(step, Offer | Standing | Withdraw | Acknowledged | Answering)
            message = step
        if isinstance(message, Standing):
            standing = {one.key for one in message.sayings}
        before = ear.state
        actions = ear.tell(message)
        assert arbitrate(before, message) == (ear.state, tuple(actions)), "it is pure"
        if isinstance(message, Moment):
            check_moment(ear, actions, standing)
        else:
            assert not begun(actions), "only a moment makes anything begin"
        questions.update(
            "unasked" for one in actions if isinstance(one, Leave) and one.saying.kind == "question"
        )
    assert ear.state.unasked == questions["unasked"]
    ear.waits(30.0, 0.5)
    stops = {key for key in standing if str(key).startswith("stop")}
    assert stops <= ear.state.told.keys(), "never silent on a stop"
    check_budget(ear)


def check_budget(ear: Ear) -> None:
    """In any minute, and in any open rep; what is exempt is not counted."""
    counted = [
        (at_s, action.saying.kind)
        for at_s, action in ear.done
        if isinstance(action, Begin) and MANNERS[action.saying.kind].budget is not None
    ]
    for at_s, kind in counted:
        limit = MANNERS[kind].budget
        assert limit is not None
        sharing = [other for other, one in counted if MANNERS[one].budget == limit]
        assert sum(at_s - 60.0 < other <= at_s for other in sharing) <= limit
    assert ear.state.rep_talk_s <= TALK_IN_REP_S


@given(st.lists(st.sampled_from(["thumb off", "answer", "trouble"]), max_size=4))
def test_an_interrupted_question_is_asked_again_or_counted(kinds: list[SayingKind]) -> None:
    ear = Ear()
    ear.tell(Offer(saying("question", "q")))
    ear.waits(0.2)
    standing: list[Saying] = []
    for number, kind in enumerate(kinds):
        if kind == "thumb off":
            standing.append(saying(kind, f"{kind} {number}"))
            ear.tell(Standing(tuple(standing)))
        else:
            ear.tell(Offer(saying(kind, f"{kind} {number}")))
        ear.waits(0.3)
    ear.waits(20.0, 0.5)
    whole = [
        at_s
        for at_s, one in ear.done
        if isinstance(one, Begin)
        and one.saying.key == "q"
        and not any(at_s <= later < at_s + 1.5 and one == BreakOff("q") for later, one in ear.done)
    ]
    assert len(whole) + ear.state.unasked == 1


LONGEST_VOICE_S = 3.0
"""Of the sayings of these histories."""
HELD_S = 2 * LONGEST_VOICE_S + ANSWER_S + BETWEEN_S
"""The longest wait of a caution behind a question, its answer and what was said before."""
MINUTE_S = 60.0


def play(ear: Ear, history: list[object]) -> None:
    for step in history:
        if isinstance(step, tuple):
            after_s, *holds = step
            ear.tell(Moment(ear.state.at_s + after_s, *holds))
        else:
            assert isinstance(step, Offer | Standing | Withdraw | Acknowledged | Answering)
            ear.tell(step)


@given(histories, st.integers(0, 4), st.sampled_from([0.0, 1.0, 30.0]))
def test_no_warning_that_stands_waits_longer_than_its_bound(
    history: list[object], asked: int, quiet_s: float
) -> None:
    ear = Ear()
    play(ear, history)
    ear.waits(quiet_s, 0.5)
    for number in range(asked):
        ear.tell(Offer(saying("question", f"question {number % 4}", LONGEST_VOICE_S)))
        ear.waits(1.0 if number + 1 < asked else 0.0)
    caution = Saying(
        "caution", "new", "caution", 1.5, rests_on=frozenset({f"question {n}" for n in range(4)})
    )
    stop = saying("stop", "new stop")
    from_s = ear.state.at_s
    ear.tell(Standing((caution, stop)))
    longest_s = HELD_S + 2 * stop.seconds + BETWEEN_S
    first: dict[Hashable, float] = {}
    while len(first) < 2 and ear.state.at_s < from_s + longest_s + MINUTE_S + 5.0:
        for key in begun(ear.waits(0.5, 0.5)):
            if key in (stop.key, caution.key):
                first.setdefault(key, ear.state.at_s - from_s)
    assert first[stop.key] < 0.6, "a stop waits for nothing, when none sounds that still stands"
    spoken = sum(
        from_s - MINUTE_S < at_s <= from_s + longest_s
        and isinstance(one, Begin)
        and MANNERS[one.saying.kind].budget == MANNERS["caution"].budget
        for at_s, one in ear.done
    )
    assert first[caution.key] <= longest_s + (MINUTE_S if spoken >= 6 else 0.0)


# --- one by one ------------------------------------------------------------------------------


def test_thumb_off_breaks_off_a_stop_and_the_stop_is_said_again_whole() -> None:
    ear = Ear()
    stop, thumb = saying("stop", "stop"), saying("thumb off", "thumb")
    ear.tell(Standing((stop,)))
    ear.waits(0.5)
    ear.tell(Standing((stop, thumb)))
    actions = ear.waits(4.0)
    assert actions[:2] == [BreakOff("stop"), Begin(thumb, thumb.words)]
    assert begun(actions) == ["thumb", "stop"]


def test_the_second_saying_of_a_stop_that_was_interrupted_is_made_up_for() -> None:
    ear = Ear()
    stop, thumb = saying("stop", "stop", 1.0), saying("thumb off", "thumb")
    ear.tell(Standing((stop,)))
    ear.waits(4.3)
    assert begun([one for _, one in ear.done]) == ["stop", "stop"]
    ear.tell(Standing((stop, thumb)))
    assert begun(ear.waits(20.0))[:2] == ["thumb", "stop"]


def test_roger_ends_the_stops_that_were_said_and_not_the_one_that_was_not() -> None:
    ear = Ear()
    first, second = saying("stop", "first"), saying("stop", "second")
    ear.tell(Standing((first,)))
    ear.waits(1.0)
    ear.tell(Standing((first, second)))
    ear.tell(Acknowledged())
    assert begun(ear.waits(60.0))[:2] == ["second", "second"]
    ear.tell(Acknowledged())
    assert begun(ear.waits(60.0)) == []


def test_one_more_stop_of_a_rule_is_the_second_saying_of_the_one_before() -> None:
    ear = Ear()
    first, second, third = (saying("stop", f"s-{n}", group="rule") for n in range(3))
    ear.tell(Standing((first,)))
    ear.waits(2.0)
    ear.tell(Standing((first, second)))
    assert begun(ear.waits(3.0)) == ["s-1"]
    ear.tell(Standing((first, second, third)))
    said = [key for key in begun(ear.waits(30.0)) if str(key).startswith("s-")]
    assert said == ["s-2"], "every incident is said, the rule at least twice"


def test_what_is_sure_speaks_for_what_is_not_and_never_the_other_way() -> None:
    ear = Ear()
    sure = saying("stop", "sure", group="rule")
    unsure = replace(saying("stop", "unsure", group="rule"), unsure=True)
    ear.tell(Standing((unsure, sure)))
    assert begun(ear.waits(3.0)) == ["sure"]
    ear = Ear()
    ear.tell(Standing((unsure,)))
    ear.waits(0.5)
    ear.tell(Standing((unsure, sure)))
    assert begun(ear.waits(3.0)) == ["sure"], "and not as if it had been said in doubt"


def test_a_warning_goes_before_a_question_and_leaves_her_time_to_answer_one() -> None:
    ear = Ear()
    ear.tell(Offer(saying("question", "q", 1.0)))
    ear.tell(Standing((saying("caution", "c"),)))
    assert begun(ear.waits(5.0)) == ["c", "q"]
    ear.tell(Standing((saying("caution", "c"), saying("caution", "d"))))
    assert begun(ear.waits(2.0)) == []
    assert begun(ear.waits(4.0)) == ["d"]


def test_advice_is_not_repeated_and_those_that_wait_together_are_said_as_one() -> None:
    ear = Ear()
    one, two, three = (saying("caution", f"c-{n}", group="g") for n in range(3))
    ear.tell(Standing((one, two)))
    assert [a.words for a in ear.waits(30.0) if isinstance(a, Begin)] == ["words of c-0"]
    ear.tell(Standing((one, two, three)))
    assert [a.words for a in ear.waits(30.0) if isinstance(a, Begin)] == ["short c-2"]


def test_advice_that_was_broken_off_is_said_whole_the_next_time() -> None:
    ear = Ear()
    caution, thumb = saying("caution", "c", group="g"), saying("thumb off", "thumb")
    ear.tell(Standing((caution,)))
    ear.waits(0.3)
    ear.tell(Standing((caution, thumb)))
    words = [action.words for action in ear.waits(20.0) if isinstance(action, Begin)]
    assert words == ["words of thumb", "words of c"]


def test_a_caution_on_what_is_asked_about_waits_for_the_answer_or_its_time() -> None:
    ear = Ear()
    caution = Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"}))
    ear.tell(Offer(saying("question", "q", 1.0)))
    ear.tell(Standing((caution,)))
    assert begun(ear.waits(ANSWER_S)) == ["q"]
    assert begun(ear.waits(3.0)) == ["c"]


def test_a_caution_that_waited_for_an_answer_is_still_fresh() -> None:
    ear = Ear()
    for number in range(3):
        ear.tell(Offer(saying("question", f"q-{number}", 0.5)))
        ear.waits(1.0)
    ear.tell(Offer(saying("question", "q", 4.0)))
    ear.tell(Standing((Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"})),)))
    assert begun(ear.waits(ANSWER_S + 3.0)) == ["q"]
    assert begun(ear.waits(2.0)) == ["c"], "four were said in this minute, and two are kept for it"


def test_an_answer_that_is_not_decided_yet_frees_what_rests_on_the_question() -> None:
    ear = Ear()
    ear.tell(Offer(saying("question", "q", 1.0)))
    ear.tell(Standing((Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"})),)))
    assert begun(ear.waits(3.0)) == ["q"]
    ear.tell(Answering())
    assert begun(ear.waits(0.2)) == ["c"]
    assert ear.state.asked is not None, "a sure answer still counts"


def test_the_newest_caution_goes_first_since_it_is_about_what_she_does_now() -> None:
    ear = Ear()
    old = [saying("caution", f"old-{n}") for n in range(2)]
    ear.tell(Standing(tuple(old)))
    assert begun(ear.waits(4.0)) == ["old-0"]
    ear.tell(Standing((*old, saying("caution", "new"))))
    assert begun(ear.waits(20.0)) == ["new", "old-1"]


def test_what_comes_back_leaves_room_to_say_what_is_lost() -> None:
    ear = Ear()
    kinds: list[SayingKind] = []
    for count in range(12):  # a loose plug
        for kind in ("trouble", "news"):
            ear.tell(Offer(saying(kind, f"{kind} {count}", 0.5)))
            kinds += [one.saying.kind for one in ear.waits(0.7) if isinstance(one, Begin)]
        ear.tell(Withdraw(f"news {count}"))
    assert (kinds.count("trouble"), kinds.count("news")) == (8, 4)


def test_words_over_the_budget_wait_for_the_minute_to_pass_and_what_is_exempt_does_not() -> None:
    ear = Ear()
    for number in range(10):
        ear.tell(Offer(saying("question", f"q-{number}", 0.5)))
        ear.waits(3.0)
    asked = [key for key in begun([one for _, one in ear.done]) if str(key).startswith("q-")]
    assert asked == [f"q-{number}" for number in range(4)]
    assert ear.state.unasked == 5, "five gave way to newer ones, the last still waits"
    ear.tell(Standing((saying("caution", "fresh"),)))
    assert begun(ear.waits(2.0)) == ["fresh"], "two of the six are kept for fresh cautions"
    ear.tell(Standing((saying("caution", "fresh"), saying("stop", "s"))))
    assert begun(ear.waits(1.0)) == ["s"]
    assert "q-9" in begun(ear.waits(40.0))


def test_what_is_said_of_the_equipment_takes_nothing_from_the_warnings() -> None:
    ear = Ear()
    for number in range(8):
        ear.tell(Offer(saying("trouble", f"t-{number}", 0.5)))
        ear.waits(1.0)
    ear.tell(Standing((saying("caution", "c"),)))
    assert begun(ear.waits(2.0)) == ["c"]


def test_what_is_lost_is_said_in_a_rep_in_which_much_was_said() -> None:
    ear = Ear()
    ear.waits(0.1, rep="r-1")
    for number in range(3):
        ear.tell(Offer(saying("news", f"n-{number}", TALK_IN_REP_S / 3)))
        assert begun(ear.waits(3.0, rep="r-1")) == [f"n-{number}"]
    ear.tell(Offer(saying("news", "one more")))
    assert begun(ear.waits(3.0, rep="r-1")) == []
    ear.tell(Offer(saying("trouble", "gone")))
    assert begun(ear.waits(0.2, rep="r-1")) == ["gone"]


def test_a_caution_does_not_wait_for_a_question_that_cannot_be_asked() -> None:
    ear = Ear()
    for number in range(4):
        ear.tell(Offer(saying("question", f"q-{number}", 0.5)))
        ear.waits(1.0)
    ear.tell(Offer(saying("question", "q")))
    ear.tell(Standing((Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"})),)))
    assert begun(ear.waits(3.0)) == ["c"]


def test_a_newer_question_takes_the_place_of_one_that_waits_and_that_is_counted() -> None:
    ear = Ear()
    ear.tell(Offer(saying("question", "q")))
    ear.tell(Offer(saying("question", "r")))
    assert ear.state.unasked == 1
    assert begun(ear.waits(5.0)) == ["r"]


@pytest.mark.parametrize("kind", ["question", "caution", "reading", "tick"])
def test_what_came_too_late_is_left(kind: SayingKind) -> None:
    ear = Ear()
    ear.tell(Standing((saying(kind, "x"),)) if kind in FINDINGS else Offer(saying(kind, "x")))
    ear.waits(130.0, talking=True, rep="r")
    assert kind == "tick" or begun(ear.waits(20.0)) == []


# --- the table -------------------------------------------------------------------------------


def row(kind: SayingKind, manner: Manner) -> str:
    """A line of the table in docs/live.md."""
    said = [name for name in MANNERS if name in manner.interrupts]
    yes = ("yes" if holds else "no" for holds in (manner.in_rep, manner.over_her, manner.after_end))
    budget = "exempt" if manner.budget is None else f"under {manner.budget} a minute"
    stale = "never" if manner.stale_s is None else f"after {manner.stale_s:.0f} s"
    stale = "at once" if kind == "tick" else stale
    again = "said again" if manner.again else "left"
    cells = (kind, ", ".join(said) or "nothing", *yes, budget, stale, again)
    return f"| {' | '.join(cells)} |"


def test_the_manual_has_the_table() -> None:
    manual = (ROOT / "docs" / "live.md").read_text(encoding="utf-8")
    rows = [row(kind, manner) for kind, manner in MANNERS.items()]
    assert [manner.rank for manner in MANNERS.values()] == list(range(len(MANNERS)))
    assert [line for line in manual.splitlines() if line.split(" | ")[0][2:] in MANNERS] == rows
