"""How words are said in other accents of English, from eSpeak NG's phonemes.

The listener's own dictionary is American. eSpeak NG (the extra `voice`) knows how a word is
said in some other accents; its phonemes are put into the phones of the dictionary. What has
no phone of its own there becomes the nearest one.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

__all__ = ["ACCENTS", "can_say_accents", "phones_of", "variants"]

ACCENTS: Mapping[str, str] = {
    "British": "en-gb-x-rp",
    "Northern English": "en-gb-x-gbclan",
    "West Midlands": "en-gb-x-gbcwmd",
    "Scottish": "en-gb-scotland",
    "Caribbean": "en-029",
    "New York": "en-us-nyc",
}
"""Accents that eSpeak NG has, with its name of each. It has no Irish, Australian or Southern
American one."""
_USUAL = b"en-us"

_TABLE = """
    tʃ=CH dʒ=JH ɡ=G ŋ=NG ʃ=SH ʒ=ZH θ=TH ð=DH ɹ=R r=R j=Y h=HH ɾ=T ʔ=T ʍ=W t̪=T d̪=D eɪ=EY
    aɪ=AY ɔɪ=OY aʊ=AW əʊ=OW oʊ=OW ʌʊ=OW ʌʉ=AW iə=IY+AH ɪə=IH+AH eə=EH+AH ɛə=EH+AH ʊə=UH+AH
    oə=AO+AH ɜːɹ=ER ɚɹ=ER+R ɜː=ER ɚ=ER ɑːɹ=AA+R ɔːɹ=AO+R oːɹ=AO+R iː=IY uː=UW ɑː=AA ɔː=AO
    oː=OW eː=EY aː=AA ɪ=IH ɛ=EH a=AE æ=AE ʌ=AH ɒ=AA ɔ=AO ʊ=UH ʉ=UW ə=AH ɐ=AH ɜ=AH i=IY e=EY
    o=AO u=UW ᵻ=IH ɑ=AA
"""
"""Phonemes that are not written by the small letter of their phone."""
_PHONES: Mapping[str, str] = {
    **{letter: letter.upper() for letter in "tnldskfpmzvwb"},
    **{ipa: said.replace("+", " ") for ipa, _, said in (p.partition("=") for p in _TABLE.split())},
}
_LONGEST = max(map(len, _PHONES))
_UNHEARD = frozenset("ˈˌʲ :ː\u0329_|")
"""Stress, length and the like, which the dictionary does not write."""


def variants(accent: str, words: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """How each word is said in an accent of ACCENTS, phones parted by spaces.

    Words with a sound that no phone is near to are left out. Raises RuntimeError when eSpeak
    NG does not start; ask `can_say_accents` before.
    """
    library = _library()
    if library is None or library.espeak_SetVoiceByName(ACCENTS[accent].encode()) != 0:
        raise RuntimeError(f"eSpeak NG does not speak {accent}")
    try:
        said = {word: phones_of(_phonemes(library, word)) for word in words}
    finally:
        library.espeak_SetVoiceByName(_USUAL)  # the library has one voice, for all its users
    return {word: (phones,) for word, phones in said.items() if phones}


def phones_of(ipa: str) -> str | None:
    """Phonemes in the International Phonetic Alphabet as phones; None where one has none.

    >>> phones_of("skrˈatʃɪn")
    'S K R AE CH IH N'
    """
    phones: list[str] = []
    place = 0
    while place < len(ipa):
        for length in range(_LONGEST, 0, -1):
            found = _PHONES.get(ipa[place : place + length])
            if found is not None:
                phones += found.split()
                place += length
                break
        else:
            if ipa[place] not in _UNHEARD:
                return None
            place += 1
    return " ".join(phones) or None


def can_say_accents() -> bool:
    """Whether eSpeak NG is here."""
    return _library() is not None


@cache
def _library() -> Any:
    """eSpeak NG, started; None where it is not."""
    try:
        import espeakng_loader

        library = ctypes.CDLL(espeakng_loader.get_library_path())
        data = espeakng_loader.get_data_path().encode()
    except (ImportError, OSError):
        return None
    number = ctypes.c_int
    library.espeak_Initialize.argtypes = [number, number, ctypes.c_char_p, number]
    library.espeak_SetVoiceByName.argtypes = [ctypes.c_char_p]
    library.espeak_TextToPhonemes.restype = ctypes.c_char_p
    library.espeak_TextToPhonemes.argtypes = [ctypes.POINTER(ctypes.c_void_p), number, number]
    synchronous, no_exit = 2, 0x8000
    return library if library.espeak_Initialize(synchronous, 0, data, no_exit) > 0 else None


def _phonemes(library: Any, word: str) -> str:
    utf8, ipa = 1, 2
    text = ctypes.create_string_buffer(word.encode())
    at = ctypes.c_void_p(ctypes.addressof(text))
    found = library.espeak_TextToPhonemes(ctypes.byref(at), utf8, ipa)
    return (found or b"").decode("utf-8", "replace").strip()
