// What the laptop answers while it listens to this phone: sounded in the headset, and shown. What
// is about sound that is too old by now is text only, marked late; nothing old sounds as if now.
"use strict";

import { RATE } from "./capture.js";

const GONE_MS = 5000; // so long without the laptop before it is said, once
const SHOWN = 50;
const START_S = 20; // so long the laptop may take to begin to listen
const sleep = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

function samplesOf(text) {
  const bytes = Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
  return Float32Array.from(new Int16Array(bytes.buffer), (one) => one / 32768);
}

// The answers to one capture. `post` asks the laptop, `sent` tells
// whether it has all sound of it, `shown` is given a line and whether it is
// late, `told` whether the laptop answers (null: nobody there was asked to).
export class Answers {
  constructor(capture, post, sent, shown, told) {
    this.capture = capture;
    this.sent = sent;
    this.post = post;
    this.shown = shown;
    this.told = told;
    this.last = 0;
    this.free = 0; // when what sounds is over, on the context's clock
    this.sounding = new Map();
    this.cues = null;
    this.lateS = 0;
    this.goneSince = null;
    this.saidGone = false;
    this.over = false; // the recording: what comes yet is text
    this.answered = false;
    this.done = false;
  }

  async run() {
    while (!this.done) {
      let wait = 0;
      try {
        wait = await this.step();
      } catch {
        wait = 1000;
      }
      await sleep(wait);
    }
  }

  end() {
    this.over = true;
  }

  async step() {
    const asked = { recorded: this.recorded(), after: this.last, cues: this.cues === null };
    const answer = await this.post(`/api/sound/${this.capture.id}/answers`, JSON.stringify(asked));
    if (!answer.ok) return 2000;
    if (!answer.live) {
      this.done = this.over;
      this.told(null);
      return 10000;
    }
    if (answer.alone !== undefined) this.cues = answer;
    this.lateS = answer.late;
    for (const one of answer.answers) this.take(one);
    if (!answer.answering && this.over) this.done = this.answered || this.sent();
    if (answer.answering) this.answered = true;
    const starting = !answer.answering && this.capture.soFar < START_S * RATE;
    this.told(starting ? null : answer.answering);
    return answer.answering ? 0 : 1000;
  }

  // Samples of this recording so far, those of the block in the making too.
  recorded() {
    return this.over ? null : this.capture.soFar;
  }

  take(one) {
    if (one.number <= this.last) return;
    this.last = one.number;
    for (const number of one.cancels) this.sounding.get(number)?.stop();
    const age = (this.capture.soFar - one.at) / RATE;
    const late = one.late || this.over || age > this.lateS;
    if (one.pcm && !late) this.sound(one.pcm, one.number);
    if (one.words) this.shown(one.words, late, one.at);
  }

  // After what sounds already.
  sound(pcm, number) {
    const samples = samplesOf(pcm);
    if (!samples.length) return;
    const context = this.capture.context;
    const buffer = context.createBuffer(1, samples.length, RATE);
    buffer.copyToChannel(samples, 0);
    const source = context.createBufferSource();
    source.buffer = buffer;
    source.connect(context.destination);
    source.onended = () => this.sounding.delete(number);
    this.sounding.set(number, source);
    const at = Math.max(context.currentTime, this.free);
    source.start(at);
    this.free = at + buffer.duration;
  }

  // Whether the laptop can be reached, as the sender finds it. Said once each way.
  reached(is) {
    if (is) {
      this.goneSince = null;
      if (this.saidGone && this.cues) this.sound(this.cues.reached, "cue");
      this.saidGone = false;
      return;
    }
    this.goneSince ??= Date.now();
    if (this.saidGone || !this.cues || Date.now() - this.goneSince < GONE_MS) return;
    this.saidGone = true;
    for (const source of this.sounding.values()) source.stop();
    this.free = 0;
    this.sound(this.cues.alone, "cue");
  }
}

// Put a line on top of a list, and let go of the oldest.
export function putLine(list, text, late) {
  const row = document.createElement("li");
  row.textContent = text;
  row.className = late ? "late" : "";
  list.prepend(row);
  while (list.children.length > SHOWN) list.lastElementChild.remove();
}
