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
    BETWEEN_S,
    TALK_IN_REP_S,
    TO_ANSWER_S,
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
    StandingChange,
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
    standing: dict[Hashable, Saying] = field(default_factory=dict)
    last: ArbiterMessage = field(default_factory=lambda: Moment(0.0))

    def stand(self, *sayings: Saying, whole: bool = False) -> list[ArbiterAction]:
        """These stand now, and no others; `whole`: it is told of all, changed or not."""
        now: dict[Hashable, Saying] = {}
        for one in sayings:
            known = now.setdefault(one.key, one)
            if MANNERS[one.kind].rank < MANNERS[known.kind].rank:
                now[one.key] = one
        gone = tuple(key for key in self.standing if key not in now)
        changed = [one for key, one in now.items() if whole or one != self.standing.get(key)]
        self.standing = now
        return self.tell(StandingChange(tuple(changed), gone))

    def tell(self, message: ArbiterMessage) -> list[ArbiterAction]:
        if isinstance(message, Moment):
            self.moment = message
        self.last = message
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
SAME_KEYS = [replace(one, key=str(one.key)[-1], words=one.words[-3:]) for one in POOL]
"""What is said of one thing may change: a caution becomes a stop, and "thumb off"."""
standings = st.lists(st.sampled_from([*POOL, *SAME_KEYS]), max_size=6)
"""Findings that stand, and no others."""
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


def take(ear: Ear, step: object, *, whole: bool = False) -> list[ArbiterAction]:
    """Tell of one step of a history."""
    if isinstance(step, tuple):
        after_s, *holds = step
        return ear.tell(Moment(ear.state.at_s + after_s, *holds))
    if isinstance(step, list):
        return ear.stand(*step, whole=whole)
    assert isinstance(step, Offer | Withdraw | Acknowledged | Answering)
    return ear.tell(step)


@given(histories)
def test_told_what_is_other_it_does_as_when_told_all(history: list[object]) -> None:
    by_change, whole = Ear(), Ear()
    for step in history:
        assert take(by_change, step) == take(whole, step, whole=True)
        assert by_change.state == whole.state
    assert by_change.state.standing == by_change.standing.keys()


def check_moment(ear: Ear, actions: Sequence[ArbiterAction]) -> None:
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
        assert kind not in FINDINGS or action.saying.key in ear.standing


@given(histories)
def test_in_any_history_it_keeps_to_its_table(history: list[object]) -> None:
    ear = Ear()
    questions: Counter[str] = Counter()
    for step in history:
        before = ear.state
        actions = take(ear, step)
        assert arbitrate(before, ear.last) == (ear.state, tuple(actions)), "it is pure"
        if isinstance(ear.last, Moment):
            check_moment(ear, actions)
        else:
            assert not begun(actions), "only a moment makes anything begin"
        questions.update(
            "unasked" for one in actions if isinstance(one, Leave) and one.saying.kind == "question"
        )
    assert ear.state.unasked == questions["unasked"]
    ear.waits(30.0, 0.5)
    stops = {key for key, one in ear.standing.items() if one.kind == "stop"}
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
            ear.stand(*standing)
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
HELD_S = 2 * LONGEST_VOICE_S + TO_ANSWER_S + BETWEEN_S
"""The longest wait of a caution behind a question, its answer and what was said before."""
MINUTE_S = 60.0


@given(histories, st.integers(0, 4), st.sampled_from([0.0, 1.0, 30.0]))
def test_no_warning_that_stands_waits_longer_than_its_bound(
    history: list[object], asked: int, quiet_s: float
) -> None:
    ear = Ear()
    for step in history:
        take(ear, step)
    ear.waits(quiet_s, 0.5)
    for number in range(asked):
        ear.tell(Offer(saying("question", f"question {number % 4}", LONGEST_VOICE_S)))
        ear.waits(1.0 if number + 1 < asked else 0.0)
    caution = Saying(
        "caution", "new", "caution", 1.5, rests_on=frozenset({f"question {n}" for n in range(4)})
    )
    stop = saying("stop", "new stop")
    from_s = ear.state.at_s
    ear.stand(caution, stop)
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
    ear.stand(stop)
    ear.waits(0.5)
    ear.stand(stop, thumb)
    actions = ear.waits(4.0)
    assert actions[:2] == [BreakOff("stop"), Begin(thumb, thumb.words)]
    assert begun(actions) == ["thumb", "stop"]


