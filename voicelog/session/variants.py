"""Entries to sessions: the one function that decides what a reading does.

Doubt is settled by building twice. `with_doubtful` takes doubtful entries at their word,
`sure` passes over them; a rep that does not come out the same in both is doubtful.
`uncorrected` is built as if nothing had been struck or corrected, so that the safety rules
still see what happened. What was said in an utterance that calls another dog is doubtful,
however well it was heard: `with_other_dog_doubt` gives the entries with that doubt.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from voicelog.model import Entry, FrozenModel, Rep, Roster, Session
from voicelog.session.other_dogs import mark_doubtful
from voicelog.session.recording_builder import build_sessions

__all__ = ["SessionVariants", "assemble", "session_variants", "with_other_dog_doubt"]


_HELD = ("drill", "distraction", "distance", "distance_unit")


class SessionVariants(FrozenModel):
    """One session seen three ways; `sure` and `uncorrected` are what overlaps it in time."""

    with_doubtful: Session
    sure: tuple[Session, ...]
    uncorrected: tuple[Session, ...]


def assemble(
    entries: Sequence[Entry],
    roster: Roster,
    *,
    dog: str | None = None,
    temperature_unit: str = "C",
) -> tuple[Session, ...]:
    """The sessions of one recording's entries, in order, with doubtful reps marked.

    `entries` are in order of time. `dog` is the one worked while none was named by voice.
    """
    variants = session_variants(entries, roster, dog=dog, temperature_unit=temperature_unit)
    return tuple(variant.with_doubtful for variant in variants)


def session_variants(
    entries: Sequence[Entry],
    roster: Roster,
    *,
    dog: str | None = None,
    temperature_unit: str = "C",
    wore: Collection[str] = (),
) -> tuple[SessionVariants, ...]:
    """The same sessions, each with its other two variants, for the safety rules. `wore` as in
    `build_sessions`."""

    def built(include_doubtful: bool, apply_corrections: bool) -> tuple[Session, ...]:
        return build_sessions(
            entries,
            roster,
            dog=dog,
            temperature_unit=temperature_unit,
            include_doubtful=include_doubtful,
            apply_corrections=apply_corrections,
            wore=wore,
        )

    with_doubtful = built(True, True)
    if any(session.others for session in with_doubtful):
        entries = with_other_dog_doubt(entries, with_doubtful)
        with_doubtful = built(True, True)
    has_doubt = any(entry.status == "doubtful" for entry in entries)
    has_corrections = any(entry.voided or entry.target for entry in entries)
    sure = built(False, True) if has_doubt else with_doubtful
    uncorrected = built(True, False) if has_corrections else with_doubtful
    if has_doubt:
        with_doubtful = _with_doubt(with_doubtful, sure)
    return tuple(
        SessionVariants(
            with_doubtful=session,
            sure=_overlapping(session, sure),
            uncorrected=_overlapping(session, uncorrected),
        )
        for session in with_doubtful
    )


def with_other_dog_doubt(
    entries: Sequence[Entry], sessions: Sequence[Session]
) -> tuple[Entry, ...]:
    """The entries as these sessions take them: doubtful where another dog may be meant."""
    return mark_doubtful(entries, {name for session in sessions for name in session.others})


def _with_doubt(
    with_doubtful: tuple[Session, ...], sure: tuple[Session, ...]
) -> tuple[Session, ...]:
    certain = {_essence(rep): rep for session in sure for rep in session.reps}

    def compared(rep: Rep) -> Rep:
        same = certain.get(_essence(rep))
        if same is None:
            return rep.model_copy(update={"doubtful": True, "doubts": (*rep.doubts, "words")})
        unsure = {name: None for name in _HELD if getattr(rep, name) != getattr(same, name)}
        return rep.model_copy(update=unsure) if unsure else rep

    return tuple(
        session.model_copy(update={"reps": tuple(map(compared, session.reps))})
        for session in with_doubtful
    )


def _essence(rep: Rep) -> str:
    """What was told of the rep itself: not its place in the count, nor what held around it.

    A condition heard in doubt is not said for sure, so it is null; the rep may still count.
    """
    left_out = dict.fromkeys(_HELD) | {"session": "", "number": 0, "id": ""}
    return rep.model_copy(update=left_out).model_dump_json()


def _overlapping(session: Session, others: tuple[Session, ...]) -> tuple[Session, ...]:
    same = tuple(other for other in others if other.id == session.id)
    return same or tuple(
        other
        for other in others
        if other.start_s <= session.end_s and other.end_s >= session.start_s
    )
