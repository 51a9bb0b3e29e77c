"""Papers: a session's summary as one value, and its text, Markdown, HTML, CSV and JSON."""
