"""voicelog: a spoken field log for dog trainers. She talks, the tool logs."""

__all__ = ["__version__"]

__version__ = "0.2.0"
