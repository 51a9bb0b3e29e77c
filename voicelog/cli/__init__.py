"""The command line: parse arguments, call, print.

Each command imports what it needs when it runs, so `--help` stays light. Exit codes: 0 done,
1 failed (also when one file of many did), 2 called wrongly.
"""

from voicelog.cli.app import main

__all__ = ["main"]
