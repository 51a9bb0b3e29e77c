"""What another handler reads before work: one limit, and not two that she has to choose from."""

from __future__ import annotations

from datetime import date

from tests.analysis.dogs import UNIT, good, rep, session_digest
from tests.report.build import full
from voicelog.analysis.criteria import Criteria
from voicelog.analysis.dog_ceiling import dog_ceiling
from voicelog.analysis.open_matters import as_left
from voicelog.analysis.plan import plan
from voicelog.model import CueMeaning, Dog
from voicelog.report.facts import Fact
from voicelog.report.handover_paper import CALLS_IN, LOWER, NO_MEANING, build
from voicelog.report.progress_levels import ceiling_line
from voicelog.report.words import NOT_SAID

DAY = date(2031, 3, 12)


def test_beside_a_ceiling_it_is_said_that_lower_limits_hold() -> None:
    dog = Dog(name="Juno", transmitter=UNIT)
    yelped = session_digest([rep(1, "continuous", [11], "complied", [("yelped", "strong", 11)])])
    for more in (good(2, button=4, level=2), good(2)):
        digests = (yelped, good(1), more)
        matters = as_left(digests)
        ceiling = dog_ceiling(digests, dog, Criteria(), matters=matters)
        planned = plan(digests, dog, Criteria(), DAY, matters=matters)
        assert planned.most is not None
        assert ceiling.level is not None
        assert planned.most < ceiling.level
        text = " ".join(
            line.words
            for section in build(dog, matters, ceiling, None, planned, DAY).sections
            for line in section.lines
        )
        assert f"never above {planned.start}" in text
        assert LOWER in text
        alone = build(dog, matters, ceiling, None, planned, DAY, collar=False)
        assert LOWER not in str(alone)


def test_each_cue_stands_there_with_what_its_trainer_says_that_it_asks_for() -> None:
    said = (CueMeaning(cue="hup", meaning="sit"),)
    dog = Dog(name="Juno", cues=("here", "hup", "kom"), cue_meanings=said)
    limit = dog_ceiling((), dog, Criteria(), matters=())
    planned = plan((), dog, Criteria(), DAY, matters=())
    paper = build(dog, (), limit, None, planned, DAY)
    (cues,) = (one for one in paper.sections if one.title == "Cues")
    assert [(line.label, line.words) for line in cues.lines] == [
        ("here", CALLS_IN),
        ("hup", "sit"),
        ("kom", NO_MEANING),
    ]


def test_where_there_is_no_button_no_limit_of_a_level_is_named() -> None:
    yelped = session_digest([rep(1, "continuous", [11], "complied", [("yelped", "strong", 11)])])
    dog = Dog(name="Juno", transmitter=UNIT)
    matters = as_left((yelped,))
    limit = dog_ceiling((yelped,), dog, Criteria(), matters=matters)
    planned = plan((yelped,), dog, Criteria(), DAY, matters=matters)
    assert limit.level == 9
    assert not planned.button
    assert "9" not in str(build(dog, matters, limit, None, planned, DAY).sections)
    line = ceiling_line(limit, button=planned.names_levels)
    assert line.words == (
        "No level is named while there is no button. Too much was level 11 (yelped, 1 Mar 2031)."
    )


def test_the_last_session_is_told_in_sentences() -> None:
    facts = {
        "dog": "Juno",
        "date": "Wed 12 Mar 2031, 7:15",
        "drill": "recall, then stop",
        "line": "clipped",
        "distraction": "low",
        "handler": NOT_SAID,
        "place": "field",
        "collar": "number 1, fit 2 fingers",
        "on game": "pointed 3 times, chased once",
        "minutes": "1",
        "worn": "0 min",
    }
    shown = full().model_copy(
        update={"facts": tuple(Fact(label=name, value=value) for name, value in facts.items())}
    )
    dog = Dog(name="Juno")
    limit = dog_ceiling((), dog, Criteria(), matters=())
    planned = plan((), dog, Criteria(), DAY, matters=())
    paper = build(dog, (), limit, shown, planned, DAY)
    (last,) = (one for one in paper.sections if one.title == "Last session")
    assert [(line.label, line.words) for line in last.lines][:3] == [
        ("when", "Wed 12 Mar 2031, 7:15, for 1 minute; place: field."),
        (
            "work",
            "Recall, then stop; distraction: low; line: clipped; "
            "on game: pointed 3 times, chased once.",
        ),
        ("collar", "Number 1, fit 2 fingers. It was on the dog for less than a minute."),
    ]
