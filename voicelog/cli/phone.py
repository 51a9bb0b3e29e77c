"""`voicelog phone`: the page by which a phone records for this machine."""

from __future__ import annotations

import os
import signal
import sys
from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from voicelog.app.command_process import FACE_NAME
from voicelog.app.open_file import IntakeOptions, lasting_options
from voicelog.app.open_log import open_log
from voicelog.app.phone_process import PhonePlace, phone_at_work, tell_phone_place
from voicelog.app.resume import ResumedRecording
from voicelog.app.review.errors import PortError
from voicelog.cli import options
from voicelog.live.live_setup import ListenOptions
from voicelog.live.phone_listening import PhoneListening
from voicelog.live.speech_synthesis import find_voice
from voicelog.model import UsageError, VoicelogError
from voicelog.model.adding import AddedFile
from voicelog.report.added_words import added_words
from voicelog.report.phone_words import (
    NO_DOGS_LIVE,
    NO_NETWORK,
    NO_VOICE_LIVE,
    PHONE_LAST,
    joined_words,
    phone_added_words,
    phone_open_words,
    phone_opened_words,
    phone_port_words,
    phone_resumed_words,
    qr_lines,
)
from voicelog.store import Log, default_folder

if TYPE_CHECKING:
    from voicelog.app.phone_sound import PhoneOutcome, PhoneRecording
    from voicelog.web.phone.server import PhoneAddresses

__all__ = ["phone"]


def phone(
    port: Annotated[int, typer.Option("--port", min=0, max=65534, metavar="N")] = 8138,
    address: Annotated[
        str | None,
        typer.Option(
            "--address", metavar="ADDRESS", help="This machine's address as the phone sees it."
        ),
    ] = None,
    live: Annotated[
        bool,
        typer.Option("--live", help="Answer in the phone's headset while it records."),
    ] = False,
    earpiece: Annotated[
        bool,
        typer.Option(
            "--earpiece",
            help="The phone's microphone cannot hear its earphone: with --live, what is said "
            "meanwhile can be sure.",
        ),
    ] = False,
    dog: options.DogNames = None,
    listener: options.ListenerOption = None,
    optional: options.OptIn = None,
    settings: options.SettingsFile = None,
    data_dir: options.DataDir = None,
) -> None:
    """Let a phone record for this machine, through a page in its browser, until Ctrl-C.

    The phone keeps its sound until that is on this machine's disk, so it may be out of reach for
    hours. A complete recording is heard and kept in the log. The page shows nothing of the log.
    With --live the phone's headset answers as in 'voicelog listen'; what comes late is text.

    Example: voicelog phone --live
    """
    try:
        # Extras are needed for the page, and whoever has not installed them is told so here.
        import segno

        # The same holds for what serves it.
        from voicelog.web.phone.server import serve_phone
    except ModuleNotFoundError as error:
        raise UsageError(
            f"Found no '{error.name}' library, wanted it for the page; install it: "
            "pip install 'voicelog[review]'."
        ) from error

    folder = data_dir or default_folder()
    at_page = os.environ.get(FACE_NAME) == "page"
    if at_page:  # whoever starts the page in the background of a shell has that ignored, and so us
        signal.signal(signal.SIGINT, signal.default_int_handler)

    def show(target: str) -> None:
        typer.echo(qr_lines(segno.make(target, error="m").matrix_iter(border=2)))

    at: list[PhoneAddresses] = []

    def tell_place(code: str) -> None:
        where = at[0]
        place = PhonePlace(
            page=where.page,
            trust=where.trust,
            fingerprint=where.fingerprint,
            code=code,
            joining=where.joining(code),
            live=live,
        )
        tell_phone_place(folder, place)

    def opened(where: PhoneAddresses) -> None:
        at.append(where)
        tell_place(where.code)
        if not at_page:
            show_codes(where)
        if left := phone_open_words(where.unfinished):
            typer.echo(left)
        if not at_page:
            typer.echo(PHONE_LAST)
        if address is None and "//127." in where.page:
            typer.echo(f"voicelog: {NO_NETWORK}", err=True)
        sys.stdout.flush()

    def show_codes(where: PhoneAddresses) -> None:
        first, second = phone_opened_words(where.trust, where.page, where.code, where.fingerprint)
        typer.echo(first)
        show(where.trust)
        typer.echo(second)
        show(where.joining(where.code))

    def joined(code: str) -> None:
        tell_place(code)
        typer.echo(joined_words(code, "page" if at_page else "terminal"))
        if not at_page:
            show(at[0].joining(code))
        sys.stdout.flush()

    def added(kept: PhoneRecording, result: PhoneOutcome) -> None:
        if isinstance(result, AddedFile):
            said = added_words(result)
            typer.echo(phone_added_words(kept.started_at, kept.device, said))
        elif isinstance(result, ResumedRecording):
            typer.echo(phone_resumed_words(kept.started_at, kept.device, result.new))
        elif result is not None:
            failed(result)
        sys.stdout.flush()

    told: set[str] = set()

    def failed(error: VoicelogError) -> None:
        if str(error) not in told:  # it is tried every minute, and need not be said again
            typer.echo(f"voicelog: {error}", err=True)
        told.add(str(error))

    def wanted(log: Log) -> IntakeOptions:
        return lasting_options(
            log, dog=dog, listener=listener, optional=optional, settings=settings
        )

    def lived(log: Log) -> ListenOptions:
        asked = wanted(log)
        return ListenOptions(
            roster=asked.roster,
            settings=asked.settings,
            dog=asked.dog,
            optional=asked.optional,
            listener=asked.listener,
            earpiece=earpiece,
        )

    def noted(words: str) -> None:
        typer.echo(words)
        sys.stdout.flush()

    with open_log(folder) as log:
        asked = wanted(log)  # what is wrong with the options is said at once
    listening: PhoneListening | None = None
    if live:
        if not asked.roster.dogs:
            raise UsageError(NO_DOGS_LIVE)
        if (voice := find_voice()) is None:
            typer.echo(f"voicelog: {NO_VOICE_LIVE}", err=True)
        listening = PhoneListening(lived, voice, noted)
    try:
        with phone_at_work(folder):
            serve_phone(
                folder,
                port=port,
                address=address,
                options=wanted,
                opened=opened,
                joined=joined,
                added=added,
                failed=failed,
                now=lambda: datetime.now().astimezone(),
                listening=listening,
            )
    except PortError as error:
        raise UsageError(phone_port_words(port, "page" if at_page else "terminal")) from error
