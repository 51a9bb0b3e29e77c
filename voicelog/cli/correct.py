"""`voicelog correct`: words, dog, date, void and undo from the terminal."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import Annotated

import typer

from voicelog.app.correct import (
    AboveTopError,
    Correction,
    correct,
    find_session,
    numbered,
    open_questions,
    row_of,
    to_undo,
    unread,
    waiting,
)
from voicelog.app.note_sound import sound_between
from voicelog.app.review.review_service import EditResult, ReviewService
from voicelog.app.review.session_view import EntryRow, SessionView
from voicelog.app.session_choice import dogs_of_last_day, dogs_of_session
from voicelog.app.waiting_sessions import stop_elsewhere, waiting_elsewhere
from voicelog.cli import options
from voicelog.cli.note_player import play_sound
from voicelog.cli.open_catalog import opened_catalog
from voicelog.model import UsageError, VoicelogError
from voicelog.model.review import Do
from voicelog.report.correct_words import (
    ANSWERS,
    ASKED_TOO,
    ListedEntry,
    above_top_question,
    also_waits_words,
    entry_lines,
    heading_words,
    hint_words,
    nothing_words,
    order_words,
    signed_words,
    stop_first_words,
    stopped_words,
    undone_words,
)
from voicelog.report.review_words import DONE
from voicelog.report.wording.rep_questions import questions_text
from voicelog.report.words import clock_if_timed

__all__ = ["correct_log"]


def correct_log(
    dog: Annotated[
        str | None, typer.Argument(help="The dog whose session it is. Default: the last session.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="The day of the session.")
    ] = None,
    session: Annotated[
        str | None,
        typer.Option(
            "--session", metavar="ID", help="The id of the session, where there are several."
        ),
    ] = None,
    entry: Annotated[
        int | None,
        typer.Option("--entry", metavar="N", min=1, help="The number of the entry, as listed."),
    ] = None,
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Confirm the entry: it is right.")
    ] = False,
    take: Annotated[
        int | None,
        typer.Option(
            "--take", metavar="N", min=1, help="Take the reading on offer with this number."
        ),
    ] = None,
    words: Annotated[
        str | None,
        typer.Option("--words", metavar="WORDS", help="What was said; short forms will do."),
    ] = None,
    above_top: Annotated[
        bool,
        typer.Option("--above-top", help="Keep a level that is above the top of the collar."),
    ] = False,
    whole: Annotated[
        bool,
        typer.Option("--whole", help="The words of --words are all that was said."),
    ] = False,
    void: Annotated[
        bool, typer.Option("--void", help="Void the entry: it does not count.")
    ] = False,
    restore: Annotated[
        bool, typer.Option("--restore", help="Restore the entry: it counts again.")
    ] = False,
    to: Annotated[
        str | None,
        typer.Option("--to", metavar="DOG", help="Move the entry, or the session, to this dog."),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--start", metavar="TIME", help="When the recording began: '24 Nov 7:42'."),
    ] = None,
    play: Annotated[bool, typer.Option("--play", help="Play the sound of the entry.")] = False,
    output: Annotated[
        str | None,
        typer.Option("--output", metavar="NAME", help="Where to play it, by a part of its name."),
    ] = None,
    undo: Annotated[
        bool, typer.Option("--undo", help="Undo the last change; with --entry, that entry's last.")
    ] = False,
    redo: Annotated[bool, typer.Option("--redo", help="Redo what was undone.")] = False,
    history: Annotated[
        bool, typer.Option("--history", help="Show the history of the entry.")
    ] = False,
    every: Annotated[bool, typer.Option("--all", help="List every entry.")] = False,
    who: Annotated[
        str | None,
        typer.Option(
            "--as", metavar="NAME", help="Who corrects. Default: the only handler, else this user."
        ),
    ] = None,
    data_dir: options.DataDir = None,
) -> None:
    """Correct a session from the terminal: words, void, dog, date, with the page's undo.

    Entries to check come first, what may matter most for the dog before the rest. At a terminal,
    without any option, each is asked about, and p plays its sound.

    Example: voicelog correct Bracken --entry 4 --words "l9 c"
    """
    on = options.day_of(day)
    last = partial(dogs_of_last_day, day=on)
    about = partial(dogs_of_session, session=session) if session else last
    with opened_catalog(data_dir, None if session else dog, about) as catalog:
        name = options.signer(who, catalog.log.roster().handlers)
        service = ReviewService(catalog.log, lambda: datetime.now().astimezone())
        view = find_session(service, dog, on, session)
        wanted: list[tuple[bool, str, Do]] = [
            (confirm, "--confirm", "confirm"),
            (take is not None, "--take", "read"),
            (words is not None, "--words", "read"),
            (void, "--void", "void"),
            (restore, "--restore", "restore"),
            (to is not None, "--to", "dog" if entry is None else "move"),
            (start is not None, "--start", "clock"),
            (undo, "--undo", "undo"),
            (redo, "--redo", "redo"),
        ]
        asked = [(option, do) for given, option, do in wanted if given]
        others = [name for name, given in (("--history", history), ("--play", play)) if given]
        options_given = [*(option for option, _ in asked), *others]
        if len(options_given) > 1:
            both = " and ".join(options_given)
            raise UsageError(f"{both} are not done at once; give them one by one.")
        if history:
            row = row_of(view, _entry(entry, "--history"))
            for line in service.history(view.kept.id, row.entry.id):
                typer.echo(line)
            return
        if play:
            _play(service, view, row_of(view, _entry(entry, "--play")), output)
            return
        if not asked:
            if entry is None and (first := stop_elsewhere(service, view)) is not None:
                typer.echo(stop_first_words(first))
            if entry is None and not every and sys.stdin.isatty():
                _ask_each(service, view, name, output)
            else:
                _list(view, every=every, entry=entry)
            if entry is None:
                _show_elsewhere(service, view)
            return
        ((option, do),) = asked
        of_session = do in ("dog", "clock", "redo") or (do == "undo" and entry is None)
        if of_session and entry is not None:
            raise UsageError(
                f"{option} is for the whole session, not for one entry; leave --entry out."
            )
        number = None if of_session else _entry(entry, option)
        said = words if take is None or number is None else _offered(row_of(view, number), take)
        moment = None if start is None else options.moment(start, "--start")
        if above_top and do not in ("confirm", "read"):
            raise UsageError(
                f"--above-top belongs to --confirm, --take or --words; leave it out with {option}."
            )
        if whole and words is None:
            raise UsageError(f"--whole belongs to --words; leave it out with {option}.")
        all_said = whole or take is not None
        step = Correction(do, number, said, to, moment, above_top, all_said)
        undone = to_undo(view, number) if do == "undo" else None
        _tell(correct(service, view, step, name), step, undone)
        typer.echo(signed_words(name))


def _entry(entry: int | None, option: str) -> int:
    if entry is None:
        raise UsageError(
            f"{option} needs the number of an entry, as in --entry 4; 'voicelog correct --all' "
            "lists them."
        )
    return entry


def _offered(row: EntryRow, take: int) -> str:
    if take > len(row.offers):
        offered = f"only {len(row.offers)}" if row.offers else "none"
        raise UsageError(
            f"There is no reading {take} on offer for this entry, {offered}; type what was said."
        )
    return row.offers[take - 1]


def _play(service: ReviewService, view: SessionView, row: EntryRow, output: str | None) -> None:
    play_sound(sound_between(service.log, view.kept, row.entry.start_s, row.entry.end_s), output)


def _listed(view: SessionView, number: int, row: EntryRow) -> ListedEntry:
    at = clock_if_timed(row.entry.start_s, row.entry.end_s)
    return ListedEntry(
        number,
        at,
        row.word,
        row.said,
        row.why,
        row.offers,
        row.reps,
        unread(view, row),
        row.corrects,
    )


def _list(view: SessionView, *, every: bool, entry: int | None) -> None:
    rows = numbered(view)
    shown = rows if every else waiting(view)
    if entry is not None:
        shown = tuple(one for one in rows if one[1] is row_of(view, entry))
    dog = view.session.dog.name if view.session else ""
    typer.echo(heading_words(dog, view.head.day, view.head.key))
    if len(shown) > 1:
        typer.echo(order_words(len(waiting(view)), every=every))
    for number, row in shown:
        for line in entry_lines(_listed(view, number, row)):
            typer.echo(line)
    if shown:
        typer.echo(hint_words(shown[0][0], len(rows) - len(shown)))
    else:
        typer.echo(nothing_words(len(open_questions(view)), in_list=True))
    _show_questions(view)


def _show_questions(view: SessionView) -> None:
    if rows := open_questions(view):
        typer.echo(f"\n{ASKED_TOO}\n{questions_text(rows)}")


def _show_elsewhere(service: ReviewService, view: SessionView) -> None:
    told = {view.head.key: sys.maxsize}
    for line in also_waits_words(waiting_elsewhere(service.session_catalog, told)):
        typer.echo(line)


def _tell(done: EditResult, step: Correction, undone: str | None) -> None:
    first = () if undone is None else (undone_words(undone),)
    for line in (*first, *done.changed) or (DONE[step.do],):
        typer.echo(line)


def _ask_each(service: ReviewService, view: SessionView, who: str, output: str | None) -> None:
    """Ask about each entry that waits, until all are answered, skipped, or it is enough."""
    dog = view.session.dog.name if view.session else ""
    typer.echo(heading_words(dog, view.head.day, view.head.key))
    if not waiting(view):
        typer.echo(nothing_words(len(open_questions(view))))
        _show_questions(view)
        return
    typer.echo(ANSWERS)
    skipped: set[str] = set()
    changed = False
    asked: Correction | None = None  # what has a level above the collar's top
    while left := [(n, row) for n, row in waiting(view) if row.entry.id not in skipped]:
        number, row = left[0]
        for line in entry_lines(_listed(view, number, row)):
            typer.echo(line)
        try:
            answer = typer.prompt("", default="", show_default=False, prompt_suffix="> ").strip()
        except typer.Abort:  # Ctrl-D
            answer = "q"
        if answer == "q":
            break
        if answer == "?":
            typer.echo(ANSWERS)
            continue
        if answer == "s":
            skipped.add(row.entry.id)
            asked = None
            continue
        try:
            if answer == "p":
                _play(service, view, row, output)
                continue
            step = _answered(number, row, answer)
            if answer == "k" and asked is not None:
                step = replace(asked, above_top=True)
            asked = None
            undone = to_undo(view, None) if step.do == "undo" else None
            done = correct(service, view, step, who)
        except AboveTopError as error:
            typer.echo(above_top_question(error.dog, error.level, error.top))
            asked = step
            continue
        except VoicelogError as error:
            typer.echo(str(error))
            continue
        _tell(done, step, undone)
        view, changed = done.view, True
    reps = len(open_questions(view))
    typer.echo(stopped_words(len(waiting(view)), reps, signed=who if changed else None))
    if not left:
        _show_questions(view)


def _answered(number: int, row: EntryRow, answer: str) -> Correction:
    if not answer:
        return Correction("confirm", number)
    if answer == "v":
        return Correction("void", number)
    if answer == "u":
        return Correction("undo")
    if answer.isdecimal():
        return Correction("read", number, _offered(row, int(answer) or 10**6))
    return Correction("read", number, answer)
