"""What works on the log: `add`, `summary`, `export`, `rebuild`."""

from __future__ import annotations

from datetime import date
from functools import partial
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.cli import options
from voicelog.cli.adding import add_and_tell
from voicelog.cli.intake import intake_options, show_progress
from voicelog.cli.log_settings import open_log
from voicelog.cli.output import PaperFormat, papers, write_output

if TYPE_CHECKING:
    from voicelog.app.session_catalog import SessionCatalog
    from voicelog.model import Roster
    from voicelog.report.summary import Summary
    from voicelog.report.use_record import UseRecord
    from voicelog.store import CacheHeading, Log

__all__ = [
    "add",
    "export",
    "rebuild",
    "refreshed_session_catalog",
    "session_catalog_for",
    "summary",
    "warn_set_aside",
]

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
    from voicelog.app.add import is_begun
    from voicelog.app.parallel import for_each
    from voicelog.model import UsageError

    with open_log(data_dir) as log:
        wanted = intake_options(
            strangers=all(is_begun(log, path) for path in audio),
            dog=dog,
            typed=typed,
            listener=listener,
            at=at,
            optional=optional,
            settings=settings,
            data_dir=data_dir,
        )
        if redate and wanted.at is None:
            raise UsageError("Found --redate without --at, wanted the right date; add --at.")
        failed = False
        work = partial(add_and_tell, wanted, log.folder, redate)
        names = show_progress(attrgetter("name"))
        for path, result in for_each(audio, work, jobs, names):
            if isinstance(result, Exception):
                typer.echo(f"voicelog: {result}", err=True)
                failed = True
            else:
                typer.echo(f"{path.name}: {result}")
        refreshed_session_catalog(log)
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

        write_output(LONG, file)
        return
    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        summaries = [
            _summary(session_catalog, log, one)
            for one in _chosen(session_catalog, dog, options.day_of(day), every)
        ]
    write_output(papers(summaries, output, to_screen=file is None, plain=plain), file)


def _summary(session_catalog: SessionCatalog, log: Log, heading: CacheHeading) -> Summary:
    """The summary of a session, beside the one before it of the same dog."""
    from voicelog.report.summary import summarise
    from voicelog.safety.settings import stored_settings

    page, recording = session_catalog.page(heading.key), log.recording(heading.recording)
    assert page is not None  # it was just listed
    assert recording is not None
    line, before = session_catalog.line(recording.id), session_catalog.before(heading)
    return summarise(
        page.session,
        page.findings,
        line.entries,
        line.started_at,
        before.session if before else None,
        settings=stored_settings(recording.settings),
    )


def _chosen(
    session_catalog: SessionCatalog, dog: str | None, day: date | None, every: bool
) -> list[CacheHeading]:
    """The sessions wanted, by dog, each dog's oldest first."""
    from voicelog.model import VoicelogError
    from voicelog.store import SessionFilter

    known = session_catalog.dogs()
    name = next((d for d in known if dog is not None and d.casefold() == dog.casefold()), None)
    if dog is not None and name is None:
        have = ", ".join(filter(None, known)) or "none yet"
        raise VoicelogError(
            f"Found no session of '{dog}' in the log, wanted a dog that has one ({have}); "
            "correct the name or add a recording."
        )
    rows = session_catalog.headings(SessionFilter(dog=name)).rows
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
    from voicelog.report.data_package import PACKAGE, datapackage
    from voicelog.report.use_record import uses_csv
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
        from voicelog.cli.maintenance import export_bundle

        export_bundle(folder, dog, options.day_of(day), data_dir)
        return
    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        if output == "record":
            uses = _uses(session_catalog, log.roster(), dog, reason)
        else:
            document = Document(recordings=session_catalog.lines())
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise VoicelogError(
            f"Found no way to make the folder '{folder}' ({error.strerror}); name another."
        ) from error
    if output == "record":
        write_output(uses_csv(uses), folder / "record.csv")
        many = counted(len(uses), "session")
        typer.echo(f"{many} with a collar written to {folder / 'record.csv'}.")
        return
    if output == "json":
        write_output(tables.dump(document) + "\n", folder / "voicelog.json")
    else:
        write_output(tables.reps_csv(document), folder / "reps.csv")
        write_output(tables.entries_csv(document), folder / "entries.csv")
        write_output(tables.findings_csv(document), folder / "findings.csv")
        write_output(datapackage(), folder / PACKAGE)
    typer.echo(
        f"{len(document.recordings)} recordings written to {folder}: names of dogs and handlers, "
        "all entries, no sound."
    )


def _uses(
    session_catalog: SessionCatalog, roster: Roster, dog: str | None, reason: str
) -> list[UseRecord]:
    """The record of use of one dog, or of all, by date."""
    from voicelog.report.use_record import use_record

    pages = filter(
        None,
        (session_catalog.page(row.key) for row in _chosen(session_catalog, dog, None, every=True)),
    )
    uses = [
        use_record(
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
        typer.echo(f"{session_catalog_for(log).rebuild()} recordings derived again.")
        warn_set_aside(log)


def session_catalog_for(log: Log) -> SessionCatalog:
    """The diary of a log, each recording read with the grammar it was heard with."""
    from voicelog.app.session_catalog import SessionCatalog

    return SessionCatalog(log)


def refreshed_session_catalog(log: Log) -> SessionCatalog:
    """The diary with what was stale derived anew; what is set aside is named on the way."""
    session_catalog = session_catalog_for(log)
    session_catalog.refresh()
    warn_set_aside(log)
    return session_catalog


def warn_set_aside(log: Log) -> None:
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
