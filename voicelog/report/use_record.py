"""The record of use: one row for each session in which a collar was used.

Some laws ask the holder of a permit to write down each use of such a collar, for instance
the Swiss animal protection ordinance (TSchV Art. 76(4), as of 14 July 2020): date, reason,
client, a description and identification of the dog, and the result. Check the current text
of the law that holds for you; this is a help to keep it, not legal advice.

Reason, client and identification are not spoken in the field. They are what was given
beside the log, and stay empty where nothing was; nothing here is made up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime

from voicelog.model import CONTRACT_VERSION, Dog, Finding, FrozenModel, Session
from voicelog.report.rep_counts import count_lines
from voicelog.report.state_words import TO_CHECK, VOID
from voicelog.report.tables import write_rows
from voicelog.report.words import clean, counted

__all__ = ["USE_COLUMNS", "UseRecord", "use_record", "uses_csv"]

USE_COLUMNS = (
    "format", "session", "date", "reason", "client", "dog", "identification", "born", "handler",
    "transmitter_top", "uses", "result", "findings", "unclear",
)  # fmt: skip
"""Columns of `uses_csv`. `uses` are the presses by mode and level, "continuous 2 x3"; those
to check are among them and counted again in `unclear`, so that a record never says
less than what may have happened."""

_WORKED = ("vibrate", "tone", "momentary", "continuous")


class UseRecord(FrozenModel):
    """One session's row. Empty where it was not said or not given."""

    format: int = CONTRACT_VERSION
    session: str
    date: str
    reason: str
    client: str
    dog: str
    identification: str
    born: str
    handler: str
    transmitter_top: int | None
    """None where it is not known."""
    uses: str
    result: str
    findings: str
    unclear: str


def use_record(
    session: Session,
    findings: Iterable[Finding],
    began: datetime | None,
    *,
    reason: str = "",
    today: Dog | None = None,
) -> UseRecord | None:
    """The record of a session; None where no collar was used.

    Args:
        findings: of any session; those of this one are taken.
        began: wall clock when the session began, None when not known.
        reason: why the collar was used, as given by the person who exports.
        today: the dog's profile as it is now, for a client and an identification that were
            not given yet when the session was heard.
    """
    presses = [mark for mark in session.marks if mark.kind == "press" and mark.name in _WORKED]
    if not presses:
        return None
    dog = session.dog
    used = Counter(
        mark.name if mark.value is None else f"{mark.name} {mark.value}"
        for mark in sorted(presses, key=lambda mark: (mark.name, int(mark.value or 0)))
    )
    unsure = {rep.number for rep in session.reps if rep.doubtful}
    doubtful = sum(mark.rep in unsure for mark in presses)
    return UseRecord(
        session=session.id,
        date="" if began is None else began.isoformat(sep=" ", timespec="minutes"),
        reason=clean(reason),
        client=clean(dog.client or (today.client if today else "")),
        dog=clean(dog.name),
        identification=clean(dog.identification or (today.identification if today else "")),
        born="" if dog.born is None else dog.born.isoformat(),
        handler=clean(session.condition("handler") or ""),
        transmitter_top=dog.transmitter.top,
        uses="; ".join(f"{what} x{times}" for what, times in used.items()),
        result=clean("; ".join(count_lines(session))),
        findings="; ".join(
            f"{finding.severity}: {clean(finding.message)}{f' ({VOID})' if finding.struck else ''}"
            for finding in findings
            if finding.session == session.id and finding.severity != "remark"
        ),
        unclear=f"{counted(doubtful, 'press', 'presses')} {TO_CHECK}" if doubtful else "",
    )


def uses_csv(uses: Iterable[UseRecord]) -> str:
    """Rows with a heading, guarded as every table here; lines end in CR LF. `uses` are in the order
    of the lines."""
    return write_rows(USE_COLUMNS, (use.model_dump() for use in uses))
