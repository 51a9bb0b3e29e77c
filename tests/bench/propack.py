"""Unpack what RNC ProPack (method 1) packed, as games of the nineties did with their sound.

Three prefix codes stand before each block: for runs of bytes that follow as they are, for how far
back to copy from, and for how much. Bits come from little words, the lowest first; runs lie between
them, after the word that has been begun.
"""

from __future__ import annotations

import struct

__all__ = ["MAGIC", "unpacked"]

MAGIC = b"RNC\1"
_HEADER = 18


def unpacked(packed: bytes) -> bytes:
    """What was packed; ValueError where it is not that or its length differs."""
    if not packed.startswith(MAGIC):
        raise ValueError(f"Found {packed[:4]!r} at the start, wanted {MAGIC!r}.")
    (size,) = struct.unpack(">I", packed[4:8])
    bits = _Bits(packed)
    bits.take(2)  # flags of the packer
    out = bytearray()
    while len(out) < size:
        runs, backs, lengths = _Code(bits), _Code(bits), _Code(bits)
        for left in range(bits.take(16) - 1, -1, -1):
            out += bits.run(runs.number(bits))
            if left:
                back, length = backs.number(bits) + 1, lengths.number(bits) + 2
                start = len(out) - back
                for place in range(start, start + length):
                    out.append(out[place])
    if len(out) != size:
        raise ValueError(f"Found {len(out)} bytes, wanted {size}.")
    return bytes(out)


class _Bits:
    """Reads bits, and runs of bytes between them: a word that is only looked ahead at is put back
    before a run."""

    def __init__(self, packed: bytes) -> None:
        self._packed, self._at = packed + bytes(4), _HEADER
        self.ahead, self._count = self._word(), 16

    def _word(self) -> int:
        return self._packed[self._at] | self._packed[self._at + 1] << 8

    def take(self, count: int) -> int:
        value = self.ahead & ((1 << count) - 1)
        self.ahead >>= count
        self._count -= count
        if self._count < 16:
            self._at += 2
            self.ahead |= self._word() << self._count
            self._count += 16
        return value

    def run(self, length: int) -> bytes:
        if not length:
            return b""
        found = self._packed[self._at : self._at + length]
        self._at += length
        self._count -= 16
        self.ahead &= (1 << self._count) - 1
        self.ahead |= self._word() << self._count
        self._count += 16
        return found


class _Code:
    """A prefix code, told by the lengths of its words. It says how many bits a number has."""

    def __init__(self, bits: _Bits) -> None:
        lengths = [bits.take(4) for _ in range(bits.take(5))]
        self._words: dict[tuple[int, int], int] = {}
        code = 0
        for length in range(1, max(lengths, default=0) + 1):
            for value in (at for at, one in enumerate(lengths) if one == length):
                mirrored = int(f"{code:0{length}b}"[::-1], 2)
                self._words[length, mirrored] = value
                code += 1
            code <<= 1
        self._lengths = sorted({length for length, _ in self._words})

    def number(self, bits: _Bits) -> int:
        for length in self._lengths:
            value = self._words.get((length, bits.ahead & ((1 << length) - 1)))
            if value is not None:
                bits.take(length)
                return value if value < 2 else 1 << (value - 1) | bits.take(value - 1)
        raise ValueError("Found bits of no word of the code, wanted packed data that is whole.")
