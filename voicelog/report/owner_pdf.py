"""The owner's report as a PDF of two pages, set by typst from its own fonts, offline."""

from __future__ import annotations

from pathlib import Path

from voicelog.model import VoicelogError
from voicelog.report.owner_report import OwnerReport

__all__ = ["NoTypstError", "pdf"]

TEMPLATE = Path(__file__).with_name("owner.typ")


class NoTypstError(VoicelogError):
    """The library that sets the PDF is not installed."""

    def __init__(self) -> None:
        super().__init__(
            "Found no typst to set the PDF with, wanted the optional part 'papers'; install it: "
            "pip install 'voicelog[papers]'."
        )


def pdf(owner: OwnerReport) -> bytes:
    """The report as PDF; the same report gives the same bytes. `owner` is the report as made.

    Raises NoTypstError without the extra 'papers'.
    """
    try:
        import typst  # an extra, and large: only where a PDF is made
    except ImportError as error:
        raise NoTypstError from error
    return typst.compile(
        TEMPLATE.read_bytes(),
        font_paths=typst.Fonts(include_system_fonts=False, include_embedded_fonts=True),
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"data": owner.model_dump_json()},
        timestamp=0,
    )
