"""Entries become sessions and reps, by pure functions.

`entries.fold` says what was said, `spoken_edits` what a spoken edit aims at, and
`variants.assemble` what was done. It is built in this order, each file using the next:
`recording_builder` (entries to sessions), `utterance_builder` and `corrections` (to which rep a
phrase belongs, or which it mends), `session_builder`, `rep_builder`. The meaning of a rep is
written down here and nowhere else.
"""
