"""How columns that are many or long are kept small: hashes as their bytes, long text zipped.

The program sees what it always saw: hashes as lower-case hexadecimal, text as text. A log of some
years has millions of hashes, and what is derived of a session is JSON that repeats itself.
"""

from __future__ import annotations

import zlib
from typing import Any

from sqlalchemy import LargeBinary
from sqlalchemy.types import TypeDecorator

__all__ = ["HashColumn", "HashesColumn", "ZippedColumn"]

_BYTES = 32
"""Of a SHA-256."""
_LEVEL = 6
_LONGEST = 64 << 20
"""Bytes that zipped text comes to, at most."""


class HashColumn(TypeDecorator[str]):
    """A SHA-256 in lower-case hexadecimal, kept as its bytes."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Any) -> bytes | None:
        """As it is kept. Raises ValueError where it is no hexadecimal."""
        return None if value is None else bytes.fromhex(value)

    def process_result_value(self, value: bytes | None, dialect: Any) -> str | None:
        """As the program has it."""
        return None if value is None else bytes(value).hex()


class HashesColumn(TypeDecorator[list[str]]):
    """SHA-256s in lower-case hexadecimal in an order of their own, kept as their bytes."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: list[str] | None, dialect: Any) -> bytes | None:
        """As it is kept. Raises ValueError where one is no hexadecimal."""
        return None if value is None else b"".join(map(bytes.fromhex, value))

    def process_result_value(self, value: bytes | None, dialect: Any) -> list[str] | None:
        """As the program has it. Raises ValueError where a part of one is missing."""
        if value is None:
            return None
        if len(value) % _BYTES:
            raise ValueError("a list of hashes is not whole")
        text = bytes(value).hex()
        return [text[at : at + 2 * _BYTES] for at in range(0, len(text), 2 * _BYTES)]


class ZippedColumn(TypeDecorator[str]):
    """Text that is kept zipped (RFC 1950)."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Any) -> bytes | None:
        """As it is kept."""
        return None if value is None else zlib.compress(value.encode(), _LEVEL)

    def process_result_value(self, value: bytes | None, dialect: Any) -> str | None:
        """As the program has it. Raises ValueError where it is not whole, or comes to too much."""
        if value is None:
            return None
        unzip = zlib.decompressobj()
        try:
            text = unzip.decompress(value, _LONGEST)
        except zlib.error as error:
            raise ValueError("zipped text cannot be read") from error
        if not unzip.eof or unzip.unused_data:
            raise ValueError("zipped text is not whole, or comes to too much")
        return text.decode()
