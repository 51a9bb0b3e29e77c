"""Entries become sessions and reps, by pure functions.

`entries.fold` says what was said, `spoken_edits` what a spoken edit aims at, and
`variants.assemble` what was done. A session is built in one direction, each file using only the
next:

- `variants` builds a recording's sessions two or three ways and compares them;
- `recording_builder` takes its entries in order: which session one falls in;
- `utterance_builder` and `corrections` take one entry's phrases: to which rep each belongs, or
  what it replaces. They hold no state beyond that entry;
- `session_builder` holds what is known of one session, `rep_builder` of one rep.

All state that outlasts an entry is in those last two, and changes only through their own methods,
each named for what was said or done (a test holds that). Those above read their fields and call
the methods; nothing calls up. What comes out (`Session`, `Rep`) is frozen. The meaning of a rep is
written down here and nowhere else.
"""
