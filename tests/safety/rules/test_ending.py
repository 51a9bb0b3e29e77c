"""ended-failed."""

import pytest

from tests.safety.ask import found, the
from tests.safety.build import Field


@pytest.mark.parametrize("outcome", ["ignored", "left", "broke", "helped"])
def test_a_last_rep_that_failed_is_a_remark(outcome: str) -> None:
    finding = the(Field().rep(2).rep(2, outcome), "ended-failed")
    assert finding.severity == "remark"
    assert finding.reps == (2,)
    assert finding.message == f"The session ended on a failure in rep 2: {outcome}."
    assert finding.advice == "Finish with something the dog knows, no button."


@pytest.mark.parametrize("outcome", ["complied", "slow", "partial"])
def test_a_last_rep_that_did_not_fail_is_silent(outcome: str) -> None:
    assert not found(Field().rep(2, outcome), "ended-failed")


def test_a_failure_made_good_is_silent() -> None:
    assert not found(Field().rep(2, "ignored").rep(), "ended-failed")


def test_a_rep_left_open_does_not_hide_a_failure() -> None:
    assert found(Field().rep(2, "ignored").cue(), "ended-failed")


def test_which_rep_is_the_last_their_order_tells() -> None:
    left_open = Field().rep(2, "ignored").cue().wait(90).cue()
    assert the(left_open, "ended-failed").message == (
        "The last outcome that was said is a failure in rep 1: ignored."
    )


def test_after_a_stop_nothing_more_is_asked() -> None:
    assert not found(Field().cue().press(4).sign("froze").out("ignored"), "ended-failed")


def test_a_session_without_reps_is_silent() -> None:
    assert not found(Field().fitted().fit(), "ended-failed")
