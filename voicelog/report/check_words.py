"""What `check` says: each thing that is not as it was kept, and how the newest backup stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from voicelog.report.words import Face, clean, counted, day, listed
from voicelog.store.backup_proof import BackupProof
from voicelog.store.chain import ChainFault
from voicelog.store.integrity import IntegrityReport

__all__ = ["ACCEPT_NOT_SURE", "backup_words", "check_lines", "fault_lines", "sound_lines"]

ACCEPT_NOT_SURE = (
    "Found the tick for why it is another or an older one missing, wanted it; check the log first, "
    "and tick it only where you know why."
)
_NOUNS = {
    "recordings": ("recording", "recordings"),
    "events": ("event", "events"),
    "profiles": ("version of the roster", "versions of the roster"),
    "matter_events": ("closing of a matter", "closings of matters"),
    "tombstones": ("deletion", "deletions"),
}
_BACK: Mapping[Face, str] = {
    "terminal": "take it back from a backup ('voicelog restore')",
    "page": "take it back from a backup, under Add recordings",
}
_ACCEPT: Mapping[Face, str] = {
    "terminal": "if that is right, say so with 'voicelog check --accept'",
    "page": "if that is right, accept it below",
}


def check_lines(
    stored: IntegrityReport,
    aside: Sequence[str],
    backup: BackupProof | None,
    face: Face = "terminal",
) -> Iterator[tuple[str, bool]]:
    """Each line of what a check found, and whether that is as it should be. `aside` says of each
    recording that is set aside why; `face` is where it is read."""
    held = f"{counted(stored.recordings, 'recording')} with {counted(stored.events, 'event')}"
    yield f"{held}: the database is whole.", True
    for name in stored.half:
        yield (
            f"{clean(name)} is only half added; complete it with 'voicelog add', or delete it with "
            "'voicelog delete half'.",
            False,
        )
    for why in aside:
        yield clean(why), False
    for line in fault_lines(stored, face):
        yield line, False
    yield backup_words(backup)
    for line in sound_lines(stored.missing, stored.changed):
        yield line, False


def sound_lines(missing: Iterable[str], changed: Iterable[str]) -> Iterator[str]:
    """A line for each sound that is not as it was: `missing`, or `changed`."""
    for name in missing:
        yield f"the sound of {name} is not there any more; take it back from a backup."
    for name in changed:
        yield (
            f"the sound of {name} is not what it was when it was kept; take it back from a backup."
        )


def fault_lines(found: IntegrityReport, face: Face = "terminal") -> Iterator[str]:
    """A sentence for each thing that `found` says is not as it was kept, as the `face` says it."""
    if found.odd:
        names = clean(listed(found.odd[:4]))
        yield f"the database is not built as voicelog builds it ({names}); {_BACK[face]}."
    for fault in found.faults:
        yield _fault_line(fault, face)
    if found.altered:
        many = counted(found.altered, "roster, profile or setting", "rosters, profiles or settings")
        yield f"{many} of recordings changed since they were kept; {_BACK[face]}."
    for name in found.loose[:10]:
        yield f"the sound {clean(name)} belongs to no recording; move it out of the log's folder."
    if len(found.loose) > 10:
        yield f"{len(found.loose) - 10} more files of sound belong to no recording."


def backup_words(proof: BackupProof | None) -> tuple[str, bool]:
    """How the newest backup stands, as a sentence, and whether that is as it should be."""
    if proof is None:
        return "No backup of this log is known: make one with 'voicelog backup'.", True
    what = f"The newest backup ({clean(proof.note.file)}, {day(proof.note.made_at)})"
    if not proof.there:
        last = proof.note.proven_at
        before = f"was proven to restore on {day(last)}" if last else "was never proven to restore"
        return f"{what} is not there now; it {before}.", True
    if proof.fault is not None:
        return f"{what} does not restore ({clean(proof.fault)}): make another.", False
    held = f"{counted(proof.recordings, 'recording')} and {counted(proof.events, 'event')}"
    return f"{what} was proven to restore just now: {held}.", True


def _fault_line(fault: ChainFault, face: Face) -> str:
    back, accept = _BACK[face], _ACCEPT[face]
    one, more = _NOUNS.get(fault.table, ("link", "links"))
    many = counted(fault.count, one, more)
    was = "was" if fault.count == 1 else "were"
    match fault.kind:
        case "edited":
            return f"{many} {was} changed by another program than voicelog; {back}."
        case "removed":
            return f"{many} {was} removed without being deleted in voicelog; {back}."
        case "added":
            return f"{many} {was} put in by another program than voicelog; {back}."
        case "broken":
            return (
                f"the chain of what was kept does not hold at {many}: rows of it were changed, "
                f"removed or put in another order; {back}."
            )
        case "shorter":
            return f"the log holds less than it has held before; {back}, or, {accept}."
        case "other device":
            return (
                f"the database is not the one that was in this folder before; {back}, or, {accept}."
            )
