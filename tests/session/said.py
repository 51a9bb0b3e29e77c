"""Entries from lines of words, for tests: what was said, when, and how surely."""

from __future__ import annotations

from voicelog.grammar.grammar import Grammar
from voicelog.model import Dog, Entry, Event, Rep, Roster, Session, Utterance, Verdict
from voicelog.session.entries import fold
from voicelog.session.spoken_edits import resolve_spoken_edit
from voicelog.session.variants import assemble

ROSTER = Roster(
    dogs=(Dog(name="Bracken"), Dog(name="Wren", cues=("here", "heel"))), handlers=("Anna", "Joe")
)
GRAMMAR = Grammar.load(roster=ROSTER)


def said(*lines: str, roster: Roster = ROSTER, dog: str | None = None) -> tuple[Entry, ...]:
    """Entries from the lines that `kept` describes."""
    grammar = GRAMMAR if roster is ROSTER else Grammar.load(roster=roster)
    return fold(kept(*lines, roster=roster, dog=dog), grammar.interpret)


def kept(*lines: str, roster: Roster = ROSTER, dog: str | None = None) -> list[Event]:
    """Events from lines "[start_s] words", each 1 s long; without a start 3 s after the last.

    Line number n becomes the utterance u00n with the verdict v00n.

    A leading "?" marks a line doubtful, "x" a rejected one. Spoken edits are committed as
    they come, as in the intake.
    """
    grammar = GRAMMAR if roster is ROSTER else Grammar.load(roster=roster)
    events: list[Event] = []
    entries: tuple[Entry, ...] = ()
    start = 0.0
    for index, line in enumerate(lines):
        head, _, rest = line.partition(" ")
        if head.replace(".", "").isdigit():
            start, line = float(head), rest
        status = {"?": "doubtful", "x": "rejected"}.get(line[0], "accepted")
        words = line.lstrip("?x ") if status != "accepted" else line
        assert status == "rejected" or grammar.interpret(words) is not None, words
        name = f"u{index:03d}"
        before = entries
        events.append(Utterance(id=name, recording="r", start_s=start, end_s=start + 1))
        events.append(
            Verdict.model_validate(
                {
                    "id": f"v{index:03d}",
                    "utterance": name,
                    "status": status,
                    "words": words,
                    "confidence": {"accepted": 0.9, "doubtful": 0.5, "rejected": 0.0}[status],
                    "judge": "test",
                }
            )
        )
        entries = fold(events, grammar.interpret)
        action = resolve_spoken_edit(entries[-1], before, roster, dog=dog)
        if action is not None:
            events.append(action)
            entries = fold(events, grammar.interpret)
        start += 3.0
    return events


def session_of(*lines: str, roster: Roster = ROSTER, dog: str | None = "Bracken") -> Session:
    """The only session that the lines make."""
    (session,) = assemble(said(*lines, roster=roster, dog=dog), roster, dog=dog)
    return session


def reps_of(*lines: str, roster: Roster = ROSTER, dog: str | None = "Bracken") -> tuple[Rep, ...]:
    """The reps of the only session that the lines make."""
    return tuple(session_of(*lines, roster=roster, dog=dog).reps)


def short(rep: Rep) -> str:
    """A rep in one line: number, mode, levels, outcome, signs, marks."""
    trace = " ".join(str(mark.level) for mark in rep.levels)
    parts = [str(rep.number), rep.mode, trace, str(rep.outcome), ", ".join(rep.signs)]
    parts += [name for name in ("doubtful", "void") if getattr(rep, name)]
    return " | ".join(parts)
