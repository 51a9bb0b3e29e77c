"""Entries to sessions: the one function that decides what a reading does.

Doubt is settled by building twice. `with_doubtful` takes doubtful entries at their word,
`sure` passes over them; a rep that does not come out the same in both is doubtful.
`uncorrected` is built as if nothing had been struck or corrected, so that the safety rules
still see what happened. What was said in an utterance that calls another dog is doubtful,
however well it was heard: `with_other_dog_doubt` gives the entries with that doubt.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import chain, takewhile

from voicelog.model import Entry, FrozenModel, Mark, Rep, Roster, Session
from voicelog.model.grown import Grown, same_until
from voicelog.session.other_dogs import mark_doubtful
from voicelog.session.recording_builder import BegunByStranger, SessionsWalk, no_stranger
from voicelog.session.session_builder import ToldReps

__all__ = [
    "SessionVariants",
    "VariantsWalk",
    "assemble",
    "session_variants",
    "with_other_dog_doubt",
]


_HELD = ("drill", "distraction", "distance", "distance_unit")


class SessionVariants(FrozenModel):
    """One session seen three ways; `sure` and `uncorrected` are what overlaps it in time."""

    with_doubtful: Session
    sure: tuple[Session, ...]
    uncorrected: tuple[Session, ...]

    @property
    def doubtful(self) -> frozenset[str]:
        """The entries of the session of which nothing is left without doubt."""
        here = self.with_doubtful
        if any(one is here for one in self.sure):
            return frozenset()
        certain = {mark.entry for one in self.sure for mark in one.marks}
        return frozenset(mark.entry for mark in here.marks if mark.entry not in certain)


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
    `SessionsWalk`."""
    return VariantsWalk(roster, dog=dog, temperature_unit=temperature_unit).variants(entries, wore)


class VariantsWalk:
    """Sessions in their three variants, each time there are more entries. `roster`, `dog` and
    `temperature_unit` are those of `session_variants`, which is this asked once; `even` and
    `by_stranger` are those of `SessionsWalk`."""

    def __init__(
        self,
        roster: Roster,
        *,
        dog: str | None = None,
        temperature_unit: str = "C",
        even: int | None = None,
        by_stranger: BegunByStranger = no_stranger,
    ) -> None:
        marks: dict[tuple[object, ...], Mark] = {}

        def walk(include_doubtful: bool, apply_corrections: bool) -> SessionsWalk:
            return SessionsWalk(
                roster,
                dog=dog,
                temperature_unit=temperature_unit,
                include_doubtful=include_doubtful,
                apply_corrections=apply_corrections,
                even=even,
                by_stranger=by_stranger,
                told=ToldReps(marks),
            )

        self._as_heard, self._believed = walk(True, True), walk(True, True)
        self._sure, self._uncorrected = walk(False, True), walk(True, False)
        self._marked: dict[int, tuple[Entry, Entry]] = {}
        self.ended = False
        self._compared = _ComparedReps()

    def variants(
        self, entries: Sequence[Entry], wore: Collection[str] = ()
    ) -> tuple[SessionVariants, ...]:
        """The sessions of these entries, in order of time, in their variants."""
        entries = entries if isinstance(entries, Grown) else tuple(entries)
        walk = self._as_heard
        with_doubtful = walk.sessions(entries, wore)
        if any(session.others for session in with_doubtful):
            entries = self.as_taken(entries, with_doubtful)
            walk = self._believed
            with_doubtful = walk.sessions(entries, wore)
        self.ended = walk.ended
        sure = self._sure.sessions(entries, wore) if walk.has_doubt else with_doubtful
        uncorrected = with_doubtful
        if walk.has_corrections:
            uncorrected = self._uncorrected.sessions(entries, wore)
        if walk.has_doubt:
            with_doubtful = self._compared.sessions(with_doubtful, sure)
        return tuple(
            SessionVariants(
                with_doubtful=session,
                sure=_overlapping(session, sure),
                uncorrected=_overlapping(session, uncorrected),
            )
            for session in with_doubtful
        )

    def as_taken(self, entries: Sequence[Entry], sessions: Sequence[Session]) -> Sequence[Entry]:
        """The entries as these sessions take them, the same entry for the same each time; see
        `with_other_dog_doubt`."""
        if not any(session.others for session in sessions):
            return entries
        doubtful = with_other_dog_doubt(entries, sessions)
        marked = dict(self._marked)
        self._marked = {
            id(entry): marked.get(id(entry), (entry, other))
            for entry, other in zip(entries, doubtful, strict=True)
            if other is not entry
        }
        return tuple(
            self._marked[id(entry)][1] if id(entry) in self._marked else entry for entry in entries
        )


