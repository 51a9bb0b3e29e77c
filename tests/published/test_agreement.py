"""Two people's coding of one session by Cohen's kappa, against published tables.

J. Cohen, Educ. Psychol. Meas. 20 (1960) 37-46, the table of 200 (from memory); J. L. Fleiss,
Statistical Methods for Rates and Proportions, the table of 100 with its standard error (from
memory); two worked examples of two by two (chirohemoopstal.be/?p=29693, its expected agreement;
easycalculation.com/statistics/learn-cohens-kappa-index.php). statsmodels gives the same kappas and
standard errors.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa as reference

from tests.bench import coding
from tests.bench.coding import agreement, cohens_kappa

Table = list[list[int]]


def pairs(table: Table) -> list[tuple[int, int]]:
    return [
        (i, j) for i, row in enumerate(table) for j, many in enumerate(row) for _ in range(many)
    ]


@pytest.mark.parametrize(
    ("table", "observed", "expected", "kappa"),
    [
        ([[88, 14, 18], [10, 40, 10], [2, 6, 12]], 0.70, 0.41, 0.4915),
        ([[75, 1, 4], [5, 4, 1], [0, 0, 10]], 0.89, 0.66, 0.6765),
        ([[20, 5], [10, 15]], 0.70, 0.50, 0.40),
        ([[12, 2], [4, 2]], 0.70, 0.62, 0.2105),
    ],
)
def test_kappa_is_that_of_the_published_tables(
    table: Table, observed: float, expected: float, kappa: float
) -> None:
    found = cohens_kappa(pairs(table))
    assert (found.observed, found.expected, found.kappa) == pytest.approx(
        (observed, expected, kappa), abs=6e-5
    )
    other = reference(np.array(table))
    assert found.kappa == pytest.approx(other.kappa)
    assert found.error == pytest.approx(other.std_kappa)


def test_the_standard_error_of_fleiss() -> None:
    assert cohens_kappa(pairs([[75, 1, 4], [5, 4, 1], [0, 0, 10]])).error == pytest.approx(
        0.0877, abs=5e-5
    )


def test_where_both_always_say_one_thing_there_is_no_kappa() -> None:
    assert cohens_kappa([("came", "came")] * 5).kappa is None
    with pytest.raises(ValueError, match="nothing that both"):
        cohens_kappa([])


def rep(start_s: float, outcome: str = "complied", mode: str = "none", **more: Any) -> Any:
    return {
        "start_s": start_s,
        "end_s": start_s + 8,
        "outcome": outcome,
        "mode": mode,
        "sign_marks": [{"class": one} for one in more.get("signs", ())],
        "void": more.get("void", False),
    }


def test_reps_are_matched_in_time_and_one_that_the_other_has_not_counts(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    anna = [rep(0), rep(30, "ignored"), rep(60, signs=["noticed", "strong"]), rep(90)]
    joe = [rep(2), rep(33, "ignored"), rep(61, mode="continuous", signs=["strong"])]
    found = agreement(anna, joe)
    assert [found[what].of for what in ("outcome", "button", "sign")] == [4, 4, 4]
    assert [found[what].observed for what in ("outcome", "button", "sign")] == [0.75, 0.5, 0.75]
    paths = [tmp_path / "anna.json", tmp_path / "joe.json"]
    for path, reps in zip(paths, (anna, [*joe, rep(90, void=True)]), strict=True):
        path.write_text(json.dumps({"recordings": [{"reps": reps}]}))
    monkeypatch.setattr(sys, "argv", ["coding", *map(str, paths)])
    assert coding.main() == 0
    assert capsys.readouterr().out.startswith("outcome: 75% of 4 alike, ")
