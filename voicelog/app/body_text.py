"""What was derived of a recording, as the text that the cache holds.

After a correction nearly all entries, reps, marks and findings are the very objects that they were.
Each is made to text once, and the whole is put together of these; it reads as what it was made of.
"""

from __future__ import annotations

from collections.abc import Iterable

from voicelog.model import EntryOutput, Finding, FrozenModel, Mark, RecordingOutput, Rep, Session
from voicelog.model.same_object import once_per_object

__all__ = ["recording_text", "session_text"]


def recording_text(line: RecordingOutput) -> str:
    """A recording's part of the contract, as JSON; the order of its names is not kept."""
    return _with_parts(
        line,
        entries=map(_entry_text, line.entries),
        reps=map(_rep_text, line.reps),
        findings=map(_finding_text, line.findings),
    )


def session_text(page: FrozenModel, session: Session, findings: Iterable[Finding]) -> str:
    """A `page` with its `session` and `findings`, as JSON, like `recording_text`."""
    inner = _with_parts(
        session, marks=map(_mark_text, session.marks), reps=map(_rep_text, session.reps)
    )
    light = page.model_dump_json(by_alias=True, exclude={"session", "findings"})
    return f'{light[:-1]},"session":{inner},"findings":[{",".join(map(_finding_text, findings))}]}}'


def _with_parts(whole: FrozenModel, **parts: Iterable[str]) -> str:
    light = whole.model_dump_json(by_alias=True, exclude=set(parts))
    lists = "".join(f',"{name}":[{",".join(texts)}]' for name, texts in parts.items())
    return f"{light[:-1]}{lists}}}"


@once_per_object
def _entry_text(one: EntryOutput) -> str:
    return one.model_dump_json(by_alias=True)


@once_per_object
def _rep_text(one: Rep) -> str:
    return one.model_dump_json(by_alias=True)


@once_per_object
def _mark_text(one: Mark) -> str:
    return one.model_dump_json(by_alias=True)


@once_per_object
def _finding_text(one: Finding) -> str:
    return one.model_dump_json(by_alias=True)
