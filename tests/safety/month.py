"""A month of good sessions of an invented dog: forty, some with a rep that went wrong."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from voicelog.model import Dog, Transmitter

from .build import Field

JUNO = Dog(
    name="Juno", transmitter=Transmitter(top=18, cutoff_s=8), born=date(2029, 10, 2), ceiling=6
)
FIRST = datetime(2031, 3, 1, 8, 30)


def month() -> Iterator[tuple[datetime, Field]]:
    """Forty sessions with the moment each starts; on every third day there are two."""
    at, day = FIRST, 0
    for number in range(40):
        yield at, _session(number)
        second = number % 4 == 2
        day += 0 if second else 1
        at = FIRST + timedelta(days=day, hours=6 if second else 0)


def _session(number: int) -> Field:
    field = Field(JUNO)
    field.say("collar fitted test good fit check two fingers contact solid skin clear")
    field.say(f"collar turned line clipped coat dry temperature {14 + number % 6}")
    if number == 0:
        return _first(field)
    distraction = ("none", "low", "medium dogs", "high scent")[min(3, number // 10)]
    field.say(f"drill recall distraction {distraction}").say("distance 20 metres location field")
    level = 2 + min(2, number // 10)
    for rep in range(9):
        if rep in (2, 5) and number < 32:
            _answered(field, level)
        elif rep == 6 and number % 5 == 4:
            field.say("here no button").say("ignored line help")
        elif rep == 7 and number % 7 == 3:
            field.say("here").wait(1.5).say(f"level {level}").wait(1.5).say("thumb off")
            field.say("ignored").wait(20)
            _answered(field, level + 1)
        elif rep == 4 and number % 6 == 5:
            field.say("here no button came slow yawned")
        else:
            field.say("here no button").wait(4).say("came praised treat")
        field.wait(40)
    return field.say("collar stripped skin clear coat dry")


def _first(field: Field) -> Field:
    for _ in range(3):
        field.say("here vibrate").say("came treat").wait(40)
    field.say("drill find level distraction none")
    field.say("tap 1").say("nothing").say("tap 2").say("ear flick").wait(40)
    field.say("drill recall")
    _answered(field, 2)
    return field.wait(40).say("here no button came").say("collar stripped skin clear")


def _answered(field: Field, level: int) -> None:
    field.say("here").wait(1.5).say(f"level {level} head turn").wait(1.5).say("thumb off")
    field.wait(2).say("came praised")
