"""Work without a collar is whole: no paper and no word in the ear asks for collar, fit or level."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest

from tests.histories import Past, session_digests_of
from tests.safety.build import Field
from voicelog.analysis.collar_use import uses_collar
from voicelog.analysis.kennel import kennel
from voicelog.model import Dog, Transmitter
from voicelog.report import kennel_paper, owner_report, paper_text, plan_paper, progress_paper, text
from voicelog.report.spoken_wording import spoken_start
from voicelog.report.summary import summarise
from voicelog.safety import Settings
from voicelog.safety.history import PastSession, history_after, past_session

JUNO = Dog(name="Juno")
RULES = Settings()
DAY = datetime(2031, 5, 5, 9, 0)
OF_COLLAR = re.compile(
    r"\b(collars?|little button|fit|fitted|contact|levels?|transmitters?|vibrate|ceiling|tap|dial"
    r"|stimulus)\b",
    re.IGNORECASE,
)
ALLOWED = (
    "Local law may restrict or forbid these collars.",  # the cautions travel with every paper
    "Without an electronic collar.",  # what the owner is told of how it was trained
    "them without the collar's button",
    "no rep with a stimulus meets one",
    "before any stimulation",
)


def past(*, said: str = "line clipped location field", dog: Dog = JUNO) -> list[Past]:
    """Six sessions of ten calls: nobody says a word of a collar or of the button."""
    found: list[Past] = []
    traces: list[PastSession] = []
    for number in range(6):
        field = Field(dog).say(f"drill recall distraction none {said}")
        for call in range(10):
            field.wait(30.0).say("here").say("came slow" if call == 3 else "came")
            field.say("treat" if call % 2 else "praised")
        field.say("end session")
        began = DAY + timedelta(days=number)
        seen = field.session_variants()
        ids = {"id": f"s{number}", "recording": f"r{number}"}
        session = seen.with_doubtful.model_copy(update=ids)
        findings = field.findings(history_after(traces, began), RULES)
        traces.append(past_session(began, session))
        found.append(Past(session, findings, began))
    return found


def papers(sessions: Sequence[Past], dog: Dog = JUNO) -> dict[str, str]:
    before, found = None, {}
    for one in sessions:
        made = summarise(one.session, one.findings, (), one.began, before, settings=RULES)
        found[f"summary {one.session.id}"] = text.render(made)
        before = one.session
    digests = session_digests_of(list(sessions))
    own, today = RULES.for_dog(dog.name), (DAY + timedelta(days=6)).date()
    for name, paper in (
        ("progress", progress_paper.build(digests, dog, own, today)),
        ("questions", progress_paper.build_questions(digests, dog, own, today)),
        ("plan", plan_paper.build(digests, dog, own, today)),
    ):
        found[name] = paper_text.render(paper, every=True, reps=True)
    by_dog = {dog.name: digests}
    row = kennel(by_dog, [dog], {"": RULES}, today)
    found["kennel"] = paper_text.render(kennel_paper.build(row, by_dog, RULES), every=True)
    found["owner"] = owner_report.build(digests, dog, own, today).model_dump_json()
    return found


@pytest.fixture(scope="module")
def sessions() -> list[Past]:
    return past()


def test_nothing_is_found_against_it(sessions: list[Past]) -> None:
    assert [one.findings for one in sessions] == [()] * 6


def test_every_call_counts_as_unaided_and_the_dog_gets_ready(sessions: list[Past]) -> None:
    digests = session_digests_of(sessions)
    told = papers(sessions)
    assert "unaided 60" in told["progress"]
    assert "Ready for low." in told["progress"]
    assert "distraction low" in told["plan"]
    assert not uses_collar(digests, JUNO)


def test_no_paper_says_a_word_of_collar_fit_or_level(sessions: list[Past]) -> None:
    for name, words in papers(sessions).items():
        flat = " ".join(words.split())
        for allowed in ALLOWED:
            flat = flat.replace(allowed, "")
        assert OF_COLLAR.findall(flat) == [], name


@pytest.mark.parametrize("said", ["collar fitted", "collar number 3", "contact solid"])
def test_one_word_of_a_collar_brings_the_limits_back(said: str) -> None:
    told = papers(past(said=said))
    assert "never above" in told["plan"]
    assert "LEVELS" in told["progress"]


COLLARED = Dog(name="Juno", transmitter=Transmitter(top=20))


def test_with_a_collar_in_the_profile_what_was_not_said_is_no_unaided_call() -> None:
    told = papers(past(dog=COLLARED), COLLARED)
    assert "never above" in told["plan"]
    assert "unaided 0" in told["progress"]
    assert "Not yet ready for low" in told["progress"]
    assert "collar  not said" in told["summary s3"]
    assert "9 came (button not said)" in told["summary s3"]


def test_no_collar_said_once_makes_it_whole_again() -> None:
    told = papers(past(said="no collar line clipped location field", dog=COLLARED), COLLARED)
    assert "unaided 60" in told["progress"]
    assert "Ready for low." in told["progress"]
    assert "collar  none" in told["summary s3"]
    assert "worn" not in told["summary s3"]


def test_no_collar_is_no_word_of_a_collar_in_the_papers_over_weeks() -> None:
    sessions = past(said="no collar line clipped location field")
    assert not uses_collar(session_digests_of(sessions), JUNO)
    told = papers(sessions)
    for name in ("progress", "plan", "questions", "kennel", "owner"):
        flat = " ".join(told[name].split())
        for allowed in ALLOWED:
            flat = flat.replace(allowed, "")
        assert OF_COLLAR.findall(flat) == [], name


@pytest.mark.parametrize(
    ("dog", "ceiling", "words"),
    [
        (JUNO, None, "Juno."),
        (JUNO, 6, "Juno. No collar number. Ceiling 6. Without the button first."),
        (
            Dog(name="Juno", transmitter=Transmitter(top=9)),
            None,
            "Juno. No collar number. No ceiling. Without the button first.",
        ),
        (
            Dog(name="Juno", collar_number=4),
            None,
            "Juno. Collar 4. No ceiling. Without the button first.",
        ),
    ],
)
def test_the_ear_asks_for_no_collar_either(dog: Dog, ceiling: int | None, words: str) -> None:
    assert spoken_start(dog, ceiling) == words
