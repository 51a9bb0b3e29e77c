"""The numbered steps. A released one is never edited."""
