"""Entries become sessions and reps, by pure functions.

`entries.fold` says what was said, `assemble` what was done, `edits` what a spoken edit
aims at. The meaning of a rep is written down here and nowhere else.
"""
