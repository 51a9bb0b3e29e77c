"""What `check` says: each thing that is not as it was kept, and how the newest backup stands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from voicelog.report.words import clean, counted, day, listed
from voicelog.store.backup_proof import BackupProof
from voicelog.store.chain import ChainFault
from voicelog.store.integrity import IntegrityReport

__all__ = ["backup_words", "check_lines", "fault_lines", "sound_lines"]

_NOUNS = {
    "recordings": ("recording", "recordings"),
    "events": ("event", "events"),
    "profiles": ("version of the roster", "versions of the roster"),
    "matter_events": ("closing of a matter", "closings of matters"),
    "tombstones": ("deletion", "deletions"),
}
_BACK = "take it back from a backup ('voicelog restore')"
_ACCEPT = "if that is right, say so with 'voicelog check --accept'"


def check_lines(
    stored: IntegrityReport, aside: Sequence[str], backup: BackupProof | None
) -> Iterator[tuple[str, bool]]:
    """Each line of what a check found, and whether that is as it should be. `aside` says of each
    recording that is set aside why."""
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
    for line in fault_lines(stored):
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


def fault_lines(found: IntegrityReport) -> Iterator[str]:
    """A sentence for each thing that `found` says is not as it was kept."""
    if found.odd:
        names = clean(listed(found.odd[:4]))
        yield f"the database is not built as voicelog builds it ({names}); {_BACK}."
    yield from map(_fault_line, found.faults)
    if found.altered:
        many = counted(found.altered, "roster, profile or setting", "rosters, profiles or settings")
        yield f"{many} of recordings changed since they were kept; {_BACK}."
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


def _fault_line(fault: ChainFault) -> str:
    one, more = _NOUNS.get(fault.table, ("link", "links"))
    many = counted(fault.count, one, more)
    was = "was" if fault.count == 1 else "were"
    match fault.kind:
        case "edited":
            return f"{many} {was} changed by another program than voicelog; {_BACK}."
        case "removed":
            return f"{many} {was} removed without being deleted in voicelog; {_BACK}."
        case "added":
            return f"{many} {was} put in by another program than voicelog; {_BACK}."
        case "broken":
            return (
                f"the chain of what was kept does not hold at {many}: rows of it were changed, "
                f"removed or put in another order; {_BACK}."
            )
        case "shorter":
            return f"the log holds less than it has held before; {_BACK}, or, {_ACCEPT}."
        case "other device":
            return (
                "the database is not the one that was in this folder before; "
                f"{_BACK}, or, {_ACCEPT}."
            )