def test_the_second_saying_of_a_stop_that_was_interrupted_is_made_up_for() -> None:
    ear = Ear()
    stop, thumb = saying("stop", "stop", 1.0), saying("thumb off", "thumb")
    ear.stand(stop)
    ear.waits(4.3)
    assert begun([one for _, one in ear.done]) == ["stop", "stop"]
    ear.stand(stop, thumb)
    assert begun(ear.waits(20.0))[:2] == ["thumb", "stop"]


def test_roger_ends_the_stops_that_were_said_and_not_the_one_that_was_not() -> None:
    ear = Ear()
    first, second = saying("stop", "first"), saying("stop", "second")
    ear.stand(first)
    ear.waits(1.0)
    ear.stand(first, second)
    ear.tell(Acknowledged())
    assert begun(ear.waits(60.0))[:2] == ["second", "second"]
    ear.tell(Acknowledged())
    assert begun(ear.waits(60.0)) == []


def test_one_more_stop_of_a_rule_is_the_second_saying_of_the_one_before() -> None:
    ear = Ear()
    first, second, third = (saying("stop", f"s-{n}", group="rule") for n in range(3))
    ear.stand(first)
    ear.waits(2.0)
    ear.stand(first, second)
    assert begun(ear.waits(3.0)) == ["s-1"]
    ear.stand(first, second, third)
    said = [key for key in begun(ear.waits(30.0)) if str(key).startswith("s-")]
    assert said == ["s-2"], "every incident is said, the rule at least twice"


def test_what_is_sure_speaks_for_what_is_not_and_never_the_other_way() -> None:
    ear = Ear()
    sure = saying("stop", "sure", group="rule")
    unsure = replace(saying("stop", "unsure", group="rule"), unsure=True)
    ear.stand(unsure, sure)
    assert begun(ear.waits(3.0)) == ["sure"]
    ear = Ear()
    ear.stand(unsure)
    ear.waits(0.5)
    ear.stand(unsure, sure)
    assert begun(ear.waits(3.0)) == ["sure"], "and not as if it had been said in doubt"


def test_a_warning_goes_before_a_question_and_leaves_her_time_to_answer_one() -> None:
    ear = Ear()
    ear.tell(Offer(saying("question", "q", 1.0)))
    ear.stand(saying("caution", "c"))
    assert begun(ear.waits(5.0)) == ["c", "q"]
    ear.stand(saying("caution", "c"), saying("caution", "d"))
    assert begun(ear.waits(2.0)) == []
    assert begun(ear.waits(4.0)) == ["d"]


def test_advice_is_not_repeated_and_those_that_wait_together_are_said_as_one() -> None:
    ear = Ear()
    one, two, three = (saying("caution", f"c-{n}", group="g") for n in range(3))
    ear.stand(one, two)
    assert [a.words for a in ear.waits(30.0) if isinstance(a, Begin)] == ["words of c-0"]
    ear.stand(one, two, three)
    assert [a.words for a in ear.waits(30.0) if isinstance(a, Begin)] == ["short c-2"]


def test_advice_that_was_broken_off_is_said_whole_the_next_time() -> None:
    ear = Ear()
    caution, thumb = saying("caution", "c", group="g"), saying("thumb off", "thumb")
    ear.stand(caution)
    ear.waits(0.3)
    ear.stand(caution, thumb)
    words = [action.words for action in ear.waits(20.0) if isinstance(action, Begin)]
    assert words == ["words of thumb", "words of c"]


def test_a_caution_on_what_is_asked_about_waits_for_the_answer_or_its_time() -> None:
    ear = Ear()
    caution = Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"}))
    ear.tell(Offer(saying("question", "q", 1.0)))
    ear.stand(caution)
    assert begun(ear.waits(1.0 + TO_ANSWER_S)) == ["q"]
    assert begun(ear.waits(0.4)) == ["c"]
    assert ear.state.asked is not None, "an answer still counts"


