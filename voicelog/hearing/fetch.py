"""Fetch one large file over HTTPS, going on where an earlier try was cut.

What has come so far lies in NAME.part beside the target, and NAME.part.tag holds the
server's name for that version of the file, so that two versions are never joined. The
target appears only when it is whole. Plain HTTP is refused, also after a redirect, except
to this machine itself.
"""

from __future__ import annotations

import errno
import re
import shutil
import ssl
import time
from collections.abc import Callable
from http.client import HTTPException, HTTPMessage, HTTPResponse
from pathlib import Path
from typing import IO
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit
from urllib.request import HTTPRedirectHandler, Request, build_opener

from voicelog import __version__
from voicelog.model import VoicelogError

__all__ = ["FetchError", "MissingError", "Progress", "fetch"]

Progress = Callable[[int, int | None], None]
"""Called with the bytes there so far and the bytes in all, None where the server hides them."""

TIMEOUT_S = 30.0
"""A server silent for this long (s) is given up for this try."""
TRIES = 4
"""Tries in a row that may bring nothing."""
MOST = 4 << 30
"""Bytes; no model for a laptop is larger."""
_CHUNK = 1 << 18
_OF_THE_DISK = frozenset({errno.ENOSPC, errno.EACCES, errno.EROFS, errno.EDQUOT})
_THIS_MACHINE = frozenset({"localhost", "127.0.0.1", "::1"})
_ELSEWHERE = (
    "try again later, or fetch the file elsewhere and give it: voicelog listeners install FILE"
)


class FetchError(VoicelogError):
    """The file did not come."""


class MissingError(FetchError):
    """The server says that it has no such file."""


def fetch(
    url: str,
    target: Path,
    *,
    progress: Progress = lambda _done, _total: None,
    most: int = MOST,
    pause: Callable[[float], None] = time.sleep,
) -> None:
    """Put the file at `url` at `target`, whole; nothing is done when it is there already.

    A cut connection is taken up again after a pause (s), while anything still comes.

    Raises:
        MissingError: there is no such file.
        FetchError: it is not to be had, or is larger than `most` bytes or the free disk;
            what came so far stays for the next try.
    """
    _refuse_plain(url)
    if target.exists():
        return
    part = target.with_name(f"{target.name}.part")
    most_yet, in_vain = _size(part), 0
    while True:
        try:
            if _go_on(url, part, progress, most):
                break
            problem = "the connection was cut"
        except HTTPError as error:
            with error:
                problem = _refused(url, error)
        except (OSError, HTTPException) as error:
            problem = _unreachable(url, error)
        in_vain = 0 if _size(part) > most_yet else in_vain + 1
        most_yet = max(most_yet, _size(part))
        if in_vain == TRIES:
            came = f"; {_size(part) / 1e6:.1f} MB came and are kept" if _size(part) else ""
            raise FetchError(
                f"Found no way to fetch '{url}' ({problem}{came}), wanted the whole file; "
                f"{_ELSEWHERE}."
            )
        pause(2.0**in_vain)
    part.replace(target)
    _tag_of(part).unlink(missing_ok=True)


def _go_on(url: str, part: Path, progress: Progress, most: int) -> bool:
    """Ask once for what is missing and add it; whether the file is then whole."""
    have, tag = _size(part), _tag_of(part)
    headers = {"User-Agent": f"voicelog/{__version__}", "Accept-Encoding": "identity"}
    if have and tag.exists():
        headers |= {"Range": f"bytes={have}-", "If-Range": tag.read_text("utf-8")}
    try:
        answer = _OPENER.open(Request(url, headers=headers), timeout=TIMEOUT_S)
    except HTTPError as error:
        if error.code != 416:
            raise
        with error:  # nothing comes after what we have: it is whole, or of another version
            if error.headers.get("Content-Range") == f"bytes */{have}":
                return True
            part.unlink(missing_ok=True)
            return False
    with answer:
        start, total = _span(answer)
        if start != have:
            start = 0
            if answer.status == 206:  # not the rest that was asked for
                part.unlink(missing_ok=True)
                return False
        _refuse_large(url, part, total, most, missing=(total or 0) - start)
        tag.write_text(_version(answer), "utf-8")
        with part.open("ab" if start else "wb") as file:
            done = start
            progress(done, total)
            while chunk := answer.read(_CHUNK):
                done += len(chunk)
                if done > most:
                    _refuse_large(url, part, done, most, missing=0)
                file.write(chunk)
                progress(done, total)
    return total is None or done == total


