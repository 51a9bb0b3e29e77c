"""What is told of a change of calls, and of a share, for dogs of known truth.

A dog answers a call unaided with the chance 1 / (1 + exp(-eta)),

    eta = start + change x place - 0.8 x distraction + lean:

the place goes from 0 in the first session to 1 in the last, the distraction from 0 to 3 up the
ladder, now and then a call is a step easier, and each session has a lean of its own (normal, with
the standard deviation `apart` in log odds).
"""

from __future__ import annotations

import math
import random
from collections import Counter

import numpy as np

from tests.analysis.dogs import rep, session_digest
from voicelog.analysis.call_trend import call_trend
from voicelog.analysis.session_digest import SessionDigest
from voicelog.analysis.statistics.clustered_share import clustered_share
from voicelog.analysis.statistics.estimating_equations import fit_marginal_logistic
from voicelog.analysis.statistics.share_difference import GroupedAnswer, share_difference
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.model.domain import DISTRACTION_LADDER

CALLS = 10
HARDER = 0.8
"""Log odds that a step of distraction costs."""
SETTINGS = tuple((sessions, apart) for sessions in (8, 12, 18, 24) for apart in (0.0, 0.6, 1.0))
MOST_FALSE = 0.07
"""Changes told of dogs that do not change, at most, in any setting."""


def drawn_history(
    seed: int, sessions: int, change: float, apart: float, harder: float = HARDER
) -> list[SessionDigest]:
    """So many sessions of ten calls; `change` (log odds) from the first to the last, `harder` what
    a step of distraction costs."""
    chance = random.Random(seed)
    found = []
    for number in range(sessions):
        lean = chance.gauss(0, apart)
        calls = []
        for each in range(CALLS):
            rank = max(0, 4 * number // sessions - (chance.random() < 0.2))
            eta = 0.8 + change * number / (sessions - 1) - harder * rank + lean
            came = chance.random() < 1 / (1 + math.exp(-eta))
            outcome = "complied" if came else "ignored"
            at = DISTRACTION_LADDER[rank]
            calls.append(rep(each + 1, "none", (), outcome, distraction=at))
        found.append(session_digest(calls, number))
    return found


def trend_table(many: int, seed: int) -> tuple[tuple[str, ...], bool]:
    """What is told of a change where there is none, and where there is one."""
    lines = [
        "sessions apart | no change: better worse | nor does distraction matter | change 2: told | "
        "change 4: told"
    ]
    holds = True
    for sessions, apart in SETTINGS:
        rates = []
        for change, harder in ((0.0, HARDER), (0.0, 0.0), (2.0, HARDER), (4.0, HARDER)):
            told = Counter[str]()
            for number in range(many):
                one = call_trend(drawn_history(seed + number, sessions, change, apart, harder))
                told[one.code if isinstance(one, Unknown) else one.change] += 1
            better = (told["better"] + told["better though harder"]) / many
            rates.append((better, told["worse"] / many))
        false = max(sum(rates[0]), sum(rates[1]))
        holds = holds and false <= MOST_FALSE + 2 * math.sqrt(0.05 / many)
        lines.append(
            f"{sessions:8} {apart:5.1f} | {rates[0][0]:17.1%} {rates[0][1]:5.1%} | "
            f"{rates[1][0]:20.1%} {rates[1][1]:6.1%} | {rates[2][0]:14.1%} | {rates[3][0]:14.1%}"
        )
    return tuple(lines), holds


def coverage_table(many: int, seed: int) -> tuple[tuple[str, ...], bool]:
    """How often 95% intervals hold the truth: of the slope, one distraction, and of a share.

    The truth of a slope is the one that a fit to very many sessions comes to, since a slope over
    all sessions is flatter than that within each.
    """
    lines = ["sessions apart | the trend | a share of 80%"]
    holds = True
    generator = np.random.default_rng(seed)
    for sessions, apart in SETTINGS:
        place = np.linspace(0, 1, sessions)
        slope = _marginal_slope(apart, generator)
        held = told = shares = 0
        truth = float(np.mean(1 / (1 + np.exp(-(1.386 + apart * generator.normal(size=200_000))))))
        for _ in range(many):
            lean = apart * generator.normal(size=sessions)
            chance = 1 / (1 + np.exp(-(-1 + 2 * place + lean)))
            answers = generator.random((sessions, CALLS)) < chance[:, np.newaxis]
            x = np.column_stack([np.ones(sessions * CALLS), np.repeat(place, CALLS)])
            clusters = np.repeat(np.arange(sessions), CALLS).tolist()
            fit = fit_marginal_logistic(x, answers.ravel().astype(np.float64), clusters)
            if not isinstance(fit, Unknown):
                _, low, high = fit.interval(np.array([0.0, 1.0]))
                told += 1
                held += low <= slope <= high
            came = generator.binomial(CALLS, 1 / (1 + np.exp(-(1.386 + lean))))
            share = clustered_share([(int(yes), CALLS) for yes in came])
            shares += not isinstance(share, Unknown) and share.low <= truth <= share.high
        holds = holds and min(held / max(1, told), shares / many) >= 0.93 - 2 / math.sqrt(many)
        lines.append(
            f"{sessions:8} {apart:5.1f} | {held / max(1, told):9.1%} | {shares / many:14.1%}"
        )
    return tuple(lines), holds


def difference_table(many: int, seed: int) -> tuple[tuple[str, ...], bool]:
    """How often a difference is told where there is none, of two groups with six calls a session.

    Each group has half of the sessions (places, handlers), or both have all (first and last).
    """
    lines = ["sessions apart | apart by session: told | within the session: told"]
    holds = True
    generator = np.random.default_rng(seed)
    for sessions in (4, 8, 20):
        for apart in (0.0, 0.6, 1.0):
            rates = []
            for within in (False, True):
                told = 0
                for _ in range(many):
                    lean = apart * generator.normal(size=sessions)
                    chance = 1 / (1 + np.exp(-(0.8 + lean)))
                    answers = []
                    for session in range(sessions):
                        for side in (True, False) if within else (session % 2 == 0,):
                            yes = generator.random(6) < chance[session]
                            answers += [GroupedAnswer(side, "", session, bool(y)) for y in yes]
                    found = share_difference(answers)
                    told += not isinstance(found, Unknown) and not found.low <= 0 <= found.high
                rates.append(told / many)
            holds = holds and max(rates) <= MOST_FALSE + 2 * math.sqrt(0.05 / many)
            lines.append(f"{sessions:8} {apart:5.1f} | {rates[0]:22.1%} | {rates[1]:24.1%}")
    return tuple(lines), holds


def _marginal_slope(apart: float, generator: np.random.Generator) -> float:
    """The slope of the marginal share over places from 0 to 1, by numbers."""
    place = np.linspace(0, 1, 41)
    leans = apart * generator.normal(size=40_000)
    share = (1 / (1 + np.exp(-(-1 + 2 * place[:, np.newaxis] + leans)))).mean(axis=1)
    beta = np.zeros(2)
    x = np.column_stack([np.ones(41), place])
    for _ in range(30):
        mu = 1 / (1 + np.exp(-x @ beta))
        beta = beta + np.linalg.solve((x.T * (mu * (1 - mu))) @ x, x.T @ (share - mu))
    return float(beta[1])
