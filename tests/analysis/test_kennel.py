"""The kennel: who is due, stuck, stressed; handlers beside each other; no verdict on few pups."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from tests.analysis.dogs import UNIT, Sign, good, rep, session_digest, stopped
from tests.known import known
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.kennel import Kennel, kennel
from voicelog.analysis.plan import Plan, plan_of
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.session_scope import SessionScope
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.model import Dog as Profile
from voicelog.report import kennel_paper, paper_text
from voicelog.report.wording.reasons import litter_words, reason_words
from voicelog.safety.settings import Settings

TODAY = date(2031, 3, 20)


def look(**dogs: list[SessionDigest]) -> Kennel:
    roster = [Profile(name=name, transmitter=UNIT) for name in dogs]
    return kennel(dogs, roster, {"": Criteria()}, TODAY)


def test_due_and_worked_today_go_by_the_calendar() -> None:
    found = {
        line.dog: line for line in look(Juno=[good(19)], Wren=[good(15)], Rook=[good(16)]).dogs
    }
    assert (found["Juno"].today, found["Juno"].due, found["Juno"].days_since) == (True, False, 0)
    assert (found["Wren"].due, found["Wren"].days_since) == (True, 4)
    assert found["Rook"].due is False


def test_a_dog_without_sessions_or_dates_is_due() -> None:
    found = {
        line.dog: line for line in look(Juno=[], Wren=[session_digest([rep()], began=None)]).dogs
    }
    assert found["Juno"].due
    assert (found["Juno"].last, found["Juno"].sessions) == (None, 0)
    assert found["Wren"].due


def test_a_dog_is_stuck_after_fifteen_sessions_and_the_reps_are_named() -> None:
    slow = [good(day, came=6) for day in range(15)]
    (line,) = look(Juno=slow).dogs
    assert line.stuck is not None
    assert reason_words(line.stuck).startswith(
        "15 sessions at distraction none and not ready for distraction low; missing: "
    )
    assert len(line.stuck.reps) == 150
    assert look(Juno=slow[1:]).dogs[0].stuck is None
    assert look(Juno=[good(day) for day in range(15)]).dogs[0].stuck is None


def test_stress_that_no_open_matter_names_is_told_beside_it() -> None:
    yelp = rep(1, "continuous", [4], "complied", [("yelped", "strong", 4)])
    weak: list[Sign] = [("lip lick", "weak", None), ("shake off", "weak", None)]
    licks = rep(2, signs=weak, stress=True)
    hurt = session_digest([yelp, licks], 19, stops=("stress-twice",))
    told = [reason_words(reason) for reason in look(Wren=[hurt]).dogs[0].see]
    assert told[1:] == ["Stress on 20 Mar 2031: lip lick, shake off."]


def test_what_went_against_a_dog_comes_first() -> None:
    yelp = rep(1, "continuous", [4], "complied", [("yelped", "strong", 4)])
    hurt = session_digest([yelp], 19, stops=("stress-twice",))
    found = look(Juno=[good(19)], Wren=[hurt])
    assert [line.dog for line in found.dogs] == ["Wren", "Juno"]
    assert [reason_words(reason) for reason in found.dogs[0].see] == [
        "Stop: no more stimulation that day (yelped) on 20 Mar 2031 (rep 1): open.",
    ]  # and not once more that it yelped
    (stress,) = found.dogs[0].stress
    assert (stress.names, stress.reps) == (("yelped",), ("s19.1",))
    assert found.dogs[0].plan is not None
    assert found.dogs[0].plan.session is False


def test_a_stop_that_stands_comes_before_whatever_else_is_to_see() -> None:
    stress = rep(11, "none", [], "complied", [("yelped", "strong", None)])
    strained = [good(day, came=6) for day in range(9, 19)]
    strained.append(good(19)._replace(reps=(*good(19).reps, stress)))
    stop = stopped(good(10, button=1), "over-ceiling")
    later = good(12, button=1)
    found = look(Juno=strained, Wren=[stop, later])
    assert [line.dog for line in found.dogs] == ["Wren", "Juno"]
    assert [reason_words(reason) for reason in found.dogs[0].see] == [
        "A level above the ceiling on 11 Mar 2031: open."
    ]
    assert found.dogs[0].plan is not None
    assert found.dogs[0].plan.button is False
    assert look(Wren=[stop, good(12)]).dogs[0].see == found.dogs[0].see


def test_first_calls_are_those_without_a_stimulus() -> None:
    (line,) = look(Juno=[good(19, button=2)]).dogs
    assert isinstance(line.first_call, Proportion)
    assert (line.first_call.count, line.first_call.of) == (8, 10)
    assert known(known(line.story).at).came == 10


def test_one_dog_that_cannot_be_worked_out_takes_no_other_with_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def broken(
        scope: SessionScope, digests: Sequence[SessionDigest], dog: Profile, *more: Any
    ) -> Plan:
        if dog.name == "Wren":
            raise ZeroDivisionError("division by zero")
        return plan_of(scope, digests, dog, *more)

    monkeypatch.setattr("voicelog.analysis.kennel.plan_of", broken)
    dogs = {"Juno": [good(19)], "Wren": [good(19)], "Rook": [good(19)]}
    found = look(**dogs)
    assert [line.dog for line in found.dogs] == ["Wren", "Juno", "Rook"]
    assert found.dogs[0].plan is None
    text = paper_text.render(kennel_paper.build(found, dogs, Settings()))
    assert "Could not be worked out (ZeroDivisionError: division by zero)" in " ".join(text.split())
    assert "next: not known, no button." in " ".join(text.split())


def test_levels_stand_by_handler_only_where_two_worked_the_dog() -> None:
    both = session_digest(
        [rep(n, "continuous", [2 + n % 2], handler="anna" if n % 2 else "joe") for n in range(1, 7)]
    )
    alone = session_digest([rep(1, "continuous", [2], handler="anna")])
    found = look(Juno=[both], Wren=[alone]).handlers
    assert [(one.dog, one.handler, one.answered, one.of) for one in found] == [
        ("Juno", "anna", 3.0, 3),
        ("Juno", "joe", 2.0, 3),
    ]
    assert found[0].reps == ("s0.1", "s0.3", "s0.5")


def test_nothing_is_said_of_a_litter_of_fewer_than_eight_pups() -> None:
    for many in (7, 8):
        names = [f"Pup {n}" for n in range(many)]
        roster = [Profile(name=name, transmitter=UNIT, litter="A") for name in names]
        session_digests = {name: [good(18, came=3 + n)] for n, name in enumerate(names)}
        (litter,) = kennel(session_digests, roster, {"": Criteria()}, TODAY).litters
        if many < 8:
            assert litter.first_call is None
            assert "too few to say anything of a litter" in litter_words(litter)
        else:
            assert litter.first_call is not None
            assert "it says as much of them as of the litter" in litter_words(litter)


def test_a_dogs_own_criteria_hold_for_it() -> None:
    own = {"": Criteria(), "Juno": Criteria(due_days=1)}
    roster = [Profile(name="Juno", transmitter=UNIT)]
    assert kennel({"Juno": [good(18)]}, roster, own, TODAY).dogs[0].due


def test_a_dog_off_the_roster_is_there_with_its_last_transmitter() -> None:
    (line,) = kennel({"Old": [good(18)]}, [], {}, TODAY).dogs
    assert line.dog == "Old"
    assert known(line.plan).start == UNIT.lowest
