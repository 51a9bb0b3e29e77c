"""The page at the laptop: read the evening's log, listen to what is to check, correct it.

`app.review` is what a reviewer can do to a log, with no web in it; `app` here puts it on a page,
`security` keeps everybody else out, `server` opens it. Nothing here decides what words
mean: a correction goes the same way as speech.
"""
