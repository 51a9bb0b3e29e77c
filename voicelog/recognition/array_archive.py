"""Read weights from archives of NumPy arrays (numpy.savez), with nothing that could run code."""

from __future__ import annotations

from os import PathLike
from typing import IO
from zipfile import ZipFile

import numpy as np
from numpy.lib.format import read_array
from numpy.typing import NDArray

__all__ = ["read_arrays"]


def read_arrays(archive: str | PathLike[str] | IO[bytes]) -> dict[str, NDArray[np.float32]]:
    """The arrays of an archive by their names, as float32.

    archive: a file, by its path or open. Raises ValueError or zipfile.BadZipFile where it holds
    anything else than arrays of numbers.
    """
    found: dict[str, NDArray[np.float32]] = {}
    with ZipFile(archive) as kept:
        for name in kept.namelist():
            with kept.open(name) as file:
                array = read_array(file, allow_pickle=False)
            found[name.removesuffix(".npy")] = array.astype(np.float32)
    return found
