"""Make gee_values.json: what statsmodels makes of invented reps, for test_estimating_equations.

    python -m venv reference && reference/bin/pip install statsmodels==0.15.0
    reference/bin/python tests/published/reference/make_gee_values.py > \
        tests/published/reference/gee_values.json

The reps are drawn by Python's own generator, so that the test can draw them again: for each case so
many sessions of unequal length, with a distraction that rises, a trend, and sessions that differ.
"""

from __future__ import annotations

import json
import math
import random

CASES = {"ordered": 18, "few sessions": 8, "many": 40}
"""Cases by name: how many sessions each has."""


def drawn(name: str, sessions: int) -> tuple[list[list[float]], list[float], list[int]]:
    """Rows (one, place of the session, distraction), answers, and the session of each."""
    chance = random.Random(name)
    rows, answers, clusters = [], [], []
    for session in range(sessions):
        lean = chance.gauss(0, 0.6)
        for _ in range(chance.randint(3, 12)):
            distraction = min(3, 4 * session // sessions + chance.choice([-1, 0, 0])) % 4
            eta = 0.3 + 2.0 * session / sessions - 0.7 * distraction + lean
            rows.append([1.0, session / (sessions - 1), float(distraction)])
            answers.append(float(chance.random() < 1 / (1 + math.exp(-eta))))
            clusters.append(session)
    return rows, answers, clusters


def main() -> None:
    import numpy as np  # only in the environment that makes the values
    import statsmodels
    import statsmodels.api as sm

    found: dict[str, object] = {"statsmodels": statsmodels.__version__}
    for name, sessions in CASES.items():
        rows, answers, clusters = drawn(name, sessions)
        model = sm.GEE(
            np.array(answers),
            np.array(rows),
            groups=np.array(clusters),
            family=sm.families.Binomial(),
            cov_struct=sm.cov_struct.Exchangeable(),
        )
        fit = model.fit(maxiter=500, ctol=1e-12, params_niter=1)
        reduced = model.fit(maxiter=500, ctol=1e-12, cov_type="bias_reduced")
        found[name] = {
            "of": len(answers),
            "answered": sum(answers),
            "beta": fit.params.tolist(),
            "correlation": float(model.cov_struct.dep_params),
            "robust": fit.cov_robust.tolist(),
            "corrected": reduced.cov_robust_bc.tolist(),
        }
    print(json.dumps(found, indent=1))


if __name__ == "__main__":
    main()
