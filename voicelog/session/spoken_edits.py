"""What a spoken edit aims at, settled once, when it is committed.

"strike that" aims at the last note that was understood; said again, at the one before;
said in the breath of a note, at the words before it (its own id). "strike rep N" and
"correction" aim at a rep. The answer is an action with an id, so it
does not move when earlier entries are corrected later.

In typed notes a line that was not understood may be what is taken back: there `follows_unread`
says where nobody knows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from voicelog.model import Action, Entry, Rep, Roster
from voicelog.model.phrases import EditPhrase, StrikeRepPhrase
from voicelog.session.variants import VariantsWalk

__all__ = ["aim_at_rep", "follows_unread", "resolve_spoken_edit", "struck_note"]

_NOT_STRUCK = frozenset({"edit", "ask"})
_OPENS_REP = frozenset({"cue", "stimulus"})


def resolve_spoken_edit(
    entry: Entry,
    before: Sequence[Entry],
    roster: Roster,
    *,
    dog: str | None = None,
    walk: VariantsWalk | None = None,
) -> Action | None:
    """The action that an accepted entry's spoken edit asks for, or None.

    `before` are the entries committed until then, in order of time. `walk` is one of this roster
    and dog that goes on from where it was asked last.
    """
    walk = walk or VariantsWalk(roster, dog=dog)
    if entry.status != "accepted" or entry.voided:
        return None
    for place, phrase in enumerate(entry.phrases):
        if not isinstance(phrase, EditPhrase | StrikeRepPhrase):
            continue
        so_far = [*before, entry.model_copy(update={"phrases": entry.phrases[:place]})]
        match phrase:
            case EditPhrase(do="strike"):
                return _aim("void", entry, _last_note(so_far))
            case EditPhrase(do="flag"):
                return _aim("flag", entry, _last_note(so_far))
            case StrikeRepPhrase(rep=number):
                reps = _last_reps(before, so_far, walk)
                named = next((rep for rep in reps if rep.number == number), None)
                return _aim_at_rep("void", entry, named)
            case EditPhrase(do="correct"):
                reps = _last_reps(before, so_far, walk)
                last = next((rep for rep in reversed(reps) if not rep.void), None)
                return _aim_at_rep("amend", entry, last)
            case _:
                pass
    return None


def follows_unread(entry: Entry, before: Sequence[Entry]) -> bool:
    """Whether an entry takes back the last note or rep, of its own breath none, and something that
    was not understood came after the last note before it, which is what it would aim at.

    `entry` is one of any status; `before` are those before it, in order of time. Spoken, what was
    not understood is mostly talk, and this is not asked.
    """
    for place, phrase in enumerate(entry.phrases):
        if isinstance(phrase, EditPhrase) and phrase.do in ("strike", "correct"):
            own = {one.kind for one in entry.phrases[:place]}
            if own & _OPENS_REP if phrase.do == "correct" else own - _NOT_STRUCK:
                return False
            for one in reversed(before):
                if one.status == "rejected" or _may_be_struck(one):
                    return one.status == "rejected"
            return False
    return False


def struck_note(entry: Entry, before: Sequence[Entry]) -> str | None:
    """The id of the note that a sure "strike that" strikes, its own where it is of the same breath;
    None for another entry, and where there is no note. Arguments as for `follows_unread`."""
    for place, phrase in enumerate(entry.phrases):
        if isinstance(phrase, EditPhrase | StrikeRepPhrase):
            if entry.status != "accepted" or phrase.do != "strike":
                return None
            return _last_note(
                [*before, entry.model_copy(update={"phrases": entry.phrases[:place]})]
            )
    return None


def _aim(action: str, entry: Entry, target: str | None, value: str | None = None) -> Action | None:
    if target is None:
        return None
    said = f"{action} {entry.id} {entry.reading} {value or target}"
    return Action.model_validate(
        {
            "id": f"a-{hashlib.sha256(said.encode()).hexdigest()[:16]}",
            "action": action,
            "target": target,
            "cause": entry.id,
            "value": value,
            "by": "listener",
        }
    )


def aim_at_rep(entry: Entry, rep: str) -> Action | None:
    """What aims a correction (`entry`) at the rep of that id, whichever it is."""
    return _aim("amend", entry, rep.rpartition(".")[0], rep)


def _aim_at_rep(action: str, entry: Entry, rep: Rep | None) -> Action | None:
    """Events aim at events: the target is the entry that opened the rep, the value its id."""
    return _aim(action, entry, rep.id.rpartition(".")[0], rep.id) if rep else None


def _last_note(before: Sequence[Entry]) -> str | None:
    return next((entry.id for entry in reversed(before) if _may_be_struck(entry)), None)


def _may_be_struck(entry: Entry) -> bool:
    return (
        entry.status != "rejected"
        and not entry.voided
        and any(phrase.kind not in _NOT_STRUCK for phrase in entry.phrases)
    )


def _last_reps(
    before: Sequence[Entry], so_far: Sequence[Entry], walk: VariantsWalk
) -> Sequence[Rep]:
    walk.variants(before)  # these stay as they are: the walk goes on from them next time
    sessions = walk.variants(so_far)
    return sessions[-1].with_doubtful.reps if sessions else ()
