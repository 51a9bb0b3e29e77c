"""One kennel, many devices: a folder of sealed files that any file-sync engine may carry.

    kennel.json                                     written once
    d-<device>/<nnn>/000123-<identity>-<bytes>.seg  only this device writes here
    sound/<xx>/<sha256>.<suffix>                    optional

`items` says what travels and by what it is known, `segments` how it is written as a file, `place`
where the files lie, `outbox` makes segments of what is new in a log, `inbox` takes those of
others in, `hearings` chooses what is shown where one sound was heard more than once, and
`sifting` what is set aside since it does not derive; `showing` does both. `tables` is what a log
remembers of all this. The database itself is each device's own and never shared.

In what order events count follows from the times of commit (`voicelog.store.commit_time`): each
is later than all that its device knew of that recording, whatever the clock said, as in Kulkarni
et al., "Logical Physical Clocks" (2014). Clocks decide only between what was done by two who did
not know of each other.
"""

from __future__ import annotations