def test_a_caution_that_waited_for_an_answer_is_still_fresh() -> None:
    ear = Ear()
    for number in range(3):
        ear.tell(Offer(saying("question", f"q-{number}", 0.5)))
        ear.waits(1.0)
    ear.tell(Offer(saying("question", "q", 4.0)))
    ear.stand(Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"})))
    assert begun(ear.waits(4.0 + TO_ANSWER_S)) == ["q"]
    assert begun(ear.waits(0.4)) == ["c"], "four were said in this minute, and two are kept for it"


def test_an_answer_that_is_not_decided_yet_frees_what_rests_on_the_question() -> None:
    ear = Ear()
    ear.tell(Offer(saying("question", "q", 1.0)))
    ear.stand(Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"})))
    assert begun(ear.waits(3.0)) == ["q"]
    ear.tell(Answering())
    assert begun(ear.waits(0.2)) == ["c"]
    assert ear.state.asked is not None, "a sure answer still counts"


def test_the_newest_caution_goes_first_since_it_is_about_what_she_does_now() -> None:
    ear = Ear()
    old = [saying("caution", f"old-{n}") for n in range(2)]
    ear.stand(*old)
    assert begun(ear.waits(4.0)) == ["old-0"]
    ear.stand(*old, saying("caution", "new"))
    assert begun(ear.waits(20.0)) == ["new", "old-1"]


def test_a_caution_on_what_happened_since_does_not_wait_for_the_time_between_two() -> None:
    ear = Ear()
    old = [saying("caution", f"old-{n}") for n in range(2)]
    ear.stand(*old)
    assert begun(ear.waits(2.0)) == ["old-0"]
    ear.stand(*old, saying("caution", "new"))
    assert begun(ear.waits(0.2)) == ["new"]
    assert begun(ear.waits(BETWEEN_S - 0.4)) == [], "the other waited already"
    assert begun(ear.waits(0.4)) == ["old-1"]


def test_a_caution_while_the_second_saying_of_a_stop_sounds_follows_it() -> None:
    ear = Ear()
    stop = saying("stop", "s")
    ear.stand(stop)
    assert begun(ear.waits(4.2)) == ["s", "s"]
    ear.stand(stop, saying("caution", "new"))
    assert begun(ear.waits(2.0)) == ["new"]


def test_of_cautions_on_one_rep_what_was_not_told_yet_goes_first() -> None:
    ear = Ear()
    told, again = (saying("caution", f"told-{n}", group="told") for n in range(2))
    ear.stand(told)
    ear.waits(20.0)
    first = saying("caution", "first", group="first")
    ear.stand(told, first)  # heard
    ear.waits(0.1, talking=True)
    ear.stand(told, first, again)  # decided
    assert begun(ear.waits(20.0)) == ["first", "told-1"]


def test_a_caution_on_this_rep_goes_before_one_on_the_whole_session() -> None:
    ear = Ear()
    general = Saying("caution", "no warm-up", "no warm-up", 1.0, general=True)
    ear.stand(general, saying("caution", "test failed"))
    assert begun(ear.waits(20.0)) == ["test failed", "no warm-up"]


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
    ear.stand(saying("caution", "fresh"))
    assert begun(ear.waits(2.0)) == ["fresh"], "two of the six are kept for fresh cautions"
    ear.stand(saying("caution", "fresh"), saying("stop", "s"))
    assert begun(ear.waits(1.0)) == ["s"]
    assert "q-9" in begun(ear.waits(40.0))


def test_what_is_said_of_the_equipment_takes_nothing_from_the_warnings() -> None:
    ear = Ear()
    for number in range(8):
        ear.tell(Offer(saying("trouble", f"t-{number}", 0.5)))
        ear.waits(1.0)
    ear.stand(saying("caution", "c"))
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
    ear.stand(Saying("caution", "c", "caution", 1.0, rests_on=frozenset({"q"})))
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
    one = saying(kind, "x")
    ear.tell(StandingChange((one,)) if kind in FINDINGS else Offer(one))
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
