"""`voicelog listen`, the live session in the field."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from voicelog.app.open_log import open_log
from voicelog.cli import options
from voicelog.cli.catalog import refreshed_session_catalog
from voicelog.cli.intake import IntakeOptions, intake_options

if TYPE_CHECKING:
    from voicelog.audio.microphone import BlockCallbackFor
    from voicelog.live.earphone import Earphone
    from voicelog.live.live_session import LiveSession, OpenMicrophone
    from voicelog.live.live_setup import Listener
    from voicelog.store import Log

Side = Literal["left", "right"]

__all__ = ["DeviceName", "OutputName", "RateOption", "Side", "SideOption", "check_clock", "listen"]

DeviceName = Annotated[
    str | None,
    typer.Option(
        "--device", metavar="NAME", help="Microphone, by a part of its name. Default: the system's."
    ),
]
RateOption = Annotated[
    int | None,
    typer.Option("--rate", min=8000, max=192000, metavar="HZ", help="Sample rate to ask for."),
]
OutputName = Annotated[
    str | None,
    typer.Option(
        "--output", metavar="NAME", help="Earphone, by a part of its name; 'none' for silence."
    ),
]
SideOption = Annotated[Side, typer.Option("--side", help="The ear that hears it.")]


def listen(
    dog: options.DogNames = None,
    device: DeviceName = None,
    rate: RateOption = None,
    output: OutputName = None,
    side: SideOption = "left",
    replies: Annotated[
        Literal["all", "doubtful", "none"],
        typer.Option(
            "--say", help="Which notes are read back. Warnings and answers are always spoken."
        ),
    ] = "doubtful",
    earpiece: Annotated[
        bool,
        typer.Option(
            "--earpiece",
            help="The microphone cannot hear the earphone: what is said meanwhile can be sure.",
        ),
    ] = False,
    volume: Annotated[
        float, typer.Option("--volume", min=0.0, max=2.0, help="Loudness in the ear.")
    ] = 1.0,
    who: Annotated[
        str, typer.Option("--as", metavar="NAME", help="Who speaks; kept with her answers.")
    ] = "",
    plain: Annotated[
        bool, typer.Option("--plain", help="A line for each note instead of the page.")
    ] = False,
    resume: Annotated[
        bool,
        typer.Option("--resume", help="Complete what was cut short from its sound, then stop."),
    ] = False,
    listener: options.ListenerOption = None,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Listen to the microphone, keep it all, and answer in one ear. Ctrl-C ends it.

    One tone a rep: a short pip is kept and sure, two low ones doubtful, a long low one not
    understood; a soft tick each minute means listening. Use an earphone, never a loudspeaker:
    a dog would learn the tones. It reminds, it does not decide: watch the dog, not the ear.

    Example: voicelog listen --dog Bracken --dog Wren --earpiece
    """
    order = intake_options(
        strangers=False,
        dog=dog,
        typed=False,
        listener=listener,
        at=None,
        optional=optional,
        settings=settings,
        data_dir=data_dir,
    )
    from voicelog.live.lock import live_lock

    with open_log(data_dir) as log, live_lock(log.folder):
        if resume:
            _complete(log, listener)
            return
        from voicelog.live.live_session import LiveSession
        from voicelog.live.live_setup import ListenOptions, make_live_setup
        from voicelog.live.screen import Screen
        from voicelog.live.screen_content import screen_content_of
        from voicelog.live.speech_synthesis import find_voice

        _refuse_no_dogs(order)
        _mention_cut_short(log)
        refreshed_session_catalog(log)

        microphone, mouth = _devices(device, rate, output, side, volume)
        voice = find_voice()
        if mouth is not None and voice is None:
            _tell(
                "Found no voice, wanted one for warnings; they are tones and words on the screen "
                "until you install voicelog[voice]."
            )
        wanted = ListenOptions(
            roster=order.roster,
            settings=order.settings,
            dog=order.dog,
            optional=order.optional,
            listener=order.listener,
            replies=replies,
            earpiece=earpiece,
            who=who,
        )
        post = make_live_setup(log, wanted)
        check_clock(log, post.clock.wall())
        with Screen(plain=plain) as screen:
            live = LiveSession(
                post,
                microphone=microphone,
                mouth=mouth,
                voice=voice,
                shown=lambda live: screen.show(screen_content_of(live)),
                noted=screen.line,
            )
            with _stopped_by_signals(live):
                whole = live.run()
        if mouth is not None:
            mouth.close()
        _end(log, live, whole)


