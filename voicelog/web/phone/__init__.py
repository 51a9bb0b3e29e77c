"""The page for a phone that records: its authority, its joining, its capture. It holds nothing of
the log, so that a phone in a pocket opens no more than a microphone."""
