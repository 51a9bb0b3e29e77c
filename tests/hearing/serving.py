"""A web server on this machine that serves files, and can fail as servers in the world do."""

from __future__ import annotations

import hashlib
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email.message import Message
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

__all__ = ["Server", "serving", "tag_of"]


@dataclass
class Server:
    """What is served, how it fails, and what was asked for (path, Range header or None)."""

    url: str = ""
    files: dict[str, bytes] = field(default_factory=dict)
    redirects: dict[str, str] = field(default_factory=dict)
    codes: list[int] = field(default_factory=list)
    """Answers to give before any file, one for each request."""
    cut_after: list[int] = field(default_factory=list)
    """Bytes after which to drop the connection, one for each request."""
    ranges: bool = True
    tags: bool = True
    lengths: bool = True
    asked: list[tuple[str, str | None]] = field(default_factory=list)

    def at(self, path: str) -> str:
        return f"{self.url}{path}"


def tag_of(body: bytes) -> str:
    """What the server calls this version of a file."""
    return f'"{hashlib.sha256(body).hexdigest()[:8]}"'


@contextmanager
def serving(**how: object) -> Iterator[Server]:
    """A server on a free port of this machine; `how` are fields of Server."""
    server = Server(**how)  # type: ignore[arg-type]

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            server.asked.append((self.path, self.headers.get("Range")))
            if server.codes:
                return self._bare(server.codes.pop(0))
            if self.path in server.redirects:
                return self._bare(302, Location=server.redirects[self.path])
            if self.path not in server.files:
                return self._bare(404)
            return self._file(server.files[self.path], self.headers)

        def _file(self, body: bytes, headers: Message) -> None:
            tag = tag_of(body)
            wanted = re.fullmatch(r"bytes=(\d+)-", headers.get("Range", ""))
            start = 0
            if wanted and server.ranges and headers.get("If-Range") == tag:
                start = int(wanted[1])
                if start >= len(body):
                    return self._bare(416, **{"Content-Range": f"bytes */{len(body)}"})
                self.send_response(206)
                span = f"bytes {start}-{len(body) - 1}/{len(body)}"
                self.send_header("Content-Range", span)
            else:
                self.send_response(200)
            if server.tags:
                self.send_header("ETag", tag)
            if server.lengths:
                self.send_header("Content-Length", str(len(body) - start))
            self.end_headers()
            rest = body[start:]
            self.wfile.write(rest[: server.cut_after.pop(0)] if server.cut_after else rest)
            return None

        def _bare(self, code: int, **headers: str) -> None:
            self.send_response(code)
            for name, value in headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_args: object) -> None:
            pass

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as httpd:
        server.url = f"http://127.0.0.1:{httpd.server_address[1]}"
        thread = threading.Thread(target=httpd.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield server
        finally:
            httpd.shutdown()
            thread.join()
