"""Safety: read a session against the rules and say what went against the dog.

Pure functions over `Session`. Nothing here asks for a press, and nothing here can be
switched off silently.
"""

from voicelog.safety.check import RULES, check, findings, rule_named
from voicelog.safety.history import History, PastSign, history_of
from voicelog.safety.settings import Settings, Thresholds, changed
from voicelog.safety.settings_file import SettingsError, default_toml, load_settings

__all__ = [
    "RULES",
    "History",
    "PastSign",
    "Settings",
    "SettingsError",
    "Thresholds",
    "changed",
    "check",
    "default_toml",
    "findings",
    "history_of",
    "load_settings",
    "rule_named",
]
