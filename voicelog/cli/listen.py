"""`voicelog listen`, the live session in the field."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Annotated, Literal

import typer

from voicelog.app.command_process import FACE_NAME
from voicelog.app.open_file import IntakeOptions
from voicelog.app.open_log import open_log, start_after
from voicelog.app.resume import interrupted_recordings, orphan_files, resume_all
from voicelog.app.session_catalog import SessionCatalog
from voicelog.audio import microphone
from voicelog.audio.microphone import DeviceError
from voicelog.cli import options
from voicelog.cli.device_options import DeviceName, OutputName, RateOption, SideOption
from voicelog.cli.intake import intake_options
from voicelog.cli.open_catalog import refreshed_session_catalog
from voicelog.live.devices import find_live_devices
from voicelog.live.live_session import LiveSession
from voicelog.live.live_setup import ListenOptions, make_live_setup
from voicelog.live.lock import live_lock
from voicelog.live.screen import Screen
from voicelog.live.screen_content import screen_content_of
from voicelog.live.speech_synthesis import find_voice
from voicelog.model import UsageError, VoicelogError
from voicelog.recognition.recognizers import RecognizerChoice
from voicelog.report.device_words import face_words
from voicelog.report.listening_words import cut_short_before_words
from voicelog.report.screen_words import clock_behind_words, not_heard_words, not_whole_words
from voicelog.report.words import Face, clock, counted
from voicelog.store import Log, SetAsideError

__all__ = ["listen"]


def listen(
    dog: options.DogNames = None,
    device: DeviceName = None,
    rate: RateOption = None,
    output: OutputName = None,
    side: SideOption = "left",
    replies: Annotated[
        Literal["all", "doubtful", "none"],
        typer.Option(
            "--say",
            help="Which notes are read back (doubtful: those to check). Warnings and answers "
            "are always spoken.",
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
        str,
        typer.Option("--as", metavar="NAME", help="Who speaks; the name is kept with the answers."),
    ] = "",
    plain: Annotated[
        bool, typer.Option("--plain", help="A line for each note instead of the page.")
    ] = False,
    resume: Annotated[
        bool,
        typer.Option(
            "--resume", help="Complete a session that was cut short, from its sound, then stop."
        ),
    ] = False,
    listener: options.ListenerOption = None,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Listen to the microphone, keep it all, and answer in one ear. Ctrl-C ends it.

    One tone a rep: a short pip is kept and sure, two low ones kept to check, a long low one
    not understood; a soft tick each minute means listening. Use an earphone, never a loudspeaker:
    a dog would learn the tones. It reminds, it does not decide: watch the dog, whatever you hear
    in your ear.

    Example: voicelog listen --dog Bracken --dog Wren --earpiece
    """
    asked = intake_options(
        strangers=False,
        dog=dog,
        typed=False,
        listener=listener,
        at=None,
        optional=optional,
        settings=settings,
        data_dir=data_dir,
    )
    with open_log(data_dir) as log, live_lock(log.folder):
        if resume:
            _complete(log, listener)
            return
        _refuse_no_dogs(asked)
        _mention_cut_short(log)
        refreshed_session_catalog(log)

        try:
            devices = find_live_devices(
                microphone.portaudio(),
                device=device,
                rate=rate,
                output=output,
                side=side,
                volume=volume,
            )
        except DeviceError as error:
            raise VoicelogError(face_words(error, _face())) from error
        earphone, voice = devices.earphone, find_voice()
        if devices.trouble is not None:
            words = face_words(devices.trouble, _face())
            _tell(f"{words} Until then warnings are on the screen only.")
        if earphone is not None and voice is None:
            _tell(
                "Found no voice, wanted one for warnings; they are tones and words on the screen "
                "until you install voicelog[voice]."
            )
        wanted = ListenOptions(
            roster=asked.roster,
            settings=asked.settings,
            dog=asked.dog,
            optional=asked.optional,
            listener=asked.listener,
            replies=replies,
            earpiece=earpiece,
            who=who,
        )
        setup = make_live_setup(log, wanted)
        wall = setup.clock.wall()
        if (last := start_after(log, wall)) is not None:
            _tell(clock_behind_words(wall, last))
        with Screen(plain=plain) as screen:
            live = LiveSession(
                setup,
                microphone=devices.microphone,
                audio_output=earphone,
                voice=voice,
                on_change=lambda live: screen.show(screen_content_of(live)),
                on_note=screen.line,
            )
            with _stopped_by_signals(live):
                whole = live.run()
        if earphone is not None:
            earphone.close()
        _end(log, live, whole)


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


def _complete(log: Log, listener: RecognizerChoice | None) -> None:
    found = False
    for done in resume_all(log, listener):
        found = True
        if isinstance(done, SetAsideError):
            _tell(str(done))
        elif done.sound:
            notes = f"{counted(done.new, 'note')} found that the log did not have"
            typer.echo(f"{done.recording.file_name}: completed, {notes}, {done.again} it had.")
        else:
            typer.echo(f"{done.recording.file_name}: there was no sound in it yet.")
    for path in orphan_files(log):
        typer.echo(f"{path} belongs to no session in the log; add it with voicelog add.")
    if not found:
        typer.echo("Found no session that was cut short.")
    SessionCatalog(log).refresh()


def _mention_cut_short(log: Log) -> None:
    if found := interrupted_recordings(log):
        _tell(cut_short_before_words(found[-1].file_name, _face()))


def _face() -> Face:
    """Where what is printed is read."""
    return "page" if os.environ.get(FACE_NAME) == "page" else "terminal"


def _refuse_no_dogs(asked: IntakeOptions) -> None:
    if not asked.roster.dogs:
        raise UsageError(
            "Found no dog on the roster, wanted one whose name can be said; add it first: "
            "voicelog dogs put NAME --top 20 --collar 4."
        )


def _end(log: Log, live: LiveSession, whole: bool) -> None:
    typer.echo(f"{clock(live.at_s)} recorded, {counted(live.notes, 'note')} kept.")
    if round(live.unheard_s) >= 1:
        typer.echo(not_heard_words(live.unheard_s))
    if not whole:
        typer.echo(not_whole_words(live.unsaved_s, disk_full=live.disk_refuses))
        raise typer.Exit(1)
    SessionCatalog(log).refresh()
    if _face() == "terminal":
        typer.echo("Its summary: voicelog summary")


def _tell(words: str) -> None:
    typer.echo(f"voicelog: {words}", err=True)
