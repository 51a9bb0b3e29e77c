"""Whose program is at the other end of a connection within this machine.

A browser is started with the address on its command line, where other users of the machine can
read it before the browser has opened it. Linux says whose socket it is, so such a reader is told
from this user. Where the system does not say, it rests on the address opening only once.
"""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

__all__ = ["is_another_user"]

_TABLES = tuple(Path("/proc/net", name) for name in ("tcp", "tcp6"))
_LOOPBACK = f"{int.from_bytes(socket.inet_aton('127.0.0.1'), sys.byteorder):08X}"


def is_another_user(client_port: int, server_port: int) -> bool:
    """Whether a connection over 127.0.0.1 is known to come from another user than this one.

    An administrator may do anything here, and is not counted as another.
    """
    owner = _owner(client_port, server_port)
    return owner is not None and owner not in (os.getuid(), 0)


def _owner(client_port: int, server_port: int) -> int | None:
    """The user who holds the client's end, None where the system does not say."""
    ends = f"{_LOOPBACK}:{client_port:04X}", f"{_LOOPBACK}:{server_port:04X}"
    for table in _TABLES:
        try:
            rows = table.read_text().splitlines()[1:]
        except OSError:
            continue
        for row in rows:
            fields = row.split()
            if fields[1].endswith(ends[0]) and fields[2].endswith(ends[1]):
                return int(fields[7])
    return None
