"""What is done to clean speech: noise under or over it, and a link that carries it.

A condition is written as kind and ratio, "pink10", with what a link leaves of it (links.py) behind:
"clean", "real15", "band8", "pink20-gsm", "gusts0-opus8". The kinds are those of noise.py, with
"real" for its recordings, and of field_noise.py.

The ratio (dB) is counted where there is speech: RMS of the speech over the stretches with
speech, against the RMS of the noise over its whole length; for barks, whistles, breath and recorded
one-off sounds that is the RMS of the sounding parts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from tests.bench.field_noise import FIELD, FieldNoise
from tests.bench.links import LINKS, part_link
from tests.bench.noise import MADE, REAL, make
from tests.bench.voices import RATE, Sound

__all__ = ["Condition", "mix"]

KINDS = (*MADE, "real", *FIELD)


@dataclass(frozen=True)
class Condition:
    """What is done to a clean narration: a noise at a ratio (dB), a link of LINKS, or nothing."""

    kind: str | None = None
    snr_db: float = 0.0
    link: str | None = None

    @classmethod
    def parse(cls, text: str) -> Condition:
        """ "clean", "pink10", "real15-band8"; ValueError says what was wanted."""
        noise, link = part_link(text)
        if noise == "clean":
            return cls(link=link)
        found = re.fullmatch(rf"({'|'.join(KINDS)})(-?\d+)", noise)
        if found is None:
            links = ", ".join(LINKS)
            raise ValueError(f"no condition {text!r}: clean, {links}, or a kind of {KINDS} and dB")
        return cls(found[1], float(found[2]), link)

    def apply(
        self, speech: Sound, spans: list[tuple[float, float]], split: str, index: int
    ) -> tuple[Sound, str | None]:
        """The narration's sound under this condition, and what the noise was.

        spans: (start_s, end_s) of the speech. The noise follows from split and index.
        """
        what = self.kind
        if self.kind is not None:
            subjects = list(REAL[split])
            what = subjects[index % len(subjects)] if self.kind == "real" else self.kind
            rng = np.random.default_rng([*map(ord, split + what), index])
            if (field := FIELD.get(what)) is not None:
                speech = field.received(_in_field(speech, field, rng, self.snr_db, spans))
            else:
                speech, _ = mix(speech, make(what, len(speech), rng, split), self.snr_db, spans)
        return (LINKS[self.link](speech) if self.link else speech), what


def mix(
    speech: Sound, noise: Sound, snr_db: float, spans: Iterable[tuple[float, float]]
) -> tuple[Sound, float]:
    """Speech with noise at the ratio, and the gain that keeps the sum from clipping.

    spans: (start_s, end_s) of the speech; the ratio is counted over these alone.
    """
    active = np.concatenate([speech[round(a * RATE) : round(b * RATE)] for a, b in spans])
    level = float(np.sqrt(np.mean(active**2)))
    total = speech + noise[: len(speech)] * np.float32(level * 10 ** (-snr_db / 20))
    gain = min(1.0, 0.95 / float(np.abs(total).max()))
    return (total * np.float32(gain)).astype(np.float32), gain


def _in_field(
    speech: Sound,
    field: FieldNoise,
    rng: np.random.Generator,
    snr_db: float,
    spans: list[tuple[float, float]],
) -> Sound:
    """The voice as it comes to the microphone, with the noise at the ratio to that."""
    voice = field.voice(speech)
    return mix(voice, field.make(len(voice), rng, spans), snr_db, spans)[0]
