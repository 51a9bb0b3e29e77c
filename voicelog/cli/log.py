"""What works on the log: `add`, `summary`, `export`, `rebuild`."""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.cli import options
from voicelog.cli.adding import add_file, is_begun
from voicelog.cli.intake import each, order_for
from voicelog.cli.lists import open_log
from voicelog.cli.papers import PaperFormat, papers, put_out

if TYPE_CHECKING:
    from voicelog.diary import Diary
    from voicelog.log import Heading, Log
    from voicelog.model import Roster
    from voicelog.report.record import Use
    from voicelog.report.summary import Summary

__all__ = ["add", "diary_of", "export", "ready_diary", "rebuild", "summary", "tell_asides"]

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
    redate: Annotated[
        bool, typer.Option("--redate", help="--at is right, whatever date the log has.")
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Hear recordings and keep them in the log: the sound, and all that was heard.

    The same sound added again is one; the same typed words of another day (--at) are another
    session. One that is there without a date takes that of --at. Cut short, it is completed when
    run again, with the dogs and settings it was begun with. A bundle of another trainer
    ('voicelog export --format bundle') is taken in as it is.

    Example: voicelog add monday/*.m4a --dog Bracken
    """
    from voicelog.model import UsageError

    with open_log(data_dir) as log:
        order = order_for(
            strangers=all(is_begun(log, path) for path in audio),
            dog=dog,
            typed=typed,
            listener=listener,
            at=at,
            optional=optional,
            settings=settings,
            data_dir=data_dir,
        )
        if redate and order.at is None:
            raise UsageError("Found --redate without --at, wanted the right date; add --at.")
        failed = False
        work = partial(add_file, order, log.folder, redate=redate)
        for path, result in each(audio, work, jobs):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                typer.echo(f"{path.name}: {result}")
        ready_diary(log)
    if failed:
        raise typer.Exit(1)


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
        diary = ready_diary(log)
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
    from voicelog.log import SessionFilter
    from voicelog.model import VoicelogError

    known = diary.dogs()
    name = next((d for d in known if dog is not None and d.casefold() == dog.casefold()), None)
    if dog is not None and name is None:
        have = ", ".join(filter(None, known)) or "none yet"
        raise VoicelogError(
            f"Found no session of '{dog}' in the log, wanted a dog that has one ({have}); "
            "correct the name or add a recording."
        )
    rows = diary.headings(SessionFilter(dog=name)).rows
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
        diary = ready_diary(log)
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
        tell_asides(log)


def diary_of(log: Log) -> Diary:
    """The diary of a log, each recording read with the grammar it was heard with."""
    from voicelog.diary import Diary

    return Diary(log)


def ready_diary(log: Log) -> Diary:
    """The diary with what was stale derived anew; what is set aside is named on the way."""
    diary = diary_of(log)
    diary.refresh()
    tell_asides(log)
    return diary


def tell_asides(log: Log) -> None:
    """Name the recordings that count nowhere, in one line on standard error."""
    from voicelog.report.words import clean

    found = list(log.asides().values())
    if len(found) == 1:
        typer.echo(f"voicelog: {clean(str(found[0]))}", err=True)
    elif found:
        names = clean(", ".join(error.name for error in found))
        typer.echo(
            f"voicelog: {len(found)} recordings are set aside and count nowhere ({names}); "
            "'voicelog check' says why.",
            err=True,
        )
