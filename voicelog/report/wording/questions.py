"""What a trainer asks her data, answered in words: one sentence each, with its interval."""

from __future__ import annotations

from voicelog.analysis.call_trend import CallTrend
from voicelog.analysis.questions import QUESTION_SESSIONS, Answer, Question
from voicelog.analysis.statistics.proportion import Proportion
from voicelog.analysis.statistics.share_difference import ShareDifference
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.report.wording.statistics import unknown_words
from voicelog.report.words import clean

__all__ = ["METHOD", "answer_words", "question_words"]

METHOD = (
    f"Recalls of the last {QUESTION_SESSIONS} sessions at the most, those to check left out; 95% "
    "intervals that allow for calls of one session being alike. Shares are compared at the same "
    "distraction. No experiment: who was called when and where was your choice, so a difference "
    "need not come from what is compared."
)
"""What holds for all answers."""

_QUESTIONS: dict[Question, str] = {
    "fair chance": "a fair chance before a press",
    "weaning from the button": "less of the button",
    "weaning from vibrate": "less vibrate or tone",
    "new place": "the first three calls in a new place",
    "another handler": "another handler",
    "after a strong sign": "after a strong sign",
    "end of a session": "the end of a session",
    "distance": "distance",
    "rewards": "rewards",
}


def question_words(question: Question) -> str:
    """What is asked, as a label."""
    return _QUESTIONS[question]


def answer_words(one: Answer, answer_s: float) -> str:
    """The answer in a sentence; `answer_s` is the time (s) that is a fair chance."""
    result = one.result
    if isinstance(result, Unknown):
        return f"{_nothing(one, result)}{_left_out(one)}"
    if isinstance(result, Proportion):
        share = (
            f"{result.count} of {result.of} ({result.share:.0%}, 95% interval {result.low:.0%} to "
            f"{result.high:.0%})"
        )
        if one.question == "fair chance":
            return (
                f"It had {answer_s:g} s to answer before a stimulus in {share} of the calls with "
                f"one.{_left_out(one)}"
            )
        return (
            f"A reward was said in {share} of the calls that it came to; where none was said, "
            "one may have been given."
        )
    if isinstance(result, CallTrend):
        return _weaning_words(one.question, result)
    return _difference_words(one, result)


def _nothing(one: Answer, why: Unknown) -> str:
    match one.question, why.code:
        case "weaning from the button", "none yet":
            return "No button in any of these calls."
        case "weaning from vibrate", "none yet":
            return "No vibrate and no tone in any of these calls."
        case "after a strong sign", "none yet":
            return "No strong sign in any of these calls."
        case "new place", "one only":
            return "Only one place was said, or none."
        case "another handler", "one only":
            return "Only one handler was said, or none."
        case "distance", "one only":
            return "Only one distance was said, or none."
        case _:
            return unknown_words(why)


def _left_out(one: Answer) -> str:
    parts = []
    if one.unclear:
        parts.append(f"in {one.unclear} it is too close to tell")
    if one.untimed:
        parts.append(f"in {one.untimed} call and press were not said apart")
    return f" Left out: {', '.join(parts)}." if parts else ""


def _weaning_words(question: Question, trend: CallTrend) -> str:
    what = "the button" if question == "weaning from the button" else "vibrate or tone"
    where = "" if trend.at is None else f" at {trend.at}"
    if trend.change == "not told":
        return (
            f"Whether {what} is used less cannot be told from {trend.of} calls{where}: anything "
            f"from {_used(trend.low)} to {_used(trend.high)} fits."
        )
    way = "Less" if trend.now < trend.first else "More"
    least, most = sorted((abs(trend.low), abs(trend.high)))
    return (
        f"{way}: {what} was used in about {trend.first:.0%} of calls{where} in the first session "
        f"there, {trend.now:.0%} in the last (95% interval of the change {100 * least:.0f} to "
        f"{100 * most:.0f} of 100 calls)."
    )


def _difference_words(one: Answer, result: ShareDifference) -> str:
    first, second = (clean(name) for name in _named(one))
    shares = (
        f"unaided {result.first:.0%} of {result.of_first} calls {first}, {result.second:.0%} of "
        f"{result.of_second} {second}"
    )
    span = f"{_more(result.low)} to {_more(result.high)} of 100 calls"
    if result.low <= 0 <= result.high:
        return f"No difference can be told: {shares} (95% interval {span})."
    way = "More" if result.difference > 0 else "Fewer"
    return f"{way}: {shares} (95% interval {span})."


def _named(one: Answer) -> tuple[str, str]:
    first, second = one.names
    match one.question:
        case "new place":
            return "first in a new place", f"at home ({second})"
        case "another handler":
            return f"by {first}", f"by {second}"
        case "after a strong sign":
            return "after it", "before"
        case "end of a session":
            return "in the last third", "in the first"
        case _:
            metres = f"{one.middle_m or 0:g} m"
            return f"beyond {metres}", f"within {metres}"


def _more(difference: float) -> str:
    """A difference of two shares, of 100 calls."""
    calls = round(100 * difference)
    if calls == 0:
        return "none"
    return f"{abs(calls)} {'more' if calls > 0 else 'fewer'}"


def _used(difference: float) -> str:
    """How much more or less something was used, in words that tell of what."""
    calls = round(100 * difference)
    if calls == 0:
        return "no change"
    return f"{'more' if calls > 0 else 'less'} in {abs(calls)} of 100 calls"