def _span(answer: HTTPResponse) -> tuple[int, int | None]:
    """Where in the file the answer starts, and the bytes of the whole file."""
    if answer.status == 206:
        span = re.fullmatch(r"bytes (\d+)-\d+/(\d+)", answer.headers.get("Content-Range", ""))
        return (int(span[1]), int(span[2])) if span else (-1, None)
    length = answer.headers.get("Content-Length", "")
    return 0, int(length) if length.isdigit() else None


def _version(answer: HTTPResponse) -> str:
    """A name for this version of the file that If-Range takes; none when the server has none."""
    tag: str = answer.headers.get("ETag", "")
    dated: str = answer.headers.get("Last-Modified", "")
    return dated if not tag or tag.startswith("W/") else tag


def _refused(url: str, error: HTTPError) -> str:
    """What to say of a server's refusal that may pass; raises for one that will not."""
    if error.code in (404, 410):
        raise MissingError(
            f"Found nothing at '{url}' (the server answers {error.code}), wanted a model; check "
            "the address."
        ) from error
    if 300 <= error.code < 500 and error.code not in (408, 416, 429):
        raise FetchError(
            f"Found '{url}' closed to us (the server answers {error.code}), wanted a model that "
            f"anyone may fetch; {_ELSEWHERE}."
        ) from error
    return f"the server answers {error.code}"


def _unreachable(url: str, error: OSError | HTTPException) -> str:
    """What to say of a failure that may pass; raises for one that will not."""
    reason = error.reason if isinstance(error, URLError) else error
    if isinstance(reason, ssl.SSLCertVerificationError):
        raise FetchError(
            f"Found a certificate that cannot be trusted at '{urlsplit(url).hostname}' "
            f"({reason.verify_message}), wanted the publisher's own; check this machine's clock "
            "and network."
        ) from error
    if isinstance(error, OSError) and (error.filename or error.errno in _OF_THE_DISK):
        raise FetchError(
            f"Found no way to write the model ({error.strerror}), wanted a folder of your own "
            "with free space; name another in VOICELOG_MODELS."
        ) from error
    return str(reason) or type(reason).__name__


def _refuse_plain(url: str) -> None:
    parts = urlsplit(url)
    safe = parts.scheme == "https" or (parts.scheme == "http" and parts.hostname in _THIS_MACHINE)
    if not safe or not parts.hostname:
        raise FetchError(
            f"Found the address '{url}', wanted one that begins with https://, so that nobody "
            "between can change what comes; correct it."
        )


def _refuse_large(url: str, part: Path, total: int | None, most: int, *, missing: int) -> None:
    if (total or 0) > most:
        part.unlink(missing_ok=True)
        raise FetchError(
            f"Found {(total or 0) / 1e6:.0f} MB at '{url}', wanted a model of at most "
            f"{most / 1e6:.0f} MB; choose a smaller one."
        )
    free = shutil.disk_usage(part.parent).free
    if missing > free:
        raise FetchError(
            f"Found {free / 1e6:.0f} MB free in '{part.parent}', wanted {missing / 1e6:.0f} MB "
            "for the model; free some space, or name another folder in VOICELOG_MODELS."
        )


def _size(path: Path) -> int:
    return path.stat().st_size if path.exists() else 0


def _tag_of(part: Path) -> Path:
    return part.with_name(f"{part.name}.tag")


class _Redirects(HTTPRedirectHandler):
    """Follows a redirect only where we would have gone ourselves."""

    def redirect_request(
        self,
        req: Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: HTTPMessage,
        newurl: str,
    ) -> Request | None:
        try:
            _refuse_plain(newurl)
        except FetchError:
            fp.close()
            raise
        return super().redirect_request(req, fp, code, msg, headers, newurl)


_OPENER = build_opener(_Redirects)
