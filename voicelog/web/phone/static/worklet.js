// The microphone's sound as numbered blocks of 16-bit samples, half a second each.
"use strict";

const SIZE = 8000;

class Blocks extends AudioWorkletProcessor {
  constructor() {
    super();
    this.block = new Int16Array(SIZE);
    this.used = 0;
    this.start = 0;
    this.peak = 0;
    this.over = false;
    this.port.onmessage = () => {
      this.give();
      this.over = true;
      this.port.postMessage({ samples: this.start });
    };
  }

  give() {
    if (!this.used) return;
    const pcm = this.block.slice(0, this.used);
    this.port.postMessage({ start: this.start, pcm, peak: this.peak }, [pcm.buffer]);
    this.start += this.used;
    this.used = 0;
    this.peak = 0;
  }

  process(inputs) {
    if (this.over) return false;
    const sound = inputs[0][0];
    if (!sound) return true;
    for (let i = 0; i < sound.length; i += 1) {
      const value = Math.max(-32768, Math.min(32767, Math.round(sound[i] * 32768)));
      this.block[this.used] = value;
      this.used += 1;
      this.peak = Math.max(this.peak, Math.abs(value) / 32768);
      if (this.used === SIZE) this.give();
    }
    return true;
  }
}

registerProcessor("blocks", Blocks);
