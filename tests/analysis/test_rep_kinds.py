"""What a kind says of its reps is what each of them says, and what is found by kinds is found."""

from __future__ import annotations

import random

from tests.analysis.dogs import rep, session_digest
from voicelog.analysis.rep_kinds import RepKind
from voicelog.analysis.session_digest import RepDigest
from voicelog.analysis.session_scope import (
    has_call_and_outcome,
    last_sessions_with,
    reps_that,
    scope_of,
)
from voicelog.analysis.unaided import (
    came_at_once,
    kept_still,
    stimulated,
    surely_unaided,
    was_asked,
)

DRILLS = ("recall", "steady", "bird", None)


def any_rep(chance: random.Random, number: int) -> RepDigest:
    """A rep of any kind; what no kind tells differs in every one."""
    return rep(
        number,
        chance.choice(("none", "vibrate", "tone", "momentary", "continuous", "unknown")),
        chance.choice(((), (), (3,), (3, 4))),
        chance.choice(
            ("complied", "slow", "partial", "ignored", "broke", "helped", "unknown", None)
        ),
        [("yelped", "strong", 3)] if chance.random() < 0.2 else [],
        state=chance.choice(("sure", "sure", "check", "void")),
        drill=chance.choice(DRILLS),
        distraction=chance.choice(("none", "low", None)),
        source=chance.choice(("birds", None)),
        line=chance.choice(("trailing", None)),
        cues=chance.choice((0, 1, 2)),
        location=chance.choice(("yard", "field")),
        rewards=chance.choice(((), ("food",))),
    )


def told(one: RepDigest) -> tuple[object, ...]:
    """What a kind tells, worked out for one rep."""
    return (
        *(one.state, one.drill, one.mode, one.distraction, one.source, one.line, one.outcome),
        has_call_and_outcome(one, one.drill),
        *(was_asked(one), stimulated(one), surely_unaided(one)),
        *(came_at_once(one), kept_still(one)),
    )


def of_kind(kind: RepKind) -> tuple[object, ...]:
    return (
        *(kind.state, kind.drill, kind.mode, kind.distraction, kind.source, kind.line),
        *(kind.outcome, kind.asked, kind.was_asked, kind.stimulated),
        *(kind.surely_unaided, kind.came_at_once, kind.kept_still),
    )


def test_a_kind_says_what_each_of_its_reps_says_and_finds_the_same_sessions() -> None:
    chance = random.Random(16)
    sessions = [
        session_digest([any_rep(chance, n) for n in range(1, chance.choice((1, 3, 40)))], day)
        for day in range(60)
    ]
    scope = scope_of(sessions)
    assert len(scope.kinds_that(lambda kind: True)) < sum(len(one.reps) for one in sessions)
    for one, kinds in zip(scope.session_digests, scope.kinds, strict=True):
        assert [of_kind(kind) for kind in kinds] == [told(each) for each in one.reps]
        for kind, each in zip(kinds, one.reps, strict=True):
            for drill in DRILLS:
                read = each.state != "void" and each.drill == drill and was_asked(each)
                assert kind.read_for(drill) == read
    for drill in DRILLS:
        wanted = scope.asked_for(drill)
        assert wanted == scope.kinds_that(
            lambda kind, drill=drill: kind.asked and kind.drill == drill  # type: ignore[misc]
        )
        assert scope.read_for(drill) == scope.kinds_that(
            lambda kind, drill=drill: kind.read_for(drill)  # type: ignore[misc]
        )
        for most in (1, 4, 100):
            found = last_sessions_with(
                scope.session_digests,
                lambda each, drill=drill: has_call_and_outcome(each, drill),  # type: ignore[misc]
                most,
            )
            places = scope.last_with(wanted, most)
            assert tuple(scope.session_digests[place] for place in places) == found
            reps = [each for place in places for each in scope.reps_in(place, wanted)]
            assert reps == reps_that(
                found,
                lambda each, drill=drill: has_call_and_outcome(each, drill),  # type: ignore[misc]
            )
    assert scope.last_with(frozenset(), 4) == ()
