"""The command line: parse arguments, call, print.

A command parses its options, calls one function of `voicelog.app`, and shows what it returns.
Exit codes: 0 done, 1 failed (also when one file of many did), 2 called wrongly.
"""

from voicelog.cli.app import main

__all__ = ["main"]
