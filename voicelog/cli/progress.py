"""Papers over weeks: `progress`, `plan`, `kennel`, `owner`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.cli import options
from voicelog.cli.log import refreshed_session_catalog
from voicelog.cli.log_settings import load_settings, open_log
from voicelog.cli.output import write_file_bytes, write_output

if TYPE_CHECKING:
    from voicelog.analysis.session_digest import SessionDigest
    from voicelog.model import Dog
    from voicelog.report.paper import Paper
    from voicelog.report.paper_html import Link
    from voicelog.store import Log

__all__ = ["kennel", "owner", "plan", "progress"]

DogName = Annotated[str, typer.Argument(metavar="DOG", help="The dog.")]
Form = Annotated[
    Literal["text", "html", "json"], typer.Option("--format", help="How to lay it out.")
]
OutputFile = Annotated[
    Path | None,
    typer.Option("--output", "-o", metavar="FILE", help="Write to this file instead of here."),
]
OnDay = Annotated[
    str | None,
    typer.Option("--on", metavar="DATE", help="As of this day, as 2026-04-18. Default: today."),
]
Plain = Annotated[
    bool, typer.Option("--plain", help="Text for a screen reader: no indents, ASCII marks.")
]
Every = Annotated[bool, typer.Option("--all", help="Every line, and what the words mean.")]
Reps = Annotated[bool, typer.Option("--reps", help="The reps behind each line.")]


def progress(
    dog: DogName,
    output: Form = "text",
    file: OutputFile = None,
    on: OnDay = None,
    every: Every = False,
    reps: Reps = False,
    plain: Plain = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Say how a dog goes on over weeks: levels, calls, times, what it is ready for.

    JSON has the results of the analysis with the reps behind every number.

    Example: voicelog progress Bracken --format html --output bracken.html
    """
    from voicelog.report import progress_paper as report

    today = _day(on)
    with open_log(data_dir) as log:
        found, profile = _dog(log, dog, today)
        rules = load_settings(settings, data_dir).for_dog(profile.name)
        if output == "json":
            write_output(report.as_json(found, profile, rules, today), file)
            return
        paper = report.build(found, profile, rules, today)
        link = _links(log) if output == "html" else None
    _out(paper, output, file, link, every=every, reps=reps, plain=plain)


def plan(
    dog: DogName,
    output: Form = "text",
    file: OutputFile = None,
    on: OnDay = None,
    reps: Reps = False,
    plain: Plain = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Plan a dog's next session, on one page. "No session today" is a normal answer.

    Example: voicelog plan Bracken
    """
    from voicelog.report import plan_paper

    today = _day(on)
    with open_log(data_dir) as log:
        found, profile = _dog(log, dog, today, may_be_new=True)
        rules = load_settings(settings, data_dir).for_dog(profile.name)
        paper = plan_paper.build(found, profile, rules, today)
        link = _links(log) if output == "html" else None
    _out(paper, output, file, link, every=True, reps=reps, plain=plain)


def kennel(
    output: Form = "text",
    file: OutputFile = None,
    on: OnDay = None,
    reps: Reps = False,
    plain: Plain = False,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Say how all dogs stand: what to see first, who was worked, is due, is stuck.

    Example: voicelog kennel
    """
    from voicelog.analysis.kennel import KENNEL_SESSIONS
    from voicelog.analysis.kennel import kennel as look
    from voicelog.report import kennel_paper

    today = _day(on)
    with open_log(data_dir) as log:
        session_catalog = refreshed_session_catalog(log)
        session_digests = session_catalog.recent(KENNEL_SESSIONS)
        rules = load_settings(settings, data_dir)
        criteria = {"": rules, **{name: rules.for_dog(name) for name in rules.dog}}
        found = look(session_digests, log.roster().dogs, criteria, today)
        paper = kennel_paper.build(found, session_digests, rules)
        link = _links(log) if output == "html" else None
    _out(paper, output, file, link, every=True, reps=reps, plain=plain)


def owner(
    dog: DogName,
    file: Annotated[Path, typer.Option("--output", "-o", metavar="FILE", help="The PDF to write.")],
    ring: Annotated[
        str,
        typer.Option("--ring", metavar="WORDS", help="Whom the owner rings: a name and a number."),
    ] = "",
    on: OnDay = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Write the owner's report, two pages in plain words, as PDF. No level to dial is in it.

    It wants the extra 'papers': pip install 'voicelog[papers]'.

    Example: voicelog owner Bracken --output bracken.pdf --ring "Anna, 555 0100"
    """
    from voicelog.report import owner_report as report
    from voicelog.report.owner_pdf import pdf

    today = _day(on)
    with open_log(data_dir) as log:
        found, profile = _dog(log, dog, today)
        rules = load_settings(settings, data_dir).for_dog(profile.name)
    write_file_bytes(pdf(report.build(found, profile, rules, today, ring=ring)), file)
    typer.echo(f"Two pages on {profile.name} written to {file}.")


# --- within ----------------------------------------------------------------------------


def _dog(
    log: Log, name: str, today: date, *, may_be_new: bool = False
) -> tuple[Sequence[SessionDigest], Dog]:
    """A dog's sessions in short, and its profile; one of the roster may have none yet."""
    from voicelog.model import Dog, VoicelogError

    session_catalog = refreshed_session_catalog(log)
    profile = log.roster().dog(name)
    known = session_catalog.dogs()
    wanted = next((one for one in known if one.casefold() == name.casefold()), None)
    if wanted is None and not (may_be_new and profile is not None):
        have = ", ".join(filter(None, known)) or "none yet"
        raise VoicelogError(
            f"Found no session of '{name}' in the log, wanted a dog that has one ({have}); "
            "correct the name or add a recording."
        )
    session_digests = () if wanted is None else session_catalog.session_digests(wanted)
    if profile is None:
        profile = Dog(name=wanted or name, transmitter=session_digests[-1].transmitter)
    return session_digests, profile


def _links(log: Log) -> Link:
    """Where the sound of a rep is kept, as a link into the file."""
    from voicelog.report.paper import RepRef

    sounds = {
        one.id: (log.folder / one.sound).resolve().as_uri()
        for one in log.recordings()
        if one.sound is not None
    }

    def link(ref: RepRef) -> str | None:
        url = sounds.get(ref.recording)
        return None if url is None else f"{url}#t={max(0.0, ref.start_s - 0.5):.1f},{ref.end_s:.1f}"

    return link


def _out(
    paper: Paper,
    output: str,
    file: Path | None,
    link: Link | None,
    *,
    every: bool,
    reps: bool,
    plain: bool,
) -> None:
    import sys

    from voicelog.model import UsageError

    if output != "text" and plain:
        raise UsageError(
            f"Found --plain with --format {output}, wanted it with text; leave one of them out."
        )
    if output == "json":
        write_output(paper.model_dump_json(indent=2) + "\n", file)
    elif output == "html":
        from voicelog.report import paper_html

        write_output(paper_html.render(paper, link=link), file)
    else:
        from voicelog.report import paper_text

        colour = file is None and not plain and sys.stdout.isatty()
        text = paper_text.render(paper, colour=colour, plain=plain, reps=reps, every=every)
        write_output(text, file)


def _day(text: str | None) -> date:
    from voicelog.model import UsageError

    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(
            f"Found '{text}' for --on, wanted a date such as 2026-04-18; type it like that."
        ) from error
