#!/usr/bin/env bash
# The demo and the tests of the core with no network at all: only what is on this machine. That no
# command asks for one is held by tests/reliability/test_offline.py.
#
#     bash tests/bench/offline.sh            # the demo, then the rooms' tests
#     bash tests/bench/offline.sh demo       # the demo alone
set -euo pipefail
cd "$(dirname "$0")/../.."

if [ -z "${OFFLINE:-}" ]; then
    for how in "unshare -n" "unshare -Urn"; do
        if $how true 2>/dev/null; then
            OFFLINE=1 exec $how bash "$0" "$@"
        fi
    done
    echo "this system does not let a program be cut off from the network" >&2
    exit 77
fi

python - <<'PYTHON'
import fcntl
import socket
import struct

with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as any_socket:  # this machine's own loopback
    fcntl.ioctl(any_socket, 0x8914, struct.pack("16sh", b"lo", 0x1 | 0x40))  # SIOCSIFFLAGS: up
try:
    socket.create_connection(("192.0.2.1", 80), 2)
except OSError as error:
    print(f"no network: {error}")
else:
    raise SystemExit("there is a network")
PYTHON
voicelog demo --all >/dev/null
echo "the demo ran"
if [ "${1:-}" != demo ]; then
    python -m pytest tests/grammar tests/audio tests/session tests/safety tests/store tests/report \
        tests/recognition tests/cli
fi
