"""What settles a stop, and how far back one may stand."""

from __future__ import annotations

from tests.analysis.dogs import good, rep, session_digest
from voicelog.analysis.open_stops import STOP_WINDOW, open_stops


def test_stops_stand_newest_first_until_a_session_without_the_button() -> None:
    first, second = (good(day, button=1)._replace(stops=("heat",)) for day in (0, 2))
    pressed = good(1, button=1)
    assert open_stops([first, pressed, second]) == (second, first)
    assert open_stops([first, good(1), second]) == (second,)
    assert open_stops([first, second, good(3), pressed]) == ()
    assert open_stops([]) == ()


def test_a_strong_sign_settles_nothing() -> None:
    stop = good(0)._replace(stops=("heat",))
    hurt = session_digest([rep(1), rep(2, "none", [], "complied", [("froze", "strong", None)])], 1)
    assert open_stops([stop, hurt]) == (stop,)


def test_a_stop_stands_no_longer_than_so_many_sessions() -> None:
    stop = good(0)._replace(stops=("heat",))
    after = [good(day, button=1) for day in range(1, STOP_WINDOW + 1)]
    assert open_stops([stop, *after[:-1]]) == (stop,)
    assert open_stops([stop, *after]) == ()
