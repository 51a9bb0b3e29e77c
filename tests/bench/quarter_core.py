"""Run a program on a quarter of one core: a stand-in for a slow board, with no claim about one.

The quota is the kernel's, by a control group: 25 ms of processor in each 100 ms, for the program
and all that it starts, on one core. Where systemd runs, it makes the group; else the group is
written directly, of version 2 or 1, which needs to be root.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

PERIOD_US, QUOTA_US = 100_000, 25_000
CGROUPS = Path("/sys/fs/cgroup")
SYSTEMD = Path("/run/systemd/system")
NAME = "voicelog-quarter"
CANNOT = (
    "Found no way to slow this down: systemd does not run here, and no control group can be "
    "written (that needs root, and a mounted cgroup with the cpu controller)."
)


def run_on_quarter_core(command: Sequence[str]) -> int:
    """Run it, and give back its exit status. Raises SystemExit where nothing can slow it down."""
    core = min(os.sched_getaffinity(0))
    if SYSTEMD.is_dir():
        limits = ["-p", "CPUQuota=25%", "-p", f"AllowedCPUs={core}"]
        user = [] if os.geteuid() == 0 else ["--user"]
        return subprocess.call(["systemd-run", *user, "--scope", "--quiet", *limits, *command])
    group = make_group(CGROUPS)
    if group is None:
        raise SystemExit(CANNOT)

    def join() -> None:
        (group / "cgroup.procs").write_text(str(os.getpid()))
        os.sched_setaffinity(0, {core})

    try:
        with subprocess.Popen(command, preexec_fn=join) as child:
            try:
                return child.wait()
            except KeyboardInterrupt:
                return child.wait()
    finally:
        try:
            group.rmdir()
        except OSError:
            print(f"{group} is still in use; it was left", file=sys.stderr)


def make_group(cgroups: Path) -> Path | None:
    """A new control group with that quota, below where they are mounted; None where it cannot be
    made."""
    v2 = (cgroups / "cgroup.controllers").is_file()
    group = (cgroups if v2 else cgroups / "cpu") / f"{NAME}-{os.getpid()}"
    limits: Mapping[str, str] = {
        "cpu.cfs_period_us": str(PERIOD_US),
        "cpu.cfs_quota_us": str(QUOTA_US),
    }
    try:
        if v2:
            (cgroups / "cgroup.subtree_control").write_text("+cpu")
            limits = {"cpu.max": f"{QUOTA_US} {PERIOD_US}"}
        group.mkdir()
        for name, value in limits.items():
            (group / name).write_text(value)
    except OSError:
        return None
    return group
