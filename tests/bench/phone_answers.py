"""How soon the phone's headset answers, from the end of a word to the start of its tone.

    python -m tests.bench.phone_answers [SECONDS]

Chromium on this machine, over the loopback and encrypted, with a file of synthetic speech as its
microphone, against `voicelog phone --live --listener quick`. A tone begins where the page hands it
to its AudioContext; where the spoken words lie in what the worklet gave is found by correlation.
What the headset adds is not in it. Needs Debian's chromium and libnss3-tools.
"""

from __future__ import annotations

import sys
import wave
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from tests.bench.field_live import ROUND, VOICES, narration
from tests.bench.phone_page import HEARD, voicelog
from tests.web.phone.phone_browser import PhonePage, open_phone, record, stop
from voicelog.audio.recorder import as_pcm

RATE = 16_000
LONGEST_TONE_S = 0.7
"""What is longer is words, which may wait for their turn."""
SOUNDED = """
window.sounded = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (at) {
  window.sounded.push([at, this.buffer.duration]);
  return start.call(this, at);
};
const Node = AudioWorkletNode;
window.AudioWorkletNode = class extends Node {
  constructor(context, ...given) {
    super(context, ...given);
    window.early = Infinity;
    this.port.addEventListener("message", ({ data }) => {
      if (!data.pcm) return;
      const began = context.currentTime - (data.start + data.pcm.length) / 16000;
      window.early = Math.min(window.early, began);
    });
  }
};
"""
"""Keeps when each sound was to begin (s on the context's clock), how long it is, and when the first
sample was made by that clock: the least that any block says, since a message may be delayed."""


def main(seconds: float) -> None:
    words = [(3.0, "start session wren", VOICES[0])]
    turn = cycle((text, voice) for voice in VOICES for text in ROUND)
    while 4.5 * len(words) < seconds:
        text, voice = next(turn)
        words.append((3.5, text, voice))
    sound, said = narration(words)
    with TemporaryDirectory() as folder:
        place = Path(folder)
        voicelog("dogs", "put", "Wren", "--top", "20", "--data-dir", place / "log")
        path = place / "mic.wav"
        lead = np.zeros(15 * RATE, np.float32)  # while the listeners get ready
        with wave.open(str(path), "wb") as file:
            file.setparams((1, 2, RATE, 0, "NONE", ""))
            file.writeframes(as_pcm(np.concatenate([lead, sound])).tobytes())
        served = PhonePage(place / "log", *HEARD, "--live", "--earpiece")
        with open_phone(place, served, path) as (context, page, produced):
            context.add_init_script(SOUNDED)
            page.goto(f"{served.address}/#c={served.code}")
            page.wait_for_selector("body[data-phase=ready]")
            record(page)
            page.wait_for_timeout(1000 * (15 + len(sound) / RATE))
            sounded, began = page.evaluate("[window.sounded, window.early]")
            stop(page)
            print("shown:", page.inner_text("#answers").splitlines()[:5])
            heard = produced.sound[0].astype(np.float32)
        served.end()
    piece = as_pcm(sound)[round(said[0][0] * RATE) :][: 4 * RATE].astype(np.float32)
    size = 1 << (len(heard) + len(piece)).bit_length()
    match = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(piece, size)))
    shift_s = int(np.argmax(match[: len(heard)])) / RATE - said[0][0]
    took = []
    for at_s, long_s in sounded:
        moment = at_s - began
        ends = [end + shift_s for _, end, _ in said if end + shift_s < moment]
        if long_s < LONGEST_TONE_S and ends and moment - ends[-1] < 3.5:
            took.append(moment - ends[-1])
    short = sum(long_s < LONGEST_TONE_S for _, long_s in sounded)
    print(
        f"utterances {len(said)}, sounds {len(sounded)}, of them tones {short}, timed {len(took)}"
    )
    if took:
        p50, p95 = np.percentile(took, [50, 95])
        print(f"end of word to tone: p50 {p50:.2f} s, p95 {p95:.2f} s, most {max(took):.2f} s")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 180.0)
