"""What is to check, and in which order: what weighs on the dog first, then by time.

An entry is weighed by the worst that it may have said, be that its reading or another one on
offer, and by the findings that rest on it. The evening has a budget; what goes beyond it may
stay unread, and uncounted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from voicelog.model import Entry, Finding, Phrase, Session, Severity
from voicelog.model.phrases import EquipmentPhrase, SignPhrase, named_level
from voicelog.report.state_words import CHECK, entry_word
from voicelog.report.summary_rows import other_dog_words
from voicelog.session.entries import Interpret

__all__ = ["ReviewItem", "offers", "review_queue"]

_SEVERITY: Mapping[Severity, tuple[int, str]] = {
    "stop": (0, "a stop rests on it"),
    "caution": (1, "a caution rests on it"),
    "remark": (5, "a remark rests on it"),
}
_KINDS: Mapping[str, tuple[int, str]] = {
    "stimulus": (3, "says what the button did"),
    "edit": (3, "takes something back or changes it"),
    "session": (3, "says which dog it is"),
    "equipment": (4, "is about collar or skin"),
    "outcome": (4, "says how a rep ended"),
    "sign": (4, "says what the body showed"),
    "condition": (5, "holds until changed"),
}
_REST = (6, "")


class ReviewItem:
    """Why an entry is to check: the smaller `rank`, the sooner."""

    def __init__(self, entry: str, rank: int, why: str) -> None:
        self.entry, self.rank, self.why = entry, rank, why

    @property
    def weighs(self) -> bool:
        """Whether the dog's safety may hang on it."""
        return self.rank <= 3


def offers(entry: Entry, heard: Iterable[str], interpret: Interpret) -> tuple[str, ...]:
    """Other readings to choose from than the current one.

    `heard` are the words of every listener, in order.
    """
    others = dict.fromkeys((*entry.alternatives, *heard))
    return tuple(words for words in others if words != entry.reading and interpret(words))


def review_queue(
    entries: Sequence[Entry],
    findings: Sequence[Finding],
    interpret: Interpret,
    session: Session | None = None,
) -> tuple[ReviewItem, ...]:
    """The entries to check, in the order in which to take them.

    `session` is the one that they fell in, where one was heard.
    """
    rests: dict[str, tuple[int, str]] = {}
    for finding in findings:
        if not finding.struck:
            for name in finding.evidence:
                rests[name] = min(_SEVERITY[finding.severity], rests.get(name, _REST))
    found: list[tuple[int, float, ReviewItem]] = []
    for entry in entries:
        if entry_word(entry) != CHECK:
            continue
        readings = [entry.phrases, *(interpret(words) or () for words in entry.alternatives)]
        weights = [_weight(phrase) for phrases in readings for phrase in phrases]
        rank, why = min([*weights, rests.get(entry.id, _REST)], default=_REST)
        if session is not None and (whose := other_dog_words(session, entry.id)):
            rank, why = min(rank, _KINDS["session"][0]), "; ".join(filter(None, (whose, why)))
        found.append((rank, entry.start_s, ReviewItem(entry.id, rank, why)))
    found.sort(key=lambda one: one[:2])
    return tuple(item for _, _, item in found)


def _weight(phrase: Phrase) -> tuple[int, str]:
    match phrase:
        case SignPhrase(class_="strong"):
            return 0, "may be a strong sign of stress"
        case EquipmentPhrase(contact="none") | EquipmentPhrase(skin="red" | "sore"):
            return 1, "may be about contact or skin"
        case _ if named_level(phrase) is not None:
            return 2, "names a level"
    return _KINDS.get(phrase.kind, _REST)
