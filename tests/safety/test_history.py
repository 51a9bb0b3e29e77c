"""history_of: what earlier sessions of a dog come to."""

from datetime import UTC, datetime, timedelta

from voicelog.model import Dog, Transmitter
from voicelog.safety import History, PastSign, history_of

from .build import Field

DAY = datetime(2031, 5, 4, 9, 0)
LATER = DAY + timedelta(hours=3)


def past(field: Field, at: datetime | None = LATER, started: datetime | None = DAY) -> History:
    return history_of([(started, field.session())], at)


def test_no_sessions_are_an_empty_history() -> None:
    assert history_of([], LATER) == History(at=LATER)


def test_levels_answered_are_kept_by_distraction() -> None:
    field = Field().rep(2).distraction("medium").rep(3).rep(4, "ignored").rep(5, "slow")
    assert past(field).answered == {"": 2, "medium": 5}


def test_a_doubtful_rep_answers_nothing() -> None:
    assert past(Field().cue().press(4).doubt().out()).answered == {}
    assert past(Field().cue().press(4).doubt().out()).stimulated == 0
    assert not past(Field().cue().vibrate().doubt().out()).vibrated


def test_a_doubtful_strong_sign_counts() -> None:
    assert past(Field().cue().press(4).sign("yelped").doubt().out()).strong == (
        PastSign(at=DAY + timedelta(seconds=9), sign="yelped", level=4),
    )


def test_vibration_and_what_it_did_are_known() -> None:
    assert past(Field().cue().vibrate().out()).vibrated
    assert not past(Field().cue().vibrate().out()).strong_to_vibrate
    assert past(Field().cue().vibrate().sign("yelped").out()).strong_to_vibrate


def test_levels_of_another_transmitter_are_left_out() -> None:
    other = Dog(name="Juno", transmitter=Transmitter(top=7))
    first = Field(other).cue().press(3).sign("yelped").out().rep(2).session()
    history = history_of([(DAY, first), (LATER, Field().rep().session())], LATER)
    assert history.answered == {}
    assert [sign.level for sign in history.strong] == [None]
    assert history.stimulated == 1


def test_skin_is_as_last_said() -> None:
    assert past(Field().skin("red").rep()).skin == "red"
    assert past(Field().skin("red").skin("clear")).skin == "clear"


def test_wear_runs_from_fitted_to_stripped() -> None:
    history = past(Field().fitted().wait(600).collar("stripped").wait(60).rep())
    assert history.worn_s == 600
    assert history.worn_since is None
    assert history.last_worn == DAY + timedelta(seconds=603)


def test_a_collar_never_said_to_be_off_is_still_on_that_day() -> None:
    first = Field().fitted().wait(600).rep().session()
    second = Field().rep(2).session()
    start = DAY + timedelta(hours=1)
    history = history_of([(DAY, first), (start, second)], LATER)
    assert history.worn_since == DAY + timedelta(seconds=3)
    assert history.last_worn == start + timedelta(seconds=second.end_s)
    assert history.worn_s == 3600 + second.end_s - 3
    assert past(Field().fitted().rep(), at=LATER + timedelta(days=1)).worn_since is None


def test_a_collar_fitted_anew_was_off_between() -> None:
    session = Field().fitted().wait(600).rep().session()
    history = history_of([(DAY, session), (LATER, session)], LATER + timedelta(hours=1))
    assert history.worn_s == 2 * (session.end_s - 3)


def test_wear_of_other_days_is_not_counted() -> None:
    assert past(Field().fitted().wait(600).rep(), at=LATER + timedelta(days=1)).worn_s == 0


def test_turned_counts_after_the_last_press() -> None:
    assert past(Field().fitted().rep(2).collar("turned")).turned
    assert not past(Field().fitted().collar("turned").rep(2)).turned


def test_without_clocks_days_are_unknown() -> None:
    history = past(Field().fitted().rep(2), at=None, started=None)
    assert (history.worn_s, history.last_worn, history.days_since) == (0, None, None)
    assert history.stimulated == 1


def test_a_clock_with_a_zone_and_one_without_compare() -> None:
    history = past(Field().fitted().rep(2), started=DAY.replace(tzinfo=UTC))
    assert history.days_since == 0
    assert history.last_worn == DAY + timedelta(seconds=13)


def test_a_strong_sign_outside_every_rep_has_no_level() -> None:
    history = past(Field().rep(4).wait(30).sign("yelped"))
    assert [sign.level for sign in history.strong] == [None]
