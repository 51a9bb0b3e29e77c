"""Makes voicelog/recognition/artifact/: the acoustic layer, the fusion weights, their card.

Not a part of the program: it needs the extra `bench`, the engines of tests/bench/voices.py and
hours, and is run when what is heard has changed. README.md tells how.
"""