def _devices(
    device: str | None, rate: int | None, output: str | None, side: Side, volume: float
) -> tuple[OpenMicrophone, Earphone | None]:
    """How to open the microphone, and her ear; None where there is none to sound in."""
    from voicelog.audio.microphone import (
        Device,
        DeviceError,
        Microphone,
        find_device,
        portaudio,
        rescan,
    )
    from voicelog.live.earphone import Earphone

    library = portaudio()
    find_device("in", device, library)  # a wrong name is refused before anything begins
    held: Device | None = None

    def open_microphone(taker_for: BlockCallbackFor, anew: bool) -> Microphone:
        nonlocal held
        if anew:
            rescan(library)
        opened = Microphone(taker_for, name=device, rate=rate, held=held, library=library)
        held = held or opened.device
        return opened

    if output == "none":
        return open_microphone, None
    try:
        earphone = Earphone(name=output, side=side, volume=volume, library=library)
        return open_microphone, earphone
    except DeviceError as error:
        if output is not None:
            raise
        _tell(f"{error} Until then warnings are on the screen only.")
        return open_microphone, None


@contextmanager
def _stopped_by_signals(live: LiveSession) -> Iterator[None]:
    """Ctrl-C, a closed terminal or a polite kill end the session, and lose nothing of it."""

    def stop(_number: int, _frame: FrameType | None) -> None:
        live.stop()

    names = (name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
    numbers = [getattr(signal, name) for name in names]
    before = [signal.signal(number, stop) for number in numbers]
    try:
        yield
    finally:
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)


def _complete(log: Log, listener: Listener | None) -> None:
    from functools import partial

    from pydantic import ValidationError

    from voicelog.app.session_catalog import SessionCatalog
    from voicelog.live.live_setup import grammar_of, recognize_again
    from voicelog.live.resume import finish_recording, interrupted_recordings, orphan_files
    from voicelog.report.words import counted
    from voicelog.store import SetAsideError
    from voicelog.store.set_aside import reason

    found = interrupted_recordings(log)
    for kept in found:
        try:
            done = finish_recording(log, kept, partial(recognize_again, listener=listener))
        except ValidationError as error:  # settings that this program does not know
            _tell(str(SetAsideError(kept.file_name, reason(error))))
            continue
        if done.sound:
            notes = f"{counted(done.new, 'note')} found that the log did not have"
            typer.echo(f"{kept.file_name}: completed, {notes}, {done.again} it had.")
        else:
            typer.echo(f"{kept.file_name}: there was no sound in it yet.")
    for path in orphan_files(log):
        typer.echo(f"{path} is of no session that the log knows; voicelog add it.")
    if not found:
        typer.echo("Found no session that was cut short.")
    SessionCatalog(log, grammar_of).refresh()


def _mention_cut_short(log: Log) -> None:
    from voicelog.live.resume import interrupted_recordings

    if found := interrupted_recordings(log):
        _tell(
            f"Found {found[-1].file_name} cut short; its sound is safe, complete it in the "
            "evening with voicelog listen --resume."
        )


def check_clock(log: Log, wall: datetime) -> None:
    """Say when the clock stands before what the log holds already."""
    starts = [kept.started_at for kept in log.recordings() if kept.started_at]
    aware = [start for start in starts if start.tzinfo is not None]
    if aware and max(aware) > wall:
        _tell(
            f"Found the clock at {wall:%Y-%m-%d %H:%M}, before the log's last recording "
            f"({max(aware):%Y-%m-%d %H:%M}), wanted it later; set the clock, or the order of "
            "sessions will be wrong."
        )


def _refuse_no_dogs(order: IntakeOptions) -> None:
    from voicelog.model import UsageError

    if not order.roster.dogs:
        raise UsageError(
            "Found no dog on the roster, wanted one whose name can be said; add it first: "
            "voicelog dogs put NAME --top 20 --collar 4."
        )


def _end(log: Log, live: LiveSession, whole: bool) -> None:
    from voicelog.app.session_catalog import SessionCatalog
    from voicelog.live.live_setup import grammar_of
    from voicelog.report.words import clock, counted

    typer.echo(f"{clock(live.at_s)} recorded, {counted(live.notes, 'note')} kept.")
    if not whole:
        typer.echo(
            "Not all of it is in the log yet, but all is safe: voicelog listen --resume takes in "
            "the rest; free some space before, if the disk is full."
        )
        raise typer.Exit(1)
    SessionCatalog(log, grammar_of).refresh()
    typer.echo("Its summary: voicelog summary")


def _tell(words: str) -> None:
    typer.echo(f"voicelog: {words}", err=True)
