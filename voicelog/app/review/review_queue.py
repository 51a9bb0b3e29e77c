"""What is to check, and in which order: what weighs on the dog first, then by time.

An entry is weighed by the worst that it may have said, be that its reading or another one on
offer, and by the findings that rest on it. The evening has a budget; what goes beyond it may
stay unread, and uncounted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from voicelog.grammar.grammar import normalize
from voicelog.model import Entry, Finding, FrozenModel, Phrase, Session, Severity
from voicelog.model.phrases import EquipmentPhrase, SessionDogPhrase, SignPhrase, named_level
from voicelog.model.review import CheckCause, ReviewReason
from voicelog.report.review_words import check_cause_words, review_reason_words
from voicelog.report.state_words import CHECK, entry_word
from voicelog.report.summary_rows import other_dog_words, whose_session_words
from voicelog.session.entries import Interpret
from voicelog.session.spoken_edits import follows_unread

__all__ = ["MOST_WEIGHT", "ReviewItem", "offers", "review_queue"]

_Weight = tuple[int, ReviewReason]

_RESTS: Mapping[Severity, _Weight] = {
    "stop": (0, "rests: stop"),
    "caution": (2, "rests: caution"),
    "remark": (6, "rests: remark"),
}
_KINDS: Mapping[str, _Weight] = {
    "stimulus": (4, "stimulus"),
    "edit": (4, "edit"),
    "session": (4, "session"),
    "equipment": (5, "equipment"),
    "outcome": (5, "outcome"),
    "sign": (5, "sign"),
    "condition": (6, "condition"),
}
MOST_WEIGHT = 4
"""The rank up to which the dog's safety may hang on an entry."""
_REST: _Weight = (7, "other")
_ORDERS = frozenset({"stimulus", "equipment", "edit", "session"})
"""Kinds of phrase that change what counts of a rep or a session: a level, "collar off", "strike
that". An offer that has more of them than the reading asks a person to add what nobody may have
said, so it does not come before plainer ones (no source; docs/decisions.md has what was
measured)."""


class ReviewItem(FrozenModel):
    """Why an entry is to check: the smaller `rank`, the sooner. `whose` says in words which
    other dog it may be about, "" where none; `cause` is why it is not sure."""

    entry: str
    rank: int
    reason: ReviewReason
    whose: str = ""
    cause: CheckCause = "heard"

    @property
    def why(self) -> str:
        """Why it is not sure, and what hangs on it, in words."""
        return review_reason_words(self.reason, self.whose or check_cause_words(self.cause))

    @property
    def weighs(self) -> bool:
        """Whether the dog's safety may hang on it."""
        return self.rank <= MOST_WEIGHT


def offers(entry: Entry, heard: Iterable[str], interpret: Interpret) -> tuple[str, ...]:
    """Other readings to choose from than the current one, the likeliest first; but those that add
    an order or a level to it (`_ORDERS`) come after all that do not.

    `heard` are the words of every listener, in order.
    """
    others = dict.fromkeys((*entry.alternatives, *heard))
    phrases = {
        words: found
        for words in others
        if normalize(words) != entry.reading and (found := interpret(words))
    }
    if not entry.phrases:
        return tuple(phrases)  # there is nothing that they could add to
    said = Counter(phrase.kind for phrase in entry.phrases)

    def adds(words: str) -> bool:
        more = Counter(phrase.kind for phrase in phrases[words]) - said
        return not _ORDERS.isdisjoint(more)

    return tuple(sorted(phrases, key=adds))


def review_queue(
    entries: Sequence[Entry],
    findings: Sequence[Finding],
    interpret: Interpret,
    session: Session | None = None,
    *,
    cause: CheckCause = "heard",
) -> tuple[ReviewItem, ...]:
    """The entries to check, in the order in which to take them.

    `session` is the one that they fell in, where one was heard; `cause` is why its entries are not
    sure where nothing else is.
    """
    rests: dict[str, _Weight] = {}
    for finding in sorted(findings, key=lambda one: _precedence(_RESTS[one.severity])):
        if not finding.struck:
            for name in finding.evidence:
                rests.setdefault(name, _RESTS[finding.severity])
    found: list[tuple[int, float, ReviewItem]] = []
    for place, entry in enumerate(entries):
        if entry_word(entry) != CHECK:
            continue
        readings = [entry.phrases, *(interpret(words) or () for words in entry.alternatives)]
        weights = [_weight(phrase) for phrases in readings for phrase in phrases]
        rank, reason = min([*weights, rests.get(entry.id, _REST)], key=_precedence)
        whose = "" if session is None else _whose(session, entry)
        if whose:
            rank = min(rank, _KINDS["session"][0])
        why: CheckCause = "whose" if whose else _cause(entry, session, cause)
        if why == "typed" and follows_unread(entry, entries[:place]):
            why = "follows unread"
        item = ReviewItem(entry=entry.id, rank=rank, reason=reason, whose=whose, cause=why)
        found.append((rank, entry.start_s, item))
    found.sort(key=lambda one: one[:2])
    return tuple(item for _, _, item in found)


def _whose(session: Session, entry: Entry) -> str:
    """Why it is not sure whose an entry is, or whose the session; empty where both are."""
    if entry.stranger and any(isinstance(one, SessionDogPhrase) for one in entry.phrases):
        return whose_session_words(session)
    return other_dog_words(session, entry.id)


def _cause(entry: Entry, session: Session | None, usual: CheckCause) -> CheckCause:
    unit = None if session is None else session.dog.transmitter
    levels = [level for one in entry.phrases if (level := named_level(one)) is not None]
    if unit is not None and unit.top is not None and max(levels, default=0) > unit.top:
        return "beyond top"
    if unit is not None and levels and min(levels) < unit.lowest:
        return "under lowest"
    return usual


def _precedence(weight: _Weight) -> tuple[int, str]:
    """What comes first of two: the smaller rank, of the same rank what is said of it."""
    rank, reason = weight
    return rank, review_reason_words(reason)


def _weight(phrase: Phrase) -> _Weight:
    match phrase:
        case SignPhrase(class_="strong"):
            return 1, "strong sign"
        case EquipmentPhrase(contact="none") | EquipmentPhrase(skin="red" | "sore"):
            return 2, "contact or skin"
        case _ if named_level(phrase) is not None:
            return 3, "level"
    return _KINDS.get(phrase.kind, _REST)
