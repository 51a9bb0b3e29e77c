"""What a spoken edit aims at, settled once, when it is committed.

"strike that" aims at the last note that was understood; said again, at the one before;
said in the breath of a note, at the words before it (its own id). "strike rep N" and
"correction" aim at a rep. The answer is an action with an id, so it
does not move when earlier entries are corrected later.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from voicelog.model import Action, Entry, Rep, Roster
from voicelog.session.assemble import assemble

__all__ = ["spoken_action"]

_NOT_STRUCK = frozenset({"edit", "ask"})


def spoken_action(
    entry: Entry, before: Sequence[Entry], roster: Roster, *, dog: str | None = None
) -> Action | None:
    """The action that an accepted entry's spoken edit asks for, or None.

    `before` are the entries committed until then, in order of time.
    """
    if entry.status != "accepted" or entry.voided:
        return None
    for place, phrase in enumerate(entry.phrases):
        if phrase.kind != "edit":
            continue
        so_far = [*before, entry.model_copy(update={"phrases": entry.phrases[:place]})]
        match phrase.slots:
            case {"do": "strike"}:
                return _aim("void", entry, _last_note(so_far))
            case {"do": "flag"}:
                return _aim("flag", entry, _last_note(so_far))
            case {"do": "strike rep", "rep": number}:
                reps = _last_reps(so_far, roster, dog)
                named = next((rep.id for rep in reps if rep.number == number), None)
                return _aim("void", entry, named)
            case {"do": "correct"}:
                reps = _last_reps(so_far, roster, dog)
                return _aim(
                    "amend", entry, next((r.id for r in reversed(reps) if not r.void), None)
                )
            case _:
                pass
    return None


def _aim(action: str, entry: Entry, target: str | None) -> Action | None:
    if target is None:
        return None
    digest = hashlib.sha256(f"{action} {entry.id} {entry.reading} {target}".encode()).hexdigest()
    return Action.model_validate(
        {
            "id": f"a-{digest[:16]}",
            "action": action,
            "target": target,
            "cause": entry.id,
            "by": "listener",
        }
    )


def _last_note(before: Sequence[Entry]) -> str | None:
    return next(
        (
            entry.id
            for entry in reversed(before)
            if entry.status != "rejected"
            and not entry.voided
            and any(phrase.kind not in _NOT_STRUCK for phrase in entry.phrases)
        ),
        None,
    )


def _last_reps(before: Sequence[Entry], roster: Roster, dog: str | None) -> tuple[Rep, ...]:
    sessions = assemble(before, roster, dog=dog)
    return sessions[-1].reps if sessions else ()
