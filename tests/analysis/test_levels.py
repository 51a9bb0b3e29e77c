"""The three levels and the ceiling, and a sentence where there is no number."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.analysis.dogs import UNIT, Dog, Sign, rep, session_digest, tap
from voicelog.analysis import levels
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.levels import Ceiling, LevelSeries, ceiling, level_series
from voicelog.analysis.session_digest import RepDigest, SessionDigest
from voicelog.analysis.session_scope import scope_of
from voicelog.analysis.statistics.logistic_curve import LogisticCurve
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model import Transmitter
from voicelog.model.dial import step_down
from voicelog.report.wording.levels import ceiling_words
from voicelog.report.wording.statistics import unknown_words

RULES = Criteria()


def ladder(number: int, levels: Sequence[int], came: bool = True, **more: Any) -> RepDigest:
    whole = {"mode": "continuous", "outcome": "complied" if came else "ignored"} | more
    return rep(number, levels=levels, **whole)


def whole(session_digests: Sequence[SessionDigest]) -> list[LevelSeries]:
    return [one for one in level_series(scope_of(session_digests), RULES) if one.handler is None]


def test_drills_modes_and_distractions_stand_apart() -> None:
    reps = [
        ladder(1, [2]),
        ladder(2, [2], drill="stop"),
        ladder(3, [2], mode="momentary"),
        ladder(4, [2], distraction="low"),
        ladder(5, [2], distraction=None),
        tap(6, 2, True),
    ]
    found = whole([session_digest(reps)])
    assert [(one.drill, one.mode, one.distraction, one.of) for one in found] == [
        ("recall", "continuous", "none", 1),
        ("recall", "continuous", "low", 1),
        ("recall", "continuous", None, 1),
        ("recall", "momentary", "none", 1),
        ("stop", "continuous", "none", 1),
        ("find level", "momentary", "none", 1),
    ]


def test_handlers_are_pooled_and_each_stands_alone_too() -> None:
    reps = [ladder(n, [2], handler="anna" if n % 3 else "joe") for n in range(1, 10)]
    found = level_series(scope_of([session_digest(reps)]), RULES)
    assert [(one.handler, one.of) for one in found] == [(None, 9), ("anna", 6), ("joe", 3)]
    assert found[0].handlers == ("anna", "joe")


def test_doubtful_and_void_reps_are_left_out_and_counted() -> None:
    reps = [ladder(1, [2]), ladder(2, [3], state="check"), ladder(3, [4], state="void")]
    (one,) = whole([session_digest(reps)])
    assert (one.of, one.doubtful, one.void) == (1, 1, 1)
    assert one.reps == ("s0.1",)


def test_a_rep_tapped_and_held_is_in_no_curve_and_counted() -> None:
    reps = [ladder(1, [2]), ladder(2, [5, 3], mixed=True), ladder(3, [4], mode="momentary")]
    held, taps = whole([session_digest(reps)])
    assert [(at.level, at.of) for at in held.at] == [(2, 1)]
    assert (held.of, held.mixed, taps.of, taps.mixed) == (1, 1, 1, 0)


def test_the_curve_of_strong_signs_under_a_ceiling_is_of_one_mode() -> None:
    """Held presses never hurt, and every second tap did from 5 on: those tell nothing of taps."""
    held = [ladder(n, [1 + n % 9]) for n in range(1, 40)]
    taps = [
        ladder(100 + n, [level], mode="momentary", signs=_hurt(level) if n // 8 % 2 else [])
        for n, level in enumerate([2, 3, 4, 5, 6, 7, 8, 9] * 5)
    ]
    alone = ceiling(scope_of([session_digest(taps)]), RULES)
    both = ceiling(scope_of([session_digest([*held, *taps])]), RULES)
    assert (both.level, both.curve) == (alone.level, alone.curve) == (1, 1)


def _hurt(level: int) -> list[Sign]:
    return [("yelped", "strong", level)] if level >= 5 else []


def test_levels_of_another_transmitter_are_never_pooled() -> None:
    old = session_digest(
        [ladder(n, [40]) for n in range(1, 20)], 0, transmitter=Transmitter(top=100)
    )
    (one,) = whole([old, session_digest([ladder(1, [2])], 1)])
    assert [at.level for at in one.at] == [2]


def test_every_number_names_its_reps() -> None:
    for one in level_series(scope_of(Dog(2).sessions(12)), RULES):
        assert sum(at.of for at in one.at) == one.of == len(one.reps)
        assert one.answered is not None
        if isinstance(one.answered.curve, LogisticCurve):
            assert len(one.answered.reps) == one.answered.curve.of


@pytest.mark.parametrize(
    ("reps", "words"),
    [
        ([ladder(1, [2])], "Too few reps yet: 1 rep"),
        ([ladder(n, [2]) for n in range(1, 7)], "Too few reps yet: 6 reps"),
        ([ladder(n, [2]) for n in range(1, 16)], "All 15 reps"),
        ([ladder(n, [1 + n % 5], came=False) for n in range(1, 16)], "None of 15 reps"),
        ([ladder(n, [2, 2], came=n % 2 == 0) for n in range(1, 16)], "level 2"),
    ],
)
def test_too_little_gives_a_sentence(reps: list[RepDigest], words: str) -> None:
    (one,) = whole([session_digest(reps)])
    assert one.answered is not None
    assert isinstance(one.answered.curve, Unknown)
    assert words in unknown_words(one.answered.curve)


def test_no_rep_with_a_level_gives_no_series() -> None:
    assert level_series(scope_of([]), RULES) == ()
    assert level_series(scope_of([session_digest([rep()])]), RULES) == ()


def test_rising_taps_are_one_walk_until_the_dog_shows_something() -> None:
    taps: list[RepDigest] = []
    for _ in range(12):
        for level in (1, 2, 3):
            taps.append(tap(len(taps) + 1, level, level == 3))
    (one,) = whole([session_digest(taps)])
    assert one.answered is None
    assert isinstance(one.noticed.curve, LogisticCurve)
    assert one.noticed.curve.of == 12
    assert len(one.noticed.reps) == 36
    assert [(at.level, at.answered, at.of) for at in one.at] == [
        (1, 0, 12),
        (2, 0, 12),
        (3, 12, 12),
    ]


def test_a_known_dog_answers_near_its_level() -> None:
    dog = Dog(4, answers=5.0, willing=0.2, learns=0.0)
    session_digests = [one for one in dog.sessions(40) if one.reps[0].distraction == "none"]
    (one, *_) = whole(session_digests)
    assert one.answered is not None
    assert isinstance(one.answered.curve, LogisticCurve)
    half = one.answered.curve.levels[0]
    assert half.value is not None
    assert abs(half.value - 4.2) < 1.5  # met a step at a time, a dog answers below its level


# --- the ceiling -----------------------------------------------------------------------


def strong(number: int, level: int, **more: Any) -> RepDigest:
    sign: Sign = ("yelped", "strong", level)
    return rep(number, "continuous", [level], "complied", [sign], **more)


def test_the_ceiling_is_as_far_under_the_lowest_strong_sign_as_the_next_press_has_to_be() -> None:
    found = ceiling(scope_of([session_digest([strong(1, 6), strong(2, 5)])]), RULES)
    assert found.level == 3
    assert ceiling_words(found) == (
        "2 steps under level 5, the lowest with a strong sign (yelped, 1 Mar 2031)."
    )
    assert found.strong is not None
    assert found.strong.reps == ("s0.2",)


def test_a_step_is_the_transmitters() -> None:
    def at(level: int, unit: Transmitter) -> Ceiling:
        return ceiling(scope_of([session_digest([strong(1, level)], transmitter=unit)]), RULES)

    assert at(30, Transmitter(top=100)).level == 20
    assert at(30, Transmitter()).level == 20
    assert at(70, Transmitter()).level == 56
    assert at(4, Transmitter()).none_left
    assert "no stimulation; work without the button" in ceiling_words(at(4, Transmitter()))


def test_a_strong_sign_at_a_level_that_the_collar_lacks_leaves_no_level() -> None:
    reps = [strong(1, 7), strong(2, 22), ladder(3, [3]), ladder(4, [3])]
    found = ceiling(scope_of([session_digest(reps)]), RULES, profile=5)
    assert (found.level, found.none_left, found.top) == (None, True, 20)
    assert ceiling_words(found) == (
        "A strong sign is noted at level 22 (yelped, 1 Mar 2031), and the collar goes to 20: at "
        "which level it came is not known, so no stimulation; work without the button, and correct "
        "that entry."
    )
    unsure = ceiling(scope_of([session_digest([strong(1, 22, state="check")])]), RULES)
    assert unsure.none_left
    assert "to check" in ceiling_words(unsure)
    put_right = ceiling(scope_of([session_digest([reps[0], strong(2, 12), *reps[2:]])]), RULES)
    assert (put_right.level, put_right.top) == (5, None)


def test_a_level_that_the_collar_lacks_and_no_strong_sign_sets_no_ceiling() -> None:
    found = ceiling(scope_of([session_digest([strong(1, 7), ladder(2, [25])])]), RULES)
    assert (found.level, found.none_left) == (5, False)


def test_a_strong_sign_counts_at_any_drill_and_time_and_even_in_doubt() -> None:
    old = session_digest([strong(1, 4, drill="gun", state="check")], 0)
    session_digests = [old, *(session_digest([ladder(1, [8])], day) for day in range(1, 60))]
    found = ceiling(scope_of(session_digests), RULES)
    assert found.level == 2
    assert found.strong is not None
    assert not found.strong.sure
    assert "to check" in ceiling_words(found)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["momentary", "continuous"]),
            st.integers(1, 8),
            st.integers(1, 20).map(lambda one: one == 1),
        ),
        min_size=1,
        max_size=120,
    ),
    st.sampled_from([0.01, 0.05, 0.2]),
)
def test_a_curve_that_is_not_fitted_would_not_have_lowered_the_ceiling(
    presses: list[tuple[str, int, bool]], chance: float
) -> None:
    reps = [
        rep(number, mode, (level,), signs=[("yelped", "strong", level)] if strong else [])
        for number, (mode, level, strong) in enumerate(presses)
    ]
    scope, rules = scope_of([session_digest(reps)]), Criteria(strong_chance=chance)
    found = ceiling(scope, rules)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(levels, "_may_be_under", lambda counts, chance, under: True)
        assert found == ceiling(scope, rules)


def test_most_curves_need_no_fit_and_one_that_lowers_the_ceiling_has_it() -> None:
    rare = Counter({(level, False): 20 for level in range(1, 7)} | {(6, True): 1})
    assert not levels._may_be_under(rare, 0.05, 5)
    assert not levels._may_be_under(Counter({(3, False): 9, (3, True): 9}), 0.05, 2)
    often = Counter({(1, False): 20, (4, False): 10, (5, True): 12})
    assert levels._may_be_under(often, 0.05, 4)
    assert levels._mode_ceiling(often, 0.05) is not None


def test_a_void_rep_sets_no_ceiling() -> None:
    assert ceiling(scope_of([session_digest([strong(1, 3, state="void")])]), RULES).level is None


def test_a_strong_sign_without_a_level_counts_at_the_reps_highest() -> None:
    one = rep(1, "continuous", [2, 4], "complied", [("cowered", "strong", None)])
    assert ceiling(scope_of([session_digest([one])]), RULES).level == 2


def test_a_strong_sign_to_vibrate_sets_no_level() -> None:
    one = rep(1, "vibrate", [], "complied", [("cowered", "strong", None)])
    assert ceiling(scope_of([session_digest([one])]), RULES).level is None


def test_no_level_is_left_under_the_lowest() -> None:
    found = ceiling(scope_of([session_digest([strong(1, UNIT.lowest)])]), RULES)
    assert found.level is None
    assert found.none_left
    assert ceiling_words(found).endswith("work without the button.")


def test_the_profile_may_be_lower() -> None:
    scope = scope_of([session_digest([strong(1, 6)])])
    assert ceiling(scope, RULES, 3).level == 3
    assert ceiling(scope, RULES, 9).level == 4
    assert ceiling(scope_of([]), RULES, 3).level == 3


def test_a_curve_lowers_the_ceiling_where_strong_signs_grow_with_the_level() -> None:
    reps = [ladder(n, [1 + n % 8]) for n in range(80)]
    reps += [strong(80 + n, 6 + n % 3) for n in range(18)]
    found = ceiling(scope_of([session_digest(reps)]), RULES)
    assert found.lowered == 4
    assert found.level is not None
    assert found.level < 4
    assert "lowers it" in ceiling_words(found)


@given(st.integers(0, 200), st.floats(4.0, 12.0))
@settings(max_examples=25, deadline=None)
def test_a_curve_never_raises_the_ceiling(seed: int, stress: float) -> None:
    scope = scope_of(Dog(seed, stress=stress, willing=0.2).sessions(8))
    found = ceiling(scope, RULES)
    if found.strong is not None:
        assert found.none_left or found.level is not None
        assert found.level is None or found.level <= found.strong.level - 2 * step_down(
            UNIT, found.strong.level
        )


@given(
    st.none() | st.integers(1, 999),
    st.none() | st.integers(1, 60),
    st.lists(st.integers(1, 999), min_size=1, max_size=4),
)
@settings(max_examples=100, deadline=None)
def test_no_ceiling_is_higher_than_when_a_step_was_one_size(
    top: int | None, step: int | None, levels: list[int]
) -> None:
    unit = Transmitter(top=top, step=step)
    was = step or (1 if (top or 100) <= 20 else max(1, round((top or 100) / 20)))
    reps = [strong(number, level) for number, level in enumerate(levels, 1)]
    found = ceiling(scope_of([session_digest(reps, transmitter=unit)]), RULES)
    assert found.none_left or found.level is not None
    assert found.level is None or unit.lowest <= found.level <= min(levels) - 2 * was
    assert not found.none_left or "no stimulation" in ceiling_words(found)
