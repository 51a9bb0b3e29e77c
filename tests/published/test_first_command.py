"""A first call against the measures of a published trial.

L. China, D. S. Mills and J. J. Cooper, Front. Vet. Sci. 7 (2020) 508: obedience to "come" and "sit"
was measured by the number of commands given to elicit the response, a response after a single
instruction in the allocated time being the best, and by the latency (abstract; its methods were not
read). Their collar group was scored with the collar in use, so the measure does not ask whether a
stimulus helped: here that is `came_at_once`, and `unaided` asks more. No time is allotted here:
what the trainer calls "came" has come, and the time to it is a curve of its own.
"""

from __future__ import annotations

from typing import NamedTuple

import pytest

from tests.session.said import reps_of
from voicelog.analysis.unaided import asked, came_at_once, unaided


class Measured(NamedTuple):
    """Commands given, obeyed after a single one, and that without a stimulus."""

    commands: int
    single: bool
    unaided: bool


@pytest.mark.parametrize(
    ("words", "measured"),
    [
        ("here no button came", Measured(1, True, True)),
        ("here no button came slow", Measured(1, True, True)),
        ("here level 3 came", Measured(1, True, False)),
        ("here vibrate came", Measured(1, True, False)),
        ("called twice no button came", Measured(2, False, False)),
        ("called 3 times level 3 came", Measured(3, False, False)),
        ("here no button ignored", Measured(1, False, False)),
        ("here no button line help", Measured(1, False, False)),
        ("here came", Measured(1, True, False)),
    ],
)
def test_one_rep_by_the_measures_of_the_trial(words: str, measured: Measured) -> None:
    (rep,) = reps_of("0 collar fitted", f"30 {words}")
    assert Measured(rep.cues, came_at_once(rep), unaided(rep)) == measured
    assert asked(rep)
