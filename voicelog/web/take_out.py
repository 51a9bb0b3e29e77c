"""What leaves the log by the page: data for other programs, a bundle, a backup, the owner's report.

Everything is a download, so nothing is written anywhere on this machine but by the browser. What
is large is made as a file in the log's folder, sent from there and removed.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from tempfile import mkdtemp
from typing import get_args

from starlette.background import BackgroundTask
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from voicelog.app.archive import export_bundle, saved_copy
from voicelog.app.export import export_log, export_use_record
from voicelog.app.progress import owner_pdf
from voicelog.app.review.errors import BadRequestError, NotFoundError
from voicelog.audio.locked_files import open_bytes, size_of
from voicelog.model import CONTRACT_VERSION, ContractFormat
from voicelog.report.owner_report import Collar
from voicelog.store.log_lock import OUTGOING_FOLDER, work_folder
from voicelog.web.job_desk import JobDesk
from voicelog.web.responses import path_step

__all__ = ["clear_outgoing", "owner", "owner_report", "take_out", "taken_out"]


def take_out(desk: JobDesk, request: Request) -> Response:
    """The page with all that can be taken out."""
    log, catalog = desk.service.log, desk.service.session_catalog
    return desk.page(
        request,
        "take_out.html",
        dogs=catalog.dogs(),
        contracts=get_args(ContractFormat),
        locked=log.locked,
    )


def taken_out(desk: JobDesk, request: Request) -> Response:
    """One of them as a download, by the `name` of its file."""
    catalog, asked = desk.service.session_catalog, request.query_params
    dog = asked.get("dog", "")[:200] or None
    name = request.path_params["name"]
    if dog is not None and name in ("record.csv", "bundle.zip"):
        desk.service.bring_dogs([dog])
    elif name != "backup.zip":
        catalog.refresh()
    if name == "voicelog.json":
        contract = _contract(asked.get("contract"))
        return _download(name, export_log(catalog, "json", contract).files[name].encode())
    if name == "tables.zip":
        return _download(name, _zipped(export_log(catalog, "csv").files))
    if name == "record.csv":
        found = export_use_record(catalog, dog, asked.get("reason", "")[:200])
        return _download(name, found.files[name].encode())
    folder = _outgoing(desk.service.log.folder)
    if name == "backup.zip":
        return _file(saved_copy(desk.service.log, folder), folder)
    if name == "bundle.zip" and dog is not None:
        return _file(export_bundle(catalog, folder, dog, _day(asked.get("day"))).path, folder)
    folder.rmdir()
    raise NotFoundError("Found nothing of that name to take out; go back and choose again.")


def owner(desk: JobDesk, request: Request) -> Response:
    """The page that asks what the owner's report cannot know."""
    return desk.page(request, "owner.html", dog=request.path_params["name"])


def owner_report(desk: JobDesk, request: Request) -> Response:
    """The owner's report as PDF."""
    asked = request.query_params
    collar = next((one for one in get_args(Collar) if one == asked.get("collar")), None)
    catalog = desk.service.session_catalog
    desk.service.bring_dogs([request.path_params["name"]])
    name, content = owner_pdf(
        catalog,
        request.path_params["name"],
        desk.service.today(),
        ring=asked.get("ring", "")[:200],
        collar=collar,
    )
    return _download(f"{name}.pdf", content)


def clear_outgoing(folder: Path) -> None:
    """Remove what an interrupted download left in the log's `folder`."""
    place = work_folder(folder) / OUTGOING_FOLDER
    for path in sorted(place.glob("*/*")):
        path.unlink(missing_ok=True)
    for path in place.glob("*"):
        path.rmdir()


# --- within -----------------------------------------------------------------------------


def _outgoing(folder: Path) -> Path:
    place = work_folder(folder) / OUTGOING_FOLDER
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    return Path(mkdtemp(dir=place))


def _file(path: Path, folder: Path) -> Response:
    def gone() -> None:
        path.unlink(missing_ok=True)
        folder.rmdir()

    return StreamingResponse(
        _pieces(path),
        media_type="application/zip",
        headers=_attachment(path.name) | {"content-length": str(size_of(path))},
        background=BackgroundTask(gone),
    )


def _pieces(path: Path) -> Iterator[bytes]:
    with open_bytes(path) as file:
        while piece := file.read(1 << 20):
            yield piece


def _attachment(name: str) -> dict[str, str]:
    return {"content-disposition": f"attachment; filename*=UTF-8''{path_step(name)}"}


def _download(name: str, content: bytes) -> Response:
    return Response(
        content,
        media_type="application/octet-stream",
        headers=_attachment(name),
    )


def _zipped(files: Mapping[str, str]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def _contract(asked: str | None) -> ContractFormat:
    found = [one for one in get_args(ContractFormat) if str(one) == asked]
    return found[0] if found else CONTRACT_VERSION


def _day(asked: str | None) -> date | None:
    try:
        return date.fromisoformat(asked) if asked else None
    except ValueError as error:
        raise BadRequestError("Found no day, wanted one; choose it again.") from error
