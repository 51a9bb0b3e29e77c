"""`voicelog review`: the page at the laptop."""

from __future__ import annotations

import os
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

import voicelog
from voicelog.app.launcher import write_launcher
from voicelog.app.review.errors import PortError
from voicelog.cli import options
from voicelog.cli.browser import open_in_browser
from voicelog.model import UsageError
from voicelog.report.launcher_words import launcher_words
from voicelog.store import default_folder

if TYPE_CHECKING:
    from voicelog.web.server import PageAddress

__all__ = ["review"]


def review(
    port: Annotated[int, typer.Option("--port", min=0, max=65535, metavar="N")] = 8137,
    who: Annotated[
        str | None,
        typer.Option(
            "--as",
            metavar="NAME",
            help="Who corrects. Default: the only handler, else the page asks.",
        ),
    ] = None,
    budget: Annotated[
        int,
        typer.Option(
            "--budget", min=1, max=99, metavar="N", help="How many entries to check in a session."
        ),
    ] = 4,
    network: Annotated[
        bool,
        typer.Option(
            "--network",
            help="Open the page to other machines of the network, encrypted, with an access code. "
            "Anyone with the code can hear, read and change the whole log.",
        ),
    ] = False,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open it in the browser.")
    ] = True,
    launcher: Annotated[
        bool,
        typer.Option(
            "--launcher", help="Put voicelog into the desktop's menu, which then opens the page."
        ),
    ] = False,
    data_dir: options.DataDir = None,
) -> None:
    """Read, hear and correct the log on a page in the browser, until Ctrl-C.

    The page can be opened on this machine only, unless you say --network. The printed address opens
    it once, in one browser; then another address is printed for another browser. If the page is
    open already, it is shown again in the browser.

    Example: voicelog review --as Anna
    """
    try:
        # An extra is needed for the page, and whoever has not installed it is told so here.
        from voicelog.web.running_page import running_page
        from voicelog.web.server import serve
    except ModuleNotFoundError as error:
        raise UsageError(
            f"Found no '{error.name}' library, wanted it for the page; install it: "
            "pip install 'voicelog[review]'."
        ) from error

    folder = data_dir or default_folder()
    if launcher:
        typer.echo(launcher_words(str(_write_launcher(data_dir))))
        return

    def opened(at: PageAddress) -> None:
        typer.echo(f"The page is at {at.address} (stop with Ctrl-C).")
        typer.echo("This address opens the page once, in one browser; then another is printed.")
        if at.code:
            typer.echo(f"On the network: {', '.join(at.others) or at.address}")
            typer.echo(f"Access code: {at.code}")
            typer.echo(
                "Anyone with this code can hear, read and change the whole log. The browser warns "
                "once, since voicelog made the certificate itself; compare the fingerprint:"
            )
            typer.echo(f"SHA-256 {at.fingerprint}")
        sys.stdout.flush()
        if browser:
            open_in_browser(at.address)

    def another(address: str) -> None:
        typer.echo(f"A browser opened the page. For another browser: {address}")
        sys.stdout.flush()

    try:
        serve(
            folder,
            port=port,
            who=options.person(who),
            named=who is not None,
            budget=budget,
            network=network,
            opened=opened,
            another=another,
            now=lambda: datetime.now().astimezone(),
        )
    except PortError:
        there = running_page(folder, port)
        if there is None:
            raise
        typer.echo(f"The page of this log is already open: {there}")
        if browser:
            open_in_browser(there)


def _write_launcher(data_dir: Path | None) -> Path:
    """Put a launcher into the menu that runs this program."""
    program = Path(sys.argv[0]).absolute()
    command = (
        [str(program)]
        if program.stem == "voicelog" and program.is_file()
        else [sys.executable, "-c", "from voicelog.cli import main; main()"]
    )
    named = [] if data_dir is None else [f"--data-dir={data_dir.absolute()}"]
    return write_launcher(
        [*command, "review", *named],
        Path(voicelog.__file__).parent / "web" / "static" / "mark.svg",
        platform=sys.platform,
        home=Path.home(),
        environment=os.environ,
    )