def with_other_dog_doubt(
    entries: Sequence[Entry], sessions: Sequence[Session]
) -> tuple[Entry, ...]:
    """The entries as these sessions take them: doubtful where another dog may be meant."""
    return mark_doubtful(entries, {name for session in sessions for name in session.others})


class _ComparedReps:
    """The reps that doubt bears on, found by what was told of each with and without it.

    What is known of reps goes by their place among those of all sessions. Only those are looked at
    again that are new, or that what is new without doubt may be the same as.
    """

    def __init__(self) -> None:
        self._believed, self._sure = _EssencesWalk(), _EssencesWalk()
        self._compared: Grown[Rep] = Grown()
        self._sessions: dict[str, tuple[Session, Session]] = {}
        self._made: dict[str, tuple[Rep, Rep | None, Rep]] = {}

    def sessions(
        self, with_doubtful: tuple[Session, ...], sure: tuple[Session, ...]
    ) -> tuple[Session, ...]:
        """The sessions with the reps marked of which `sure` has no same."""
        _, now_sure = self._sure.take(sure)
        first, _ = self._believed.take(with_doubtful)
        places = (self._believed.first_place(essence) for essence in now_sure)
        first = min([first, *(place for place in places if place is not None)])
        later = self._believed.told[first:]
        self._compared = self._compared.then(
            first, (self._compared_with(rep, self._sure.rep(essence)) for rep, essence in later)
        )
        marked, place = [], 0
        for session in with_doubtful:
            marked.append(self._marked(session, place, first))
            place += len(session.reps)
        self._sessions = {
            session.id: (session, made) for session, made in zip(with_doubtful, marked, strict=True)
        }
        return tuple(marked)

    def _compared_with(self, rep: Rep, same: Rep | None) -> Rep:
        known = self._made.get(rep.id)
        if known is None or known[0] is not rep or known[1] is not same:
            known = self._made[rep.id] = rep, same, _compared(rep, same)
        return known[2]

    def _marked(self, session: Session, place: int, first: int) -> Session:
        """The session, whose reps begin at that place, with what was found of each; the reps before
        the place `first` are as they were."""
        before, made = self._sessions.get(session.id, (None, None))
        then: Grown[Rep] = Grown() if made is None else made.reps
        start = min(max(first - place, 0), len(session.reps))
        now = then.then(start, self._compared[place + start : place + len(session.reps)])
        if made is not None and before is session and now == then:
            return made
        return session.model_copy(update={"reps": now})


class _EssencesWalk:
    """The reps of all sessions in a row, each with what was told of it, and where that is found."""

    def __init__(self) -> None:
        self.told: Grown[tuple[Rep, str]] = Grown()
        self._sessions: tuple[Session, ...] = ()
        self._places: dict[str, list[int]] = {}
        self._known: dict[str, tuple[Rep, str]] = {}

    def take(self, sessions: tuple[Session, ...]) -> tuple[int, set[str]]:
        """Go on to these sessions: from which place on the reps are not as before, and what was
        told of those from there on, before and now."""
        pairs = zip(sessions, self._sessions, strict=False)
        alike = tuple(takewhile(lambda pair: pair[0] is pair[1], pairs))
        at = len(alike)
        same = 0
        if at < min(len(sessions), len(self._sessions)):
            same = same_until(sessions[at].reps, self._sessions[at].reps)
        first = sum(len(session.reps) for session, _ in alike) + same
        later = chain(
            *(session.reps[same:] for session in sessions[at : at + 1]),
            *(session.reps for session in sessions[at + 1 :]),
        )
        new = [(rep, self._essence(rep)) for rep in later]
        gone = self.told[first:]
        for _, essence in reversed(gone):
            self._places[essence].pop()
        for place, (_, essence) in enumerate(new, first):
            self._places.setdefault(essence, []).append(place)
        self.told, self._sessions = self.told.then(first, new), sessions
        return first, {essence for _, essence in (*gone, *new)}

    def _essence(self, rep: Rep) -> str:
        known = self._known.get(rep.id)
        if known is None or known[0] is not rep:
            known = self._known[rep.id] = rep, _essence(rep)
        return known[1]

    def first_place(self, essence: str) -> int | None:
        """The first rep of which that was told."""
        places = self._places.get(essence)
        return places[0] if places else None

    def rep(self, essence: str) -> Rep | None:
        """The last rep of which that was told."""
        places = self._places.get(essence)
        return self.told[places[-1]][0] if places else None


def _compared(rep: Rep, same: Rep | None) -> Rep:
    if same is None:
        return rep.model_copy(update={"doubtful": True, "doubts": (*rep.doubts, "words")})
    unsure = {name: None for name in _HELD if getattr(rep, name) != getattr(same, name)}
    return rep.model_copy(update=unsure) if unsure else rep


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
