"""What works on the log: `add`, `summary`, `export`, `rebuild`."""

from __future__ import annotations

from datetime import date
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.cli import options
from voicelog.cli.intake import Order, each, note_on, open_intake, order_for
from voicelog.cli.lists import open_log
from voicelog.cli.papers import PaperFormat, papers, put_out

if TYPE_CHECKING:
    from voicelog.diary import Diary
    from voicelog.log import Heading, Log
    from voicelog.model import Roster
    from voicelog.report.record import Use
    from voicelog.report.summary import Summary

__all__ = ["add", "diary_of", "export", "rebuild", "summary"]

OutputFile = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="FILE", help="Write to this file instead of here."),
]


def add(
    audio: Annotated[list[Path], typer.Argument(help="Recordings of any common format.")],
    dog: options.DogNames = None,
    typed: options.Typed = False,
    who: options.Speaker = None,
    listener: options.ListenerOption = None,
    at: options.AtOption = None,
    jobs: options.Jobs = 1,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Hear recordings and keep them in the log: the sound, and all that was heard.

    The same sound added again is one. Cut short, it is completed when run again. A bundle of
    another trainer ('voicelog export --format bundle') is taken in as it is.

    Example: voicelog add monday/*.m4a --dog Bracken
    """
    order = order_for(
        strangers=False,
        dog=dog,
        typed=typed,
        listener=listener,
        at=at,
        optional=optional,
        settings=settings,
        data_dir=data_dir,
        who=who,
    )
    with open_log(data_dir) as log:
        failed = False
        for path, result in each(audio, partial(add_file, order, log.folder), jobs):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                typer.echo(f"{path.name}: {result}")
        diary_of(log).refresh()
    if failed:
        raise typer.Exit(1)


_KNOWN = "already in the log, left as it is"


def add_file(order: Order, folder: Path, path: Path) -> str:
    """Hear one file into the log, or take a bundle in; what came of it, in words."""
    from voicelog.log.bag import is_bag

    with open_log(folder) as log:
        if is_bag(path):
            from voicelog.cli.keep import taken_over

            return taken_over(log, path)
        intake = open_intake(path, order)
        known = log.recording(intake.id)
        if known is not None and known.complete:
            return _KNOWN
        batches = iter(intake)
        first = next(batches, None)  # what holds no sound fails here, before anything is kept
        sound = log.keep_sound(path, intake.id)
        begun = intake.recording.model_copy(update={"sound": str(sound.relative_to(log.folder))})
        if not log.begin_recording(begun):
            return _KNOWN
        counts = {"accepted": 0, "doubtful": 0, "rejected": 0}
        for batch in chain(() if first is None else (first,), batches):
            log.append(batch)
            for event in batch:
                if event.event == "verdict":
                    counts[event.status] += 1
        whole = intake.recording
        log.finish_recording(intake.id, duration_s=whole.duration_s, level=whole.level)
        note = note_on(intake, order)
        return (
            f"{counts['accepted']} notes sure, {counts['doubtful']} to look at, "
            f"{counts['rejected']} not for the log.{f' {note}' if note else ''}"
        )


def summary(
    dog: Annotated[
        str | None, typer.Argument(help="One dog. Default: every dog of the last day.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="Sessions of a day, as 2026-04-18.")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Every session.")] = False,
    output: PaperFormat = "text",
    file: OutputFile = None,
    plain: Annotated[
        bool,
        typer.Option("--plain", help="Text for a screen reader: no columns, no plot, ASCII marks."),
    ] = False,
    cautions: Annotated[
        bool, typer.Option("--cautions", help="The cautions in full, and nothing else.")
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Write the summary of sessions in the log: by default the last one.

    Example: voicelog summary Bracken --format html --output bracken.html
    """
    from voicelog.model import UsageError

    if plain and output != "text":
        raise UsageError(
            f"Found --plain with --format {output}, wanted it with text; leave one of them out."
        )
    if cautions:
        from voicelog.safety.cautions import LONG

        put_out(LONG, file)
        return
    with open_log(data_dir) as log:
        diary = diary_of(log)
        diary.refresh()
        summaries = [
            _summary(diary, log, one) for one in _chosen(diary, dog, options.day_of(day), every)
        ]
    put_out(papers(summaries, output, to_screen=file is None, plain=plain), file)


def _summary(diary: Diary, log: Log, heading: Heading) -> Summary:
    """The summary of a session, beside the one before it of the same dog."""
    from voicelog.report.summary import summarise
    from voicelog.safety.settings import kept_settings

    page, recording = diary.page(heading.key), log.recording(heading.recording)
    assert page is not None  # it was just listed
    assert recording is not None
    line, before = diary.line(recording.id), diary.before(heading)
    return summarise(
        page.session,
        page.findings,
        line.entries,
        line.started_at,
        before.session if before else None,
        settings=kept_settings(recording.settings),
    )


def _chosen(diary: Diary, dog: str | None, day: date | None, every: bool) -> list[Heading]:
    """The sessions wanted, by dog, each dog's oldest first."""
    from voicelog.log import Wanted
    from voicelog.model import VoicelogError

    known = diary.dogs()
    name = next((d for d in known if dog is not None and d.casefold() == dog.casefold()), None)
    if dog is not None and name is None:
        have = ", ".join(filter(None, known)) or "none yet"
        raise VoicelogError(
            f"Found no session of '{dog}' in the log, wanted a dog that has one ({have}); "
            "correct the name or add a recording."
        )
    rows = diary.headings(Wanted(dog=name)).rows
    found = [row for row in reversed(rows) if row.dog is not None]
    found.sort(key=lambda row: known.index(row.dog or ""))
    if not found:
        raise VoicelogError(
            "Found no session in the log, wanted at least one; add a recording with "
            "'voicelog add' first."
        )
    if every:
        return found
    if day is not None:
        chosen = [row for row in found if row.day == day]
        if not chosen:
            raise VoicelogError(f"Found no session on {day}; see 'voicelog summary --all'.")
        return chosen
    if name is not None:
        return found[-1:]
    last = max((row.day for row in found if row.day), default=None)
    return [row for row in found if last is None or row.day == last]


def export(
    folder: Annotated[Path, typer.Argument(help="Folder to write to; made when missing.")],
    output: Annotated[
        Literal["json", "csv", "record", "bundle"],
        typer.Option(
            "--format",
            help="The contract, three tables, the record of use of collars, or a dog's sessions "
            "with their sound, for another trainer's voicelog.",
        ),
    ] = "json",
    reason: Annotated[
        str,
        typer.Option(
            "--reason", metavar="WORDS", help="Why collars were used, for the record of use."
        ),
    ] = "",
    dog: Annotated[
        str | None,
        typer.Option("--dog", metavar="NAME", help="For a record or a bundle: this dog's."),
    ] = None,
    day: Annotated[
        str | None,
        typer.Option("--day", metavar="DATE", help="For a bundle: the sessions of that day only."),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Write the log for other programs: JSON, or reps, entries and findings as CSV.

    The record of use is a row for each session with a collar, as some laws ask of licensed
    users. Reason, client and identification stay empty unless you give them (here, and with
    'voicelog dogs put'). Check what the law that holds for you asks today.

    A bundle is one ZIP file of a dog's sessions, entries and sound and nothing of other dogs,
    which 'voicelog add' takes in.

    Example: voicelog export out --format csv
    """
    from voicelog.model import Document, UsageError, VoicelogError
    from voicelog.report import tables
    from voicelog.report.described import PACKAGE, datapackage
    from voicelog.report.record import uses_csv
    from voicelog.report.words import counted

    wrong = {
        "reason": bool(reason) and output != "record",
        "dog": dog is not None and output not in ("record", "bundle"),
        "day": day is not None and output != "bundle",
    }
    if any(wrong.values()):
        raise UsageError(
            f"Found --{next(name for name in wrong if wrong[name])} with --format {output}, but "
            "it belongs to another format (record or bundle); leave it out, or change --format."
        )
    if output == "bundle":
        from voicelog.cli.keep import hand_over

        hand_over(folder, dog, options.day_of(day), data_dir)
        return
    with open_log(data_dir) as log:
        diary = diary_of(log)
        diary.refresh()
        if output == "record":
            uses = _uses(diary, log.roster(), dog, reason)
        else:
            document = Document(recordings=diary.lines())
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise VoicelogError(
            f"Found no way to make the folder '{folder}' ({error.strerror}); name another."
        ) from error
    if output == "record":
        put_out(uses_csv(uses), folder / "record.csv")
        many = counted(len(uses), "session")
        typer.echo(f"{many} with a collar written to {folder / 'record.csv'}.")
        return
    if output == "json":
        put_out(tables.dump(document) + "\n", folder / "voicelog.json")
    else:
        put_out(tables.reps_csv(document), folder / "reps.csv")
        put_out(tables.entries_csv(document), folder / "entries.csv")
        put_out(tables.findings_csv(document), folder / "findings.csv")
        put_out(datapackage(), folder / PACKAGE)
    typer.echo(
        f"{len(document.recordings)} recordings written to {folder}: names of dogs and handlers, "
        "all entries, no sound."
    )


def _uses(diary: Diary, roster: Roster, dog: str | None, reason: str) -> list[Use]:
    """The record of use of one dog, or of all, by date."""
    from voicelog.report.record import use_of

    pages = filter(None, (diary.page(row.key) for row in _chosen(diary, dog, None, every=True)))
    uses = [
        use_of(
            page.session,
            page.findings,
            page.began,
            reason=reason,
            today=roster.dog(page.session.dog.name),
        )
        for page in pages
    ]
    return sorted(filter(None, uses), key=lambda use: use.date)


def rebuild(data_dir: options.DataDir = None) -> None:
    """Throw away all that was derived and derive it again from the entries.

    Example: voicelog rebuild
    """
    with open_log(data_dir) as log:
        typer.echo(f"{diary_of(log).rebuild()} recordings derived again.")


def diary_of(log: Log) -> Diary:
    """The diary of a log, each recording read with the grammar it was heard with."""
    from voicelog.diary import Diary

    return Diary(log)
