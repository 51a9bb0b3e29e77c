"""`voicelog rehear`: kept recordings heard again, what that changes, and whether to take it."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.app.open_log import open_log, ready_catalog
from voicelog.cli import options
from voicelog.cli.catalog import refreshed_session_catalog
from voicelog.cli.intake import IntakeOptions, each, grammar_for, recognizer_for
from voicelog.report.words import counted

if TYPE_CHECKING:
    from voicelog.app.pipeline import RecognizedUtterance
    from voicelog.app.rehear import Difference, UtteranceChange, UtteranceText
    from voicelog.audio.resampling import Samples
    from voicelog.recognition.recognizers import PassChoice
    from voicelog.store import Log, StoredRecording

__all__ = ["again", "name_of", "rehear"]

_MARKS = {"accepted": "sure", "doubtful": "look", "rejected": "unheard"}
_OUTCOMES = {
    "right": "sure and right, or rightly left out",
    "offered": "to look at, the right one offered",
    "asked": "to look at, the right one not offered",
    "missed": "unheard",
    "wrong": "sure and wrong",
}


def rehear(
    dog: Annotated[
        str | None, typer.Argument(help="Recordings with this dog. Default: all recordings.")
    ] = None,
    day: Annotated[
        str | None,
        typer.Option("--day", metavar="DATE", help="Recordings of a day, as 2026-04-18."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only show what would change.")
    ] = False,
    yes: Annotated[
        bool, typer.Option("--yes", "-y", help="Take over what is new without asking.")
    ] = False,
    listener: options.ListenerOption = None,
    jobs: options.Jobs = 1,
    data_dir: options.DataDir = None,
) -> None:
    """Hear kept recordings again with today's listeners and vocabulary.

    Shows what changes, and how it does on what people have read. You are asked before
    anything is taken over; what a person has read, put in or acted on never changes, and
    nothing is removed. Cue words, dogs and handlers that were added since are listened for.

    Example: voicelog rehear Bracken --dry-run
    """
    from voicelog.app.rehear import accept_rehearing
    from voicelog.model import UsageError

    if dry_run and yes:
        raise UsageError("Found --dry-run and --yes together, wanted one of them; leave one out.")
    with open_log(data_dir) as log:
        chosen = _chosen(log, dog, options.day_of(day))
        work = partial(again, log.folder, listener)
        found: list[Difference] = []
        failed = False
        for kept, result in each(chosen, work, jobs, name_of):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                found.append(result)
                _show(kept, result)
        new = sum(len(difference.new) for difference in found)
        _sum_up(found)
        if not dry_run and _agreed(new, yes=yes):
            taken = sum(accept_rehearing(log, difference) for difference in found)
            ready_catalog(log)
            if new:
                typer.echo(f"{counted(taken, 'change')} taken over.")
    if failed:
        raise typer.Exit(1)


def _chosen(log: Log, dog: str | None, day: date | None) -> list[StoredRecording]:
    """The complete recordings of a dog and a day, oldest first."""
    from voicelog.model import VoicelogError
    from voicelog.store import SessionFilter

    session_catalog = refreshed_session_catalog(log)
    out = session_catalog.asides()
    kept = [one for one in log.recordings() if one.complete and one.id not in out]
    if dog is not None:
        known = (*session_catalog.dogs(), *(one.dog for one in kept if one.dog))
        name = next((one for one in known if one.casefold() == dog.casefold()), None)
        if name is None:
            have = ", ".join(dict.fromkeys(filter(None, known))) or "none yet"
            raise VoicelogError(
                f"Found no recording of '{dog}' in the log, wanted a dog that has one ({have}); "
                "correct the name or add a recording."
            )
        of_dog = {row.recording for row in session_catalog.headings(SessionFilter(dog=name)).rows}
        kept = [one for one in kept if one.dog == name or one.id in of_dog]
    if day is not None:
        kept = [one for one in kept if (one.started_at or one.added_at).date() == day]
    if not kept:
        raise VoicelogError(
            f"Found no recording{f' on {day}' if day else ''} to hear again, wanted at least one; "
            "see 'voicelog summary --all'."
        )
    return sorted(kept, key=lambda one: (one.started_at or one.added_at).replace(tzinfo=None))


def again(folder: Path, listener: PassChoice | None, kept: StoredRecording) -> Difference:
    """Hear one recording again, in whichever process; the program's own voice is no note."""
    from voicelog.app.pipeline import TYPED
    from voicelog.app.rehear import current_roster
    from voicelog.app.rehear import rehear as hear_again
    from voicelog.grammar.grammar import optional_grammars_of
    from voicelog.live.own_speech import lower_overlapping_verdict, own_speech_in
    from voicelog.safety.settings import Settings

    with open_log(folder) as log:
        order = IntakeOptions(
            roster=current_roster(log, kept),
            settings=Settings(),
            dog=kept.dog,
            optional=optional_grammars_of(kept.grammar),
            typed=kept.listeners == (TYPED,),
            listener=listener,
        )
        hear, spoken = recognizer_for(order), own_speech_in(log.events(kept.id))

        def hear_others(blocks: Iterable[Samples], recording: str) -> Iterator[RecognizedUtterance]:
            return (lower_overlapping_verdict(heard, spoken) for heard in hear(blocks, recording))

        return hear_again(log, kept, hear_others if spoken else hear, grammar_for(order))


# --- what is shown ----------------------------------------------------------------------


def name_of(kept: StoredRecording) -> str:
    from voicelog.report.words import clean

    return clean(kept.file_name) or kept.id[:12]


def _show(kept: StoredRecording, difference: Difference) -> None:
    new = difference.new
    typer.echo(f"{name_of(kept)}: {counted(len(new), 'change') if new else 'nothing changes'}.")
    for change in difference.changes:
        if change.seen:
            typer.echo(f"  {_at(change)}  {_told(change)}")


def _at(change: UtteranceChange) -> str:
    from voicelog.report.words import clock

    return f"{clock(min(said.start_s for said in (*change.before, *change.after))):>6}"


def _told(change: UtteranceChange) -> str:
    if change.person:
        return f"stays {_side(change.before)}; today heard {_side(change.after)}"
    if not change.before:
        return f"new: {_side(change.after)}"
    return f"{_side(change.before)} -> {_side(change.after)}"


def _side(said: Sequence[UtteranceText]) -> str:
    """One side of a change; words that were rejected are worth no reading."""
    from voicelog.report.words import clean

    return " + ".join(
        _MARKS[one.status] + (f' "{clean(one.words)}"' if one.status != "rejected" else "")
        for one in said
    )


def _sum_up(found: Sequence[Difference]) -> None:
    from voicelog.app.rehear import OutcomeTally

    before = sum((difference.before for difference in found), OutcomeTally())
    today = sum((difference.after for difference in found), OutcomeTally())
    if not before.read:
        typer.echo("No entry of these was read by a person, so there is nothing to measure it by.")
        return
    typer.echo(f"On {counted(before.read, 'entry', 'entries')} that people have read:")
    for name, meaning in _OUTCOMES.items():
        then, now = getattr(before, name), getattr(today, name)
        typer.echo(f"  {meaning:<42}{then:>5} before {now:>5} today")


def _agreed(new: int, *, yes: bool) -> bool:
    """Whether to take over: as said, or as asked where there is somebody to ask."""
    if yes or not new:
        return True
    if not sys.stdin.isatty():
        typer.echo("Nothing was taken over; add --yes to take it.")
        return False
    return typer.confirm(f"Take over {counted(new, 'change')}?")
