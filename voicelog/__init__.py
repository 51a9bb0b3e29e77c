"""voicelog: a spoken field log for dog trainers. She talks, the tool logs."""

import os

__all__ = ["__version__"]

__version__ = "0.2.0"

# Sums of many numbers differ in their last digits with the threads that share them. With one, what
# is heard is the same on each computer, and on a worker of a cluster.
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
