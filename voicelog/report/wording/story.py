"""The story of a dog in at most three sentences: how it goes, what changed, what is open.

The trainer's papers, a row of the kennel and the owner's report tell the same story, each in words
of its own; none tells what another leaves out, but the numbers.
"""

from __future__ import annotations

from voicelog.analysis.call_trend import CallTrend
from voicelog.analysis.plan import Plan
from voicelog.analysis.reason import Reason
from voicelog.analysis.recent_calls import CallAbility
from voicelog.analysis.statistics.unknown import Unknown
from voicelog.analysis.story import Story
from voicelog.report.state_words import TO_CHECK
from voicelog.report.wording.matters import closed_words
from voicelog.report.wording.reasons import reason_words
from voicelog.report.wording.statistics import unknown_words
from voicelog.report.words import clean, counted, date_words, listed, times_words

__all__ = [
    "SITUATIONS",
    "change_words",
    "open_words",
    "owner_story_words",
    "row_story_words",
    "story_words",
    "today_words",
]

SITUATIONS = {
    "none": "where nothing is going on",
    "low": "with a little going on",
    "medium": "with more going on",
    "high": "with a lot going on",
}
"""The ladder of distractions in an owner's words."""


def today_words(one: Story) -> str:
    """How it goes, for the trainer."""
    if one.at is None:
        none = "No rep in drill recall with a call and an outcome is on record yet"
        return f"{none}{_left_out(one)}."
    share = one.at.unaided
    at = _at(one.at.distraction)
    if not one.enough:
        return (
            f"Too few recalls {_when(one)} to say how it goes: {share.of} {at}, "
            f"{share.count} unaided{_went_wrong(one.at)}{_left_out(one)}."
        )
    return (
        f"{_raised(_when(one))} it came {one.at.came} of {share.of} times {at}, unaided "
        f"{share.count} (95% interval {share.low:.0%} to {share.high:.0%})"
        f"{_went_wrong(one.at)}{_left_out(one)}."
    )


def change_words(change: CallTrend | Unknown) -> str:
    """What changed, for the trainer."""
    if isinstance(change, Unknown):
        return f"Whether that changed cannot be told yet: {_lowered(unknown_words(change))}"
    over = f"over {counted(change.sessions, 'session')}"
    least, most = sorted((change.low, change.high), key=abs)
    more = "fewer" if change.high < 0 else "more"
    span = f"95% interval {_points(least)} to {_points(most)} {more} of 100 calls"
    match change.change:
        case "better" | "worse":
            return (
                f"{change.change.capitalize()} {over}, all distractions taken together: unaided "
                f"{_at(change.at)} about {change.first:.0%} in its first session there, "
                f"{change.now:.0%} in its last ({span})."
            )
        case "better though harder":
            return (
                f"Better {over}, although the distraction rose from {change.easiest} to "
                f"{change.hardest}: unaided about {change.first:.0%} in the first session, "
                f"{change.now:.0%} in the last (at least {_points(change.low)} more of 100 calls, "
                "at 95%)."
            )
        case "not told":
            rose = _rose(change)
            return (
                f"Whether that changed cannot be told from {counted(change.sessions, 'session')}"
                f"{rose}: {_at(change.at)} anything from {_way(change.low)} to "
                f"{_way(change.high)} of 100 calls fits."
            )


def story_words(one: Story, plan: Plan) -> tuple[str, ...]:
    """The story for the trainer, in two or three sentences."""
    change = () if one.at is None else (change_words(one.change),)
    return (today_words(one), *change, open_words(plan))


def open_words(one: Plan) -> str:
    """What is open, for the trainer."""
    open_ = _open(one)
    if not open_:
        return f"Nothing is open{_closed(one)}."
    more = f" ({len(open_) - 1} more open)" if len(open_) > 1 else ""
    return f"{reason_words(open_[0]).rstrip('.')}{more}."


def row_story_words(one: Story, open_matters: int | None) -> str:
    """The story in a row of the kennel; how many matters are open, None where nobody knows."""
    if one.at is None:
        how = f"No rep in drill recall counted{_left_out(one)}."
    else:
        share = one.at.unaided
        few = "" if one.enough else " (too few to judge by)"
        how = (
            f"{_raised(_when(one))} came {one.at.came} of {share.of} "
            f"{_at(one.at.distraction)}, unaided {share.count}{few}"
            f"{_went_wrong(one.at)}{_left_out(one)}."
        )
    change = "change not known" if isinstance(one.change, Unknown) else _row_change(one.change)
    if open_matters is None:
        left = "what is open is not known"
    else:
        left = f"{counted(open_matters, 'matter')} open" if open_matters else "nothing open"
    return f"{how} {change.capitalize()}; {left}."


