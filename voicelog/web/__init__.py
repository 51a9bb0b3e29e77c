"""The page at the laptop: read the evening's log, listen to what is to check, correct it.

`desk` is what a reviewer can do to a log, with no web in it; `app` puts it on a page, `guard`
keeps everybody else out, `serve` opens it. Nothing here decides what words mean: a correction
goes the same way as speech.
"""
