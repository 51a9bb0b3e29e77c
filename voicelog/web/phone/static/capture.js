// The microphone as blocks, and what becomes of it: muted, taken away, stopped by the system.
"use strict";

export const RATE = 16000;
const STOPPED_S = 1; // sound that lags the clock by this much in a check was stopped by the system
const CHECK_MS = 2000;

const hex = (bytes) => [...new Uint8Array(bytes)].map((b) => b.toString(16).padStart(2, "0")).join("");

// The time with this place's zone, as "2026-04-18T07:30:00.000+01:00".
export function localTime(at = new Date()) {
  const ahead = -at.getTimezoneOffset();
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  const local = new Date(at.getTime() + ahead * 60000).toISOString().slice(0, -1);
  return `${local}${ahead < 0 ? "-" : "+"}${two(ahead / 60)}:${two(ahead % 60)}`;
}

// One recording from the microphone into the store. `told` is given "level", "lost", "silent",
// "sounding" and "stopped" as they come.
export class Capture {
  constructor(store, told) {
    this.store = store;
    this.told = told;
    this.samples = 0;
    this.given = 0; // samples that the worklet gave, and when
    this.givenAt = 0;
    this.adding = Promise.resolve();
  }

  async begin() {
    try {
      await this.open();
    } catch (error) {
      await this.close();
      throw error;
    }
  }

  async open() {
    this.stream = await navigator.mediaDevices.getUserMedia({
      audio: {
        channelCount: 1,
        echoCancellation: false,
        noiseSuppression: false,
        autoGainControl: false,
      },
    });
    this.context = new AudioContext({ sampleRate: RATE });
    if (this.context.sampleRate !== RATE) throw new Error("no-rate");
    await this.context.audioWorklet.addModule("/worklet.js");
    await this.context.resume();
    this.id = hex(crypto.getRandomValues(new Uint8Array(16)));
    this.startedAt = localTime();
    await this.store.begin({ id: this.id, startedAt: this.startedAt, over: false });
    this.node = new AudioWorkletNode(this.context, "blocks", {
      channelCount: 1,
      channelCountMode: "explicit",
    });
    this.whole = new Promise((resolve) => {
      this.node.port.onmessage = ({ data }) => {
        if (data.pcm) {
          this.given = data.start + data.pcm.length;
          this.givenAt = this.context.currentTime;
        }
        if (data.pcm) this.adding = this.adding.then(() => this.add(data));
        else resolve(data.samples);
      };
    });
    this.context.createMediaStreamSource(this.stream).connect(this.node);
    this.node.connect(this.context.destination); // silence; what leads nowhere is not run
    const [track] = this.stream.getAudioTracks();
    track.onmute = () => this.told("silent");
    track.onunmute = () => this.told("sounding");
    track.onended = () => this.told("lost");
    this.watch();
  }

  // The system may stop the sound without a word (a call, a locked phone). Its clock then stands
  // still beside the other, and what comes after it is another recording with a time of its own.
  watch() {
    let clock = Date.now();
    let sound = this.context.currentTime;
    this.check = setInterval(() => {
      const lag = (Date.now() - clock) / 1000 - (this.context.currentTime - sound);
      clock = Date.now();
      sound = this.context.currentTime;
      if (this.context.state !== "running") {
        this.told("lost");
        this.context.resume().catch(() => {});
      } else if (lag > STOPPED_S) this.told("stopped");
    }, CHECK_MS);
  }

  // Samples so far, those of the block in the making too.
  get soFar() {
    if (!this.givenAt) return 0;
    return this.given + Math.round((this.context.currentTime - this.givenAt) * RATE);
  }

  async add({ start, pcm, peak }) {
    const bytes = pcm.buffer;
    const sha256 = hex(await crypto.subtle.digest("SHA-256", bytes));
    await this.store.add({ recording: this.id, start, pcm: bytes, sha256 });
    this.samples = start + pcm.length;
    this.told("level", peak);
  }

  // End the recording: all of it is in the store when this returns.
  async end() {
    clearInterval(this.check);
    this.node.port.postMessage("end");
    const late = new Promise((resolve) => setTimeout(() => resolve(null), 2000));
    const samples = await Promise.race([this.whole, late]); // a stopped context answers nothing
    await this.adding;
    await this.store.end(this.id, samples ?? this.samples);
    await this.close();
  }

  async close() {
    for (const track of this.stream?.getTracks() ?? []) {
      track.onended = null;
      track.stop();
    }
    await this.context?.close().catch(() => {});
  }
}