def owner_story_words(name: str, one: Story, plan: Plan) -> tuple[str, ...]:
    """The story in plain words, for who takes the dog home."""
    settled = f"Nothing is left open{_closed(plan)}." if not _open(plan) else _OPEN
    if one.at is None:
        what = (
            f"No call of {name} is on record yet, so nothing can be said here."
            if one.left_out is None
            else f"What {name} does when it is called cannot be said here{_owner_left_out(one)}."
        )
        return (what, settled) if _open(plan) or plan.closed else (what,)
    share = one.at.unaided
    where = SITUATIONS.get(one.at.distraction or "", "in all that was tried")
    when = (
        f"When it was last worked, {counted(one.today.weeks_ago or 0, 'week')} ago,"
        if one.long_ago
        else "In its last weeks"
    )
    few = ", which is few: read it as a first impression" if share.of < 30 else ""
    how = (
        f"{when} {name} came after one call {one.at.came} times of {share.of} {where}, "
        f"{share.count} of them without the collar's button{few}"
        f"{_owner_went_wrong(one.at)}{_owner_left_out(one)}."
    )
    return how, _owner_change(one.change), settled


_OPEN = "Something is not settled yet: read what went wrong, and ask the trainer."


def _closed(plan: Plan) -> str:
    """What a person closed lately, the gravest and how many more; it was so all the same."""
    found = [one.matter for one in plan.closed if one.matter is not None]
    if not found:
        return ""
    more = f", and {counted(len(found) - 1, 'more matter')}" if len(found) > 1 else ""
    return f"; closed lately: {closed_words(found[0])}{more}"


def _went_wrong(at: CallAbility) -> str:
    """What was bad for the dog in the sessions of these calls, in the sentence that counts them."""
    signs = [f"{clean(name)} ({times_words(many)})" for name, many in at.signs]
    parts = [f"strong signs there: {listed(signs)}"] if signs else []
    doubt = f" ({TO_CHECK})" if at.skin_on_doubt else ""
    parts += [f"skin {at.skin}{doubt}"] if at.skin else []
    return "".join(f"; {part}" for part in parts)


def _owner_went_wrong(at: CallAbility) -> str:
    signs = [f"it showed plain signs of stress ({listed(clean(name) for name, _ in at.signs)})"]
    parts = signs if at.signs else []
    doubt = " (a note that nobody has checked)" if at.skin_on_doubt else ""
    parts += [f"its skin was {at.skin}{doubt}"] if at.skin else []
    return f"; in those sessions {listed(parts)}" if parts else ""


def _left_out(one: Story) -> str:
    """What the numbers do not count, so that no bad day is lost by a word that was not said."""
    if one.left_out is None:
        return ""
    left = one.left_out
    return (
        f"; left out: {counted(left.of, 'call')}, came to {left.came}, drill or distraction not "
        f"said, the last on {date_words(left.last)}"
    )


def _owner_left_out(one: Story) -> str:
    if one.left_out is None:
        return ""
    left = one.left_out
    if left.of == 1:
        came = "it came" if left.came else "it did not come"
    else:
        many = "all" if left.came == left.of else left.came or "none"
        came = f"it came to {many} of them"
    return (
        f". Not counted: {counted(left.of, 'call')} for which nobody said what was going on; {came}"
    )


def _owner_change(change: CallTrend | Unknown) -> str:
    if isinstance(change, Unknown) or change.change == "not told":
        return "Whether it has become better cannot be told yet."
    if change.change == "better though harder":
        return "It has become better, although more is going on than at first."
    where = SITUATIONS.get(change.at or "", "in all that was tried")
    return (
        f"It has become {change.change}: of ten calls {where} it answered about "
        f"{10 * change.first:.0f} without the collar's button at first, about "
        f"{10 * change.now:.0f} lately."
    )


def _row_change(change: CallTrend) -> str:
    if change.change == "not told":
        return f"no change seen in {counted(change.sessions, 'session')}"
    return f"{change.change} over {counted(change.sessions, 'session')}"


def _open(one: Plan) -> tuple[Reason, ...]:
    """What stands and waits for a person, stops first."""
    return (*one.stops, *one.matters)


def _when(one: Story) -> str:
    first, last = (one.at.first, one.at.last) if one.at else (None, None)
    if one.long_ago:
        return f"{counted(one.today.weeks_ago or 0, 'week')} ago"
    if first is None or last is None:
        return "in its last sessions"
    if first == last:
        return f"on {date_words(last)}"
    return f"from {date_words(first)} to {date_words(last)}"


def _at(distraction: str | None) -> str:
    return "where the distraction was not said" if distraction is None else f"at {distraction}"


def _rose(change: CallTrend) -> str:
    if change.easiest is None or change.hardest is None or change.easiest == change.hardest:
        return ""
    return f", in which the distraction went from {change.easiest} to {change.hardest}"


def _points(difference: float) -> str:
    return f"{100 * abs(difference):.0f}"


def _way(difference: float) -> str:
    if round(100 * difference) == 0:
        return "no change"
    return f"{_points(difference)} {'more' if difference > 0 else 'fewer'}"


def _raised(words: str) -> str:
    return words[0].upper() + words[1:]


def _lowered(words: str) -> str:
    return words[0].lower() + words[1:]
